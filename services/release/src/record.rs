//! The record of a batch: what it asked for, what was written into it, what was found and how it was judged.
//!
//! A batch's maker reads it while a member of the library, and instructors of the library who hold a grant for its
//! revision. To everybody else it does not exist. Only the maker writes into it. API clients read labels and no record.

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::Locks;
use schema::{batch, formula, library_member, revision};
use store::actor::{Actor, Brand};
use store::{Error, Result, Tx, word};
use uuid::Uuid;
use wire::bench::{BatchState, Disposition};
use wire::ids::{BatchId, HolderId, RevisionId};
use wire::people::Scope;

use crate::grants::{self, EveryLevel};
use crate::sealed::private::Proof;
use crate::sealed::sha;

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
    state: String,
    disposition: String,
    /// When it was opened.
    pub opened_at: DateTime<Utc>,
    /// The number of its last entry.
    pub last_entry: i32,
    /// The number of its last submission.
    pub last_submission: i32,
    /// Grows with every change.
    pub version: i64,
}

impl BatchRow {
    /// The state of the record.
    ///
    /// # Errors
    /// When the stored word is none of the states.
    pub fn state(&self) -> Result<BatchState> {
        word(&self.state)
    }

    /// What becomes of the jars.
    ///
    /// # Errors
    /// When the stored word is none of the dispositions.
    pub fn disposition(&self) -> Result<Disposition> {
        word(&self.disposition)
    }
}

/// Proof that the caller may read the record of a batch, looked up in this transaction.
pub struct Record<'t> {
    row: BatchRow,
    digest: Sha,
    me: HolderId,
    _brand: Brand<'t>,
}

impl Record<'_> {
    /// The batch.
    #[must_use]
    pub const fn batch(&self) -> BatchId {
        BatchId(self.row.id)
    }

    /// The revision that the batch was opened with.
    #[must_use]
    pub const fn revision(&self) -> RevisionId {
        RevisionId(self.row.revision_id)
    }

    /// The digest of that revision.
    #[must_use]
    pub const fn digest(&self) -> &Sha {
        &self.digest
    }

    /// What is open of the batch.
    #[must_use]
    pub const fn row(&self) -> &BatchRow {
        &self.row
    }

    /// Whether the caller is its maker.
    #[must_use]
    pub fn is_makers(&self) -> bool {
        self.me.0 == self.row.maker_id
    }

    /// Refuses whoever is not its maker.
    ///
    /// # Errors
    /// [`Error::Forbidden`] for anybody else.
    pub fn require_maker(&self) -> Result<()> {
        if self.is_makers() {
            Ok(())
        } else {
            Err(Error::Forbidden("Only the maker may write into this batch record.".into()))
        }
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
    if lock {
        locks::lock(tx, Locks::new().batch(id)).await?;
    }
    // Of the libraries that the caller is a member of.
    let row: Option<BatchRow> = batch::table
        .inner_join(revision::table.on(revision::id.eq(batch::revision_id)))
        .inner_join(formula::table.on(formula::id.eq(revision::formula_id)))
        .inner_join(library_member::table.on(library_member::library_id.eq(formula::library_id)))
        .filter(batch::id.eq(id.0))
        .filter(library_member::holder_id.eq(me.0))
        .select(BatchRow::as_select())
        .first(tx.conn())
        .await
        .optional()?;
    let Some(row) = row else { return Ok(Access::Hidden) };
    let of_another = row.maker_id != me.0 && matches!(actor, Actor::Person(_));
    if of_another && !actor.is_instructor() {
        return Ok(Access::Hidden);
    }
    let revision = RevisionId(row.revision_id);
    if of_another && grants::find(tx, revision).await?.is_none() {
        return Ok(Access::Closed(revision));
    }
    let digest = sha(row.revision_digest.clone())?;
    Ok(Access::Open(Record { row, digest, me, _brand: Brand::default() }.into()))
}
