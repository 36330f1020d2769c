//! Looking up grants for many readers in one statement.

use std::sync::Arc;

use canonical::Sha;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Binary, Bool, Integer, Nullable, Uuid as SqlUuid};
use store::Result;
use store::gather::{COLUMNS, OneById, Sql, statement};
use uuid::Uuid;
use wire::ids::{BatchId, RevisionId};

use crate::record::state;
use crate::released::Released;
use crate::sealed::private::Proof;
use crate::sealed::{Sealed, sha};

/// The question for the caller's grant to make a revision, where there is one by which something was read before.
#[derive(Clone, Copy)]
pub struct MakeGrant(pub RevisionId);

/// Digests of a revision and of its caution set, the number of the current set, and the version of the policy in force.
pub type Names = (Sha, Sha, i32, i32);

/// Proof that a caller held a grant to make when the statement ran that looked it up, after they had asked. It is used
/// up by the one reading that was asked for.
pub struct LookedUp(Names);

impl LookedUp {
    /// What it is for.
    #[must_use]
    pub const fn names(&self) -> &Names {
        &self.0
    }

    /// Releases the content that the grant is for.
    ///
    /// # Errors
    /// [`store::Error::Internal`] when the grant is for other content.
    pub fn open<T>(self, sealed: &Sealed<T>) -> Result<Released<Arc<T>>> {
        sealed.open(&ByLookup(self.0.0, true))
    }
}

/// What it is for, and whether to make it.
struct ByLookup(Sha, bool);

impl Proof for ByLookup {
    fn digest(&self) -> &Sha {
        &self.0
    }

    fn to_make(&self) -> Option<Sha> {
        self.1.then_some(self.0)
    }
}

/// A grant as the database answers it; empty where there is none.
#[derive(QueryableByName)]
pub struct GrantRow {
    #[diesel(sql_type = Nullable<Binary>)]
    digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Binary>)]
    caution_digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Integer>)]
    set_number: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    policy: Option<i32>,
}

impl OneById for MakeGrant {
    type Row = GrantRow;
    type Found = Option<LookedUp>;

    fn sql() -> &'static Sql {
        &SQL
    }

    fn id(&self) -> Uuid {
        self.0.0
    }

    fn found(row: GrantRow) -> Result<Option<LookedUp>> {
        let held = row.digest.zip(row.caution_digest).zip(row.set_number.zip(row.policy));
        let found = |((of, cautions), (set, policy))| Ok(LookedUp((sha(of)?, sha(cautions)?, set, policy)));
        held.map(found).transpose()
    }
}

/// The question for the state of a batch's record that the caller may read.
#[derive(Clone, Copy)]
pub struct RecordState(pub BatchId);

/// Proof that a caller might read a record in this state when the statement ran that looked it up, after they had asked.
/// It is used up by the one reading that was asked for.
pub struct RecordSeen {
    state: Sha,
    every_level: bool,
}

impl RecordSeen {
    /// Whether the caller may read everything that the batch is made from.
    #[must_use]
    pub const fn every_level(&self) -> bool {
        self.every_level
    }

    /// Releases the record, if it was kept in this state.
    #[must_use]
    pub fn open<T>(self, sealed: &Sealed<T>) -> Option<Released<Arc<T>>> {
        sealed.open(&ByLookup(self.state, false)).ok()
    }
}

/// The state of a record as the database answers it; empty where there is none.
#[derive(QueryableByName)]
pub struct StateRow {
    #[diesel(sql_type = Nullable<SqlUuid>)]
    batch: Option<Uuid>,
    #[diesel(sql_type = Nullable<BigInt>)]
    version: Option<i64>,
    #[diesel(sql_type = Nullable<Bool>)]
    every_level: Option<bool>,
}

impl OneById for RecordState {
    type Row = StateRow;
    type Found = Option<RecordSeen>;

    fn sql() -> &'static Sql {
        &STATE
    }

    fn id(&self) -> Uuid {
        self.0.0
    }

    fn found(row: StateRow) -> Result<Option<RecordSeen>> {
        let (Some(id), Some(version)) = (row.batch, row.version) else { return Ok(None) };
        let every_level = row.every_level.unwrap_or_default();
        Ok(Some(RecordSeen { state: state(id, version, every_level), every_level }))
    }
}

/// As [`crate::record::access`] and [`crate::record::every_level`] find, for persons, under the current caution set.
static STATE: Sql = Sql::new(|| {
    let open = |revision: &str| {
        format!(
            "EXISTS (SELECT FROM release_grant g JOIN revision o ON o.id = g.revision_id AND o.digest = g.digest
                 WHERE g.holder_id = ask.person_id AND g.revision_id = {revision} AND g.valid_until > ask.now
                   AND (g.purpose = 'make' AND o.state = 'approved'
                        OR g.purpose = 'decide' AND ask.role = 'instructor'))"
        )
    };
    let rest = format!(
        "LEFT JOIN LATERAL (
            SELECT b.id AS batch, b.version, NOT EXISTS (SELECT FROM revision_nested n
                 WHERE n.revision_id = b.revision_id AND NOT {nested}) AS every_level
            FROM batch b JOIN gate c ON c.revision_id = b.revision_id AND c.caution_digest = b.caution_digest
            JOIN revision r ON r.id = b.revision_id JOIN formula f ON f.id = r.formula_id
            JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = ask.person_id
            WHERE b.id = ask.batch_id
              AND (b.maker_id = ask.person_id OR batch_made_by(b.id, ask.person_id) OR ask.role = 'instructor' AND NOT blind_batch(b.id, ask.person_id) AND {own})
            LIMIT 1) AS held ON true",
        nested = open("n.nested_id"),
        own = open("b.revision_id"),
    );
    statement(&["batch_id"], &format!("SELECT {COLUMNS}, held.* FROM ask {rest}"))
});

static SQL: Sql = Sql::new(|| {
    let rest = "LEFT JOIN LATERAL (
            SELECT digest, caution_digest, set_number FROM release_grant
            WHERE holder_id = ask.holder_id AND revision_id = ask.revision_id AND purpose = 'make' AND pulled
              AND valid_until > ask.now
            LIMIT 1) AS held ON true";
    statement(
        &["revision_id"],
        &format!("SELECT {COLUMNS}, held.*, (SELECT max(version) FROM policy) AS policy FROM ask {rest}"),
    )
});
