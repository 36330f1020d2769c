//! Rows of open tables that several crates read.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use uuid::Uuid;

use crate::batch;

/// What is open of a batch to whoever may know of it.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = batch, check_for_backend(diesel::pg::Pg))]
pub struct BatchRow {
    /// The batch.
    pub id: Uuid,
    /// What stands on the jar.
    pub number: String,
    /// The revision that it was opened with.
    pub revision_id: Uuid,
    /// The digest of that revision.
    pub revision_digest: Vec<u8>,
    /// The digest of the caution set that it was opened under.
    pub caution_digest: Vec<u8>,
    /// The version of the policy that it was opened under.
    pub policy_version: i32,
    /// Who makes it.
    pub maker_id: Uuid,
    /// The word for the state of its record.
    pub state: String,
    /// The word for what becomes of the jars.
    pub disposition: String,
    /// When it was opened.
    pub opened_at: DateTime<Utc>,
    /// The number of its last entry.
    pub last_entry: i32,
    /// The number of its last submission.
    pub last_submission: i32,
    /// Grows with every change.
    pub version: i64,
    /// Set where the record is asked for checks before the start.
    pub checks_asked: Option<bool>,
    /// The adjustment whose recipe holds, in place of the one that it was opened with.
    pub adjusted_by: Option<Uuid>,
}
