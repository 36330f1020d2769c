//! The record of a batch: what it asked for, what was written into it, what was found and how it was judged.
//!
//! A batch's makers read it while members of the library, and instructors of the library who hold a grant for its
//! revision. To everybody else it does not exist. Only who has it writes into it. API clients read labels and no record.

use canonical::Sha;
use diesel::prelude::*;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use locks::Locks;
use schema::{BatchRow, batch, formula, gate, library_member, revision};
use store::actor::{Actor, Brand};
use store::sql::{batch_made_by, blind_batch, candidate_of_batch, unnamed_batch};
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::bench::BatchRecord;
use wire::ids::{BatchId, HolderId, RevisionId};
use wire::people::Scope;

use crate::grants::{self, EveryLevel};
use crate::released::{ForRules, Released, ReleasedRecipe, Rendered};
use crate::sealed::private::Proof;
use crate::sealed::{Sealed, sha};

/// Proof that the caller may read the record of a batch, looked up in this transaction.
pub struct Record<'t> {
    row: BatchRow,
    digest: Sha,
    cautions_current: bool,
    me: HolderId,
    made: bool,
    candidate: Option<String>,
    _brand: Brand<'t>,
}

impl Record<'_> {
    /// The batch.
    pub const fn batch(&self) -> BatchId {
        BatchId(self.row.id)
    }

    /// The revision that the batch was opened with.
    pub const fn revision(&self) -> RevisionId {
        RevisionId(self.row.revision_id)
    }

    /// The digest of that revision.
    pub const fn digest(&self) -> &Sha {
        &self.digest
    }

    /// What is open of the batch.
    pub const fn row(&self) -> &BatchRow {
        &self.row
    }

    /// Whether the caution set that it was opened under is the current one.
    pub const fn cautions_current(&self) -> bool {
        self.cautions_current
    }

    /// Whether the caller made it, or a part of it before it was handed over. Such a caller decides nothing about it.
    pub const fn is_made_by_caller(&self) -> bool {
        self.made
    }

    /// What stands in place of the maker's name, where the caller is not told it: the work is marked blind.
    pub fn candidate(&self) -> Option<&str> {
        self.candidate.as_deref()
    }

    /// Whether the caller is its maker: who has it now.
    pub fn is_makers(&self) -> bool {
        self.me.0 == self.row.maker_id
    }

    /// Refuses whoever is not its maker.
    ///
    /// # Errors
    /// [`Error::Forbidden`] for anybody else.
    pub fn require_maker(&self) -> Result<()> {
        let refused = || Error::Forbidden("Only the maker may write into this batch record.".into());
        self.is_makers().then_some(()).ok_or_else(refused)
    }
}

impl Proof for Record<'_> {
    fn digest(&self) -> &Sha {
        &self.digest
    }
}

/// Extends the proof to everything that the batch's revision is made from; answers the first revision that is closed to
/// the caller where one is. An API client, whom no record opens, needs a grant for the batch's revision too.
///
/// # Errors
/// When the database does not answer.
pub async fn every_level<'g, 't>(
    tx: &mut Tx<'t>,
    record: &'g Record<'t>,
) -> Result<Result<EveryLevel<'g, 't>, RevisionId>> {
    if matches!(tx.actor()?, Actor::Client { .. }) && grants::find(tx, record.revision()).await?.is_none() {
        return Ok(Err(record.revision()));
    }
    grants::below(tx, record.revision(), &record.digest, true).await
}

/// Whether the caller may read the record of a batch.
pub enum Access<'t> {
    /// The caller may.
    Open(Box<Record<'t>>),
    /// The caller gives a second mark among such work, and may read what names nobody until it is given.
    Blind(Box<Record<'t>>),
    /// The caller may read what names nobody: the record counts for work that is marked blind, until that has its verdict.
    Unnamed(Box<Record<'t>>),
    /// The caller may once they have acknowledged the cautions of this revision.
    Closed(RevisionId),
    /// To the caller there is no such batch.
    Hidden,
}

/// Looks up whether the caller may read the record of a batch; its row is locked when the record is about to change.
///
/// # Errors
/// When an API client is calling.
pub async fn access<'t>(tx: &mut Tx<'t>, id: BatchId, lock: bool) -> Result<Access<'t>> {
    tx.person()?;
    find(tx, id, lock).await
}

/// As [`access`], for the label and nothing else: API clients with `labels:read` read those of their libraries' batches.
///
/// # Errors
/// [`Error::Forbidden`] for an API client without the scope.
pub async fn access_for_label<'t>(tx: &mut Tx<'t>, id: BatchId) -> Result<Access<'t>> {
    tx.require_scope(Scope::LabelsRead)?;
    find(tx, id, false).await
}

async fn find<'t>(tx: &mut Tx<'t>, id: BatchId, lock: bool) -> Result<Access<'t>> {
    let actor = tx.actor()?.clone();
    let me = actor.holder();
    let unnamed = (unnamed_batch(batch::id, me.0), candidate_of_batch(batch::id));
    let of_caller = (blind_batch(batch::id, me.0), batch_made_by(batch::id, me.0), unnamed);
    // Of the libraries that the caller is a member of.
    let of_members = batch::table
        .inner_join(revision::table.on(revision::id.eq(batch::revision_id)))
        .inner_join(formula::table.on(formula::id.eq(revision::formula_id)))
        .inner_join(library_member::table.on(library_member::library_id.eq(formula::library_id)))
        .left_join(gate::table.on(gate::revision_id.eq(revision::id)))
        .filter(batch::id.eq(id.0))
        .filter(library_member::holder_id.eq(me.0))
        .select((BatchRow::as_select(), gate::caution_digest.nullable(), of_caller));
    let find = async |conn: &AsyncPgConnection| Ok(of_members.first(&mut &*conn).await.optional()?);
    type Found = (BatchRow, Option<Vec<u8>>, (bool, bool, (bool, Option<String>)));
    let row: Option<Found> = match lock {
        true => locks::lock_then(tx, Locks::new().batch(id), find).await?,
        false => find(tx.conn()).await?,
    };
    let Some((row, cautions, (blind, made, (unnamed, candidate)))) = row else { return Ok(Access::Hidden) };
    let of_another = !made && matches!(actor, Actor::Person(_));
    if of_another && !actor.is_instructor() {
        return Ok(Access::Hidden);
    }
    let revision = RevisionId(row.revision_id);
    if of_another && grants::find(tx, revision).await?.is_none() {
        return Ok(Access::Closed(revision));
    }
    let digest = sha(row.revision_digest.clone())?;
    let cautions_current = cautions.as_ref() == Some(&row.caution_digest);
    // A person only: to an API client, which is shown labels and no maker, nothing changes.
    let hidden = unnamed && of_another;
    let candidate = hidden.then(|| candidate.unwrap_or_default());
    let record =
        Box::new(Record { row, digest, cautions_current, me, made, candidate, _brand: Brand::default() });
    Ok(match (hidden, blind && of_another) {
        (true, _) => Access::Unnamed(record),
        (false, true) => Access::Blind(record),
        (false, false) => Access::Open(record),
    })
}

/// Names the state of a record for readers of every level or not: all that its bytes depend on under current cautions.
pub(crate) fn state(batch: Uuid, version: i64, every_level: bool) -> Sha {
    let level = [u8::from(every_level)];
    canonical::digest([&b"record of a batch"[..], batch.as_bytes(), &version.to_be_bytes(), &level])
}

/// The bytes of a record as a reader of these levels sees it, and the same sealed under the name of its state for the next
/// such reader. Under changed cautions nothing is sealed: the record then depends on who reads it.
///
/// # Errors
/// [`Error::Internal`] when another record was shown, or more than such a reader may read.
pub fn rendered(
    record: &Record<'_>,
    levels: Option<&EveryLevel<'_, '_>>,
    shown: &Released<BatchRecord>,
) -> Result<(ReleasedRecipe, Option<Sealed<Rendered>>)> {
    let (row, of) = (&record.row, shown.content());
    let tells = of.as_made.as_ref().is_some_and(|made| made.evaluation.is_some());
    if of.summary.id.0 != row.id || of.version != row.version.unsigned_abs() || (tells && levels.is_none()) {
        return Err(Error::internal("a record was rendered that is not the one that was read"));
    }
    let bytes = shown.render()?;
    let state = state(row.id, row.version, levels.is_some());
    // Nor of a record that names nobody: it is another for whoever may read the names.
    let same_for_all = record.cautions_current && record.candidate.is_none();
    let sealed = same_for_all.then(|| Sealed::new(state, bytes.content().again()));
    Ok((bytes, sealed))
}
