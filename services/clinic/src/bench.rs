//! Batch records, their submission and review.
//!
//! Each function is one request: one transaction, whose first statement proves the caller.

use release::Released;
use store::Claim;
use store::Once;
use store::Result;
use wire::bench::BatchRecord;
use wire::bench::BatchSummary;
use wire::bench::NewBatch;
use wire::bench::NewEntry;
use wire::bench::NewReview;
use wire::bench::Submit;
use wire::ids::BatchId;
use wire::label::BatchLabelQuery;
use wire::label::Label;
use wire::page::Page;

use crate::Clinic;

pub use ::bench::{BatchQuery, address};

/// Opens a batch record from a released recipe: through the door to make, and no other.
///
/// # Errors
/// As [`bench::batch_create`].
pub async fn batch_create(
    clinic: &Clinic,
    claim: &Claim,
    once: &Once,
    request: &NewBatch,
) -> Result<Released<BatchRecord>> {
    ::bench::batch_create(&clinic.store, &clinic.recipes, claim, once, request).await
}

/// A whole batch record, for whoever may read it.
///
/// # Errors
/// As [`bench::batch`].
pub async fn batch(clinic: &Clinic, claim: &Claim, id: BatchId) -> Result<Released<BatchRecord>> {
    ::bench::batch(&clinic.store, &clinic.recipes, claim, id).await
}

/// Batches, oldest first: the caller's own, and for instructors those of the libraries shared with them.
///
/// # Errors
/// As [`bench::batches`].
pub async fn batches(clinic: &Clinic, claim: &Claim, query: &BatchQuery) -> Result<Page<BatchSummary>> {
    ::bench::batches(&clinic.store, claim, query).await
}

/// Gives a batch up.
///
/// # Errors
/// As [`bench::abandon`].
pub async fn abandon(clinic: &Clinic, claim: &Claim, id: BatchId) -> Result<Released<BatchRecord>> {
    ::bench::abandon(&clinic.store, &clinic.recipes, claim, id).await
}

/// Writes an entry. The first one begins the making. A correction names the entry it corrects and why; both stay.
///
/// # Errors
/// As [`bench::entry_create`].
pub async fn entry_create(
    clinic: &Clinic,
    claim: &Claim,
    once: &Once,
    id: BatchId,
    request: &NewEntry,
) -> Result<Released<BatchRecord>> {
    ::bench::entry_create(&clinic.store, &clinic.recipes, claim, once, id, request).await
}

/// What stands on the jars of a batch: of what was weighed, once every line was.
///
/// # Errors
/// As [`bench::label`].
pub async fn label(clinic: &Clinic, claim: &Claim, id: BatchId, query: &BatchLabelQuery) -> Result<Label> {
    ::bench::label(&clinic.store, &clinic.recipes, claim, id, query).await
}

/// Reviews a submitted batch record.
///
/// # Errors
/// As [`bench::review`].
pub async fn review(
    clinic: &Clinic,
    claim: &Claim,
    once: &Once,
    id: BatchId,
    request: &NewReview,
) -> Result<Released<BatchRecord>> {
    ::bench::review(&clinic.store, &clinic.recipes, claim, once, id, request).await
}

/// Hands a batch record in, with whatever is out of tolerance or missing: a record is honest before it is perfect.
///
/// # Errors
/// As [`bench::submit`].
pub async fn submit(
    clinic: &Clinic,
    claim: &Claim,
    once: &Once,
    id: BatchId,
    request: &Submit,
) -> Result<Released<BatchRecord>> {
    ::bench::submit(&clinic.store, &clinic.recipes, claim, once, id, request).await
}
