//! The one order in which rows are locked, and the only way to lock them.
//!
//! Two transactions that take the same locks in two orders wait, sooner or later, for each other. So there is one order:
//!
//! 1. settling: proposals share it, an amendment and an edition of the reference data hold it alone. Whoever holds it
//!    alone is the only one who changes materials, which need no lock of their own;
//! 2. the rules of signing: acknowledging and approving share them, a policy that names further audiences holds them alone;
//! 3. an amendment that is decided;
//! 4. the cohort, for its memberships;
//! 5. the assignment, which is published and whose questions are drawn;
//! 6. a student's work on it, whose questions are answered;
//! 7. the library, for its memberships;
//! 8. the formula;
//! 9. revisions by id: a nested one is older than what it is made into, so its id comes first;
//! 10. gates, which say what caution set is the current one, by revision;
//! 11. grants, by revision and holder;
//! 12. the batch;
//! 13. lots by id, whose balance moves or about which something is decided;
//! 14. a recall, in which something is accounted for;
//! 15. cases of reactions by id, which get a report or end;
//! 16. journal heads, by subject. The store takes them itself, when the transaction ends.
//!
//! [`lock`] sorts what it is asked for, and refuses a lock that comes before one that is held. So a transaction finds out
//! first what it will need, locks it, and reads again what it rests on. Rows are locked against change and not against
//! references to them (`FOR NO KEY UPDATE`), so that an insert elsewhere that refers to one waits for nobody.
//!
//! May use: `store`. What never happens here: a rule, or a change of a row.

use std::collections::BTreeMap;

use diesel::sql_types::{Array, BigInt, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use store::{Error, Prepare, Result, Tx, in_order};
use uuid::Uuid;
use wire::ids::{
    AmendmentId, AssignmentId, BatchId, CohortId, FormulaId, HolderId, LibraryId, ReactionCaseId, RecallId,
    RevisionId,
};

pub use store::order::Mode;

/// Key of the advisory lock of settling. Without it, a proposal would compute its caution set from facts that a
/// concurrent amendment changes, and the amendment would not find the new revision.
const SETTLING: i64 = 0x5374_696C_6C63_6175;

/// Key of the advisory lock of the rules of signing. Without it, an acknowledgement given under the old policy could be
/// committed after the new one has ended those that it concerns.
const SIGNING: i64 = 0x5374_696C_6C73_6967;

/// What is locked, in the order of locking.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    Settling,
    Signing,
    Amendment,
    Cohort,
    Assignment,
    Work,
    Library,
    Formula,
    Revision,
    Gate,
    Grant,
    Batch,
    Lot,
    Recall,
    Reaction,
}

impl Rank {
    const fn number(self) -> u8 {
        match self {
            Self::Settling => 1,
            Self::Signing => 2,
            Self::Amendment => 3,
            Self::Cohort => 4,
            Self::Assignment => 5,
            Self::Work => 6,
            Self::Library => 7,
            Self::Formula => 8,
            Self::Revision => 9,
            Self::Gate => 10,
            Self::Grant => 11,
            Self::Batch => 12,
            Self::Lot => 13,
            Self::Recall => 14,
            Self::Reaction => 15,
        }
    }

    /// The table of the rows and the column of their key.
    const fn table(self) -> Option<(&'static str, &'static str)> {
        match self {
            Self::Settling | Self::Signing | Self::Grant => None,
            Self::Amendment => Some(("amendment", "id")),
            Self::Cohort => Some(("cohort", "id")),
            Self::Assignment => Some(("assignment", "id")),
            Self::Work => Some(("assignment_work", "id")),
            Self::Library => Some(("library", "id")),
            Self::Formula => Some(("formula", "id")),
            Self::Revision => Some(("revision", "id")),
            Self::Gate => Some(("gate", "revision_id")),
            Self::Batch => Some(("batch", "id")),
            Self::Lot => Some(("lot", "id")),
            Self::Recall => Some(("recall", "id")),
            Self::Reaction => Some(("reaction_case", "id")),
        }
    }
}

/// What a transaction is going to lock.
#[derive(Debug, Default)]
#[must_use]
pub struct Locks(BTreeMap<Rank, BTreeMap<Uuid, Mode>>);

impl Locks {
    /// Nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    fn with(mut self, rank: Rank, ids: impl IntoIterator<Item = Uuid>, mode: Mode) -> Self {
        let of_rank = self.0.entry(rank).or_default();
        for id in ids {
            let wanted = of_rank.entry(id).or_insert(mode);
            *wanted = mode.max(*wanted);
        }
        self
    }

    /// Settling: shared by proposals; alone for whoever changes materials, rules or cautions.
    pub fn settling(self, mode: Mode) -> Self {
        self.with(Rank::Settling, [Uuid::nil()], mode)
    }

    /// The rules of signing: shared by whoever acknowledges or approves; alone for whoever changes them.
    pub fn signing(self, mode: Mode) -> Self {
        self.with(Rank::Signing, [Uuid::nil()], mode)
    }

    /// An amendment that is decided.
    pub fn amendment(self, id: AmendmentId) -> Self {
        self.with(Rank::Amendment, [id.0], Mode::Exclusive)
    }

    /// A cohort: shared, its memberships stay as they are; alone, one of them changes.
    pub fn cohort(self, id: CohortId, mode: Mode) -> Self {
        self.with(Rank::Cohort, [id.0], mode)
    }

    /// An assignment: shared, it stays as it is; alone, it changes, or a student's numbers are drawn.
    pub fn assignment(self, id: AssignmentId, mode: Mode) -> Self {
        self.with(Rank::Assignment, [id.0], mode)
    }

    /// A student's work on an assignment, whose questions are answered.
    pub fn work(self, id: Uuid) -> Self {
        self.with(Rank::Work, [id], Mode::Exclusive)
    }

    /// A library: shared, its memberships stay as they are; alone, one of them ends.
    pub fn library(self, id: LibraryId, mode: Mode) -> Self {
        self.with(Rank::Library, [id.0], mode)
    }

    /// A formula whose revisions are decided about.
    pub fn formula(self, id: FormulaId) -> Self {
        self.with(Rank::Formula, [id.0], Mode::Exclusive)
    }

    /// A revision.
    pub fn revision(self, id: RevisionId, mode: Mode) -> Self {
        self.revisions([id.0], mode)
    }

    /// Several revisions.
    pub fn revisions(self, ids: impl IntoIterator<Item = Uuid>, mode: Mode) -> Self {
        self.with(Rank::Revision, ids, mode)
    }

    /// The gates of revisions: shared, their caution sets stay the current ones; alone, they get another.
    pub fn gates(self, ids: impl IntoIterator<Item = Uuid>, mode: Mode) -> Self {
        self.with(Rank::Gate, ids, mode)
    }

    /// All grants for revisions.
    pub fn grants(self, revisions: impl IntoIterator<Item = Uuid>) -> Self {
        self.with(Rank::Grant, revisions, Mode::Exclusive)
    }

    /// A batch whose record is written into.
    pub fn batch(self, id: BatchId) -> Self {
        self.with(Rank::Batch, [id.0], Mode::Exclusive)
    }

    /// Several batches.
    pub fn batches(self, ids: impl IntoIterator<Item = Uuid>) -> Self {
        self.with(Rank::Batch, ids, Mode::Exclusive)
    }

    /// Lots whose balance moves, or about which something is decided.
    pub fn lots(self, ids: impl IntoIterator<Item = Uuid>) -> Self {
        self.with(Rank::Lot, ids, Mode::Exclusive)
    }

    /// A recall, in which something is accounted for, or which is closed.
    pub fn recall(self, id: RecallId) -> Self {
        self.with(Rank::Recall, [id.0], Mode::Exclusive)
    }

    /// Cases of reactions, which are worked on.
    pub fn reactions(self, ids: impl IntoIterator<Item = ReactionCaseId>) -> Self {
        self.with(Rank::Reaction, ids.into_iter().map(|id| id.0), Mode::Exclusive)
    }
}

/// Takes the locks that this transaction does not hold yet, in the one order, and keeps them until it ends. What was read
/// before may have changed when this answers.
///
/// # Errors
/// [`Error::Internal`] when one of them comes before a lock that the transaction holds. [`Error::Contended`] when the
/// transaction lost against another; the store then tries it again.
pub async fn lock(tx: &mut Tx<'_>, locks: Locks) -> Result<()> {
    lock_then(tx, locks, async |_| Ok(())).await
}

/// As [`lock`], and asks something that is sent together with the last lock. Postgres runs it after the lock is taken, so
/// it sees what whoever held the lock before has left.
///
/// # Errors
/// As [`lock`], and what `ask` answers.
pub async fn lock_then<T>(
    tx: &mut Tx<'_>,
    locks: Locks,
    ask: impl AsyncFnOnce(&AsyncPgConnection) -> Result<T>,
) -> Result<T> {
    let mut runs = Vec::new();
    for (rank, wanted) in locks.0 {
        let missing = tx.locks.missing(rank.number(), &wanted)?;
        // One statement for each run of ids that are locked alike keeps the order by id over both modes.
        runs.extend(missing.chunk_by(|(_, one), (_, other)| one == other).map(|run| (rank, run.to_vec())));
    }
    let conn: &AsyncPgConnection = tx.conn();
    let last = runs.pop();
    for run in &runs {
        take(conn, run).await?;
    }
    let last_lock = async {
        match &last {
            Some(last) => take(conn, last).await,
            None => Ok(()),
        }
    };
    let ((), answer) = in_order(last_lock, ask(conn)).await?;
    for (rank, run) in runs.into_iter().chain(last) {
        tx.locks.taken(rank.number(), run);
    }
    Ok(answer)
}

/// Locks of one rank that are locked alike, by one statement.
async fn take(conn: &AsyncPgConnection, (rank, run): &(Rank, Vec<(Uuid, Mode)>)) -> Result<()> {
    let Some((_, mode)) = run.as_slice().first() else { return Ok(()) };
    let ids: Vec<Uuid> = run.iter().map(|(id, _)| *id).collect();
    match rank.table() {
        Some((table, key)) => rows(conn, table, key, ids, *mode).await,
        None if *rank == Rank::Grant => every_grant(conn, ids).await,
        None if *rank == Rank::Signing => advisory(conn, SIGNING, *mode).await,
        None => advisory(conn, SETTLING, *mode).await,
    }
}

async fn rows(
    mut conn: &AsyncPgConnection,
    table: &str,
    key: &str,
    ids: Vec<Uuid>,
    mode: Mode,
) -> Result<()> {
    let strength = match mode {
        Mode::Shared => "SHARE",
        Mode::Exclusive => "NO KEY UPDATE",
    };
    let any = "ANY ((SELECT $1)::uuid[])";
    diesel::sql_query(format!("SELECT FROM {table} WHERE {key} = {any} ORDER BY {key} FOR {strength}"))
        .bind::<Array<SqlUuid>, _>(ids)
        .prepared()
        .execute(&mut conn)
        .await?;
    Ok(())
}

async fn every_grant(mut conn: &AsyncPgConnection, revisions: Vec<Uuid>) -> Result<()> {
    diesel::sql_query(
        "SELECT FROM release_grant WHERE revision_id = ANY($1) ORDER BY revision_id, holder_id FOR UPDATE",
    )
    .bind::<Array<SqlUuid>, _>(revisions)
    .prepared()
    .execute(&mut conn)
    .await?;
    Ok(())
}

async fn advisory(mut conn: &AsyncPgConnection, key: i64, mode: Mode) -> Result<()> {
    let statement = match mode {
        Mode::Shared => "SELECT pg_advisory_xact_lock_shared($1)",
        Mode::Exclusive => "SELECT pg_advisory_xact_lock($1)",
    };
    diesel::sql_query(statement).bind::<BigInt, _>(key).prepared().execute(&mut conn).await?;
    Ok(())
}

/// Locks one holder's grants: for these revisions, or all of them. They count as shared locks of the revisions' grants.
///
/// # Errors
/// As [`lock`].
pub async fn lock_grants_of(tx: &mut Tx<'_>, holder: HolderId, revisions: Option<Vec<Uuid>>) -> Result<()> {
    let rank = Rank::Grant.number();
    let wanted = revisions.iter().flatten().map(|id| (*id, Mode::Shared)).collect();
    let missing = tx.locks.missing(rank, &wanted)?;
    let found: Vec<Found> =
        match revisions {
            Some(_) => {
                let ids: Vec<Uuid> = missing.iter().map(|(id, _)| *id).collect();
                diesel::sql_query(
                    "SELECT revision_id FROM release_grant WHERE holder_id = $1 AND revision_id = ANY($2)
                 ORDER BY revision_id FOR UPDATE",
                )
                .bind::<SqlUuid, _>(holder.0)
                .bind::<Array<SqlUuid>, _>(ids)
                .load(tx.conn())
                .await?
            }
            None => diesel::sql_query(
                "SELECT revision_id FROM release_grant WHERE holder_id = $1 ORDER BY revision_id FOR UPDATE",
            )
            .bind::<SqlUuid, _>(holder.0)
            .load(tx.conn())
            .await?,
        };
    let found = found.into_iter().map(|row| (row.revision_id, Mode::Shared));
    tx.locks.taken(rank, missing.into_iter().chain(found));
    Ok(())
}

#[derive(diesel::QueryableByName)]
struct Found {
    #[diesel(sql_type = SqlUuid)]
    revision_id: Uuid,
}

/// Refuses work that rests on a revision which this transaction does not hold as it is.
///
/// # Errors
/// [`Error::Contended`]: what the transaction read before it locked is not so any more, and it is tried again.
pub fn require_revision(tx: &Tx<'_>, id: RevisionId) -> Result<()> {
    if tx.locks.holds(Rank::Revision.number(), id.0, Mode::Shared) {
        return Ok(());
    }
    Err(Error::Contended("what the transaction read before it locked was changed".into()))
}
