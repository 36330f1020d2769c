//! Looking up for many readers in one statement how a batch record looks to each.

use std::sync::Arc;

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Integer, Nullable, Uuid as SqlUuid};
use diesel_async::AsyncPgConnection;
use store::gather::{Ask, COLUMNS, Gather, Known, Sql, answers, by_id, statement};
use store::{Error, Result};
use uuid::Uuid;
use wire::ids::BatchId;

use crate::record::names;
use crate::released::Released;
use crate::sealed::Sealed;
use crate::sealed::private::Proof;

/// The question how a batch record looks to the caller.
#[derive(Clone, Copy)]
pub struct RecordOf(pub BatchId);

/// Proof that a caller might read a batch record in this state when the statement ran that looked it up, after they had
/// asked.
pub struct RecordLookedUp {
    state: Sha,
    names: Sha,
    every_level: bool,
    change_outstanding: bool,
}

impl RecordLookedUp {
    /// The state of the record.
    pub(crate) const fn state(&self) -> &Sha {
        &self.state
    }

    /// Names what this caller sees: the state of the record, and what of it.
    #[must_use]
    pub const fn names(&self) -> &Sha {
        &self.names
    }

    /// Whether the caller holds a grant for everything that the revision is made from.
    #[must_use]
    pub const fn every_level(&self) -> bool {
        self.every_level
    }

    /// Whether the cautions changed after the batch was opened and the caller has not acknowledged the current set.
    #[must_use]
    pub const fn change_outstanding(&self) -> bool {
        self.change_outstanding
    }

    /// Releases what was kept of the record as it looks to this caller.
    ///
    /// # Errors
    /// [`Error::Internal`] when it was kept of another.
    pub fn open<T>(&self, sealed: &Sealed<T>) -> Result<Released<Arc<T>>> {
        sealed.open(self)
    }
}

impl Proof for RecordLookedUp {
    fn digest(&self) -> &Sha {
        &self.names
    }
}

/// A record that the caller may read; empty where there is none.
#[derive(QueryableByName)]
struct RecordRow {
    #[diesel(sql_type = Nullable<SqlUuid>)]
    id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Integer>)]
    last_entry: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    last_submission: Option<i32>,
    #[diesel(sql_type = Nullable<BigInt>)]
    version: Option<i64>,
    #[diesel(sql_type = Nullable<Bool>)]
    every_level: Option<bool>,
    #[diesel(sql_type = Nullable<Bool>)]
    change_outstanding: Option<bool>,
}

impl RecordRow {
    fn looked_up(self) -> Option<RecordLookedUp> {
        let state = names(self.id?, self.last_entry?, self.last_submission?, self.version?);
        let (every_level, change_outstanding) = (self.every_level?, self.change_outstanding?);
        let names = canonical::digest([&state[..], &[u8::from(every_level), u8::from(change_outstanding)]]);
        Some(RecordLookedUp { state, names, every_level, change_outstanding })
    }
}

impl Gather for RecordOf {
    type Found = Option<RecordLookedUp>;

    async fn gather(
        conn: &mut AsyncPgConnection,
        asked: &[Ask<Self>],
        now: DateTime<Utc>,
    ) -> Result<Vec<Option<Known<Self::Found>>>> {
        let rows = by_id::<_, RecordRow>(conn, &SQL, asked, |ask| ask.0.0, now).await?;
        let twice = |_: &mut _, _| Err(Error::internal("a second batch of the same id"));
        answers(asked, now, rows, |row| Ok(RecordRow::looked_up(row)), twice)
    }
}

/// As [`crate::record::access`] and [`crate::grants`] have it, for a person: the maker while a member of the library, and
/// its instructors who hold a grant.
static SQL: Sql = Sql::new(|| {
    let granted = |revision: &str| {
        format!(
            "EXISTS (SELECT FROM release_grant g JOIN revision r ON r.id = g.revision_id AND r.digest = g.digest
                 WHERE g.holder_id = ask.person_id AND g.revision_id = {revision} AND g.valid_until > ask.now
                   AND ((g.purpose = 'make' AND r.state = 'approved')
                     OR (g.purpose = 'decide' AND ask.role = 'instructor')))"
        )
    };
    let rest = format!(
        "LEFT JOIN LATERAL (
             SELECT batch.id, batch.last_entry, batch.last_submission, batch.version,
                 NOT EXISTS (SELECT FROM revision_nested n
                     WHERE n.revision_id = batch.revision_id AND NOT {nested}) AS every_level,
                 EXISTS (SELECT FROM gate WHERE gate.revision_id = batch.revision_id
                     AND gate.caution_digest <> batch.caution_digest
                     AND NOT EXISTS (SELECT FROM acknowledgement a
                         WHERE a.holder_id = ask.person_id AND a.revision_id = batch.revision_id
                           AND a.caution_digest = gate.caution_digest AND a.valid_until > ask.now)
                 ) AS change_outstanding
             FROM batch JOIN revision ON revision.id = batch.revision_id
             JOIN formula ON formula.id = revision.formula_id
             JOIN library_member m ON m.library_id = formula.library_id
             WHERE batch.id = ask.batch_id AND m.holder_id = ask.person_id
               AND (batch.maker_id = ask.person_id OR (ask.role = 'instructor' AND {outer}))
             LIMIT 1) AS record ON true",
        nested = granted("n.nested_id"),
        outer = granted("batch.revision_id"),
    );
    statement(&["batch_id"], &format!("SELECT {COLUMNS}, record.* FROM ask {rest}"))
});
