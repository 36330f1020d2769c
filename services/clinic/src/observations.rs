//! What is seen of batches in their retained samples, and earlier last days.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::{Credentials, IdempotencyKey, Result};
use wire::ids::BatchId;
use wire::observations::{DueObservation, NewObservation, NewShortening, Observations};
use wire::page::{Page, PageQuery};

use crate::Clinic;

/// Batches whose samples are to be looked at today or should have been, those that are due longest first.
///
/// # Errors
/// As [`bench::observations_due`].
pub async fn due(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<DueObservation>> {
    ::bench::observations_due(&clinic.store, credentials, query).await
}

/// What was seen of a batch, and when it is looked at next.
///
/// # Errors
/// As [`bench::observations`].
pub async fn of_batch(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<Observations> {
    ::bench::observations(&clinic.store, credentials, id).await
}

/// Writes an observation down.
///
/// # Errors
/// As [`bench::observe`].
pub async fn observe(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewObservation,
) -> Result<Observations> {
    ::bench::observe(&clinic.store, credentials, once, id, request).await
}

/// Brings the last day of a batch forward.
///
/// # Errors
/// As [`bench::shorten`].
pub async fn shorten(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewShortening,
) -> Result<Observations> {
    ::bench::shorten(&clinic.store, credentials, once, id, request).await
}
