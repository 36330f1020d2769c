//! Work that takes days or weeks: pauses of a batch in the making, and when it is looked at meanwhile.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::{Credentials, IdempotencyKey, Result};
use wire::ids::BatchId;
use wire::long_work::{DueWork, LongWork, NewLookPlan, NewPause};
use wire::page::{Page, PageQuery};

use crate::Clinic;

/// Batches of the caller's that are to be looked at or taken up again, those that are due longest first.
///
/// # Errors
/// As [`bench::work_due`].
pub async fn due(clinic: &Clinic, credentials: &Credentials, query: &PageQuery) -> Result<Page<DueWork>> {
    ::bench::work_due(&clinic.store, credentials, query).await
}

/// How long work on a batch stands.
///
/// # Errors
/// As [`bench::long_work`].
pub async fn of_batch(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<LongWork> {
    ::bench::long_work(&clinic.store, credentials, id).await
}

/// Leaves a batch for a while.
///
/// # Errors
/// As [`bench::pause`].
pub async fn pause(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewPause,
) -> Result<LongWork> {
    ::bench::pause(&clinic.store, credentials, once, id, request).await
}

/// Takes a batch up again.
///
/// # Errors
/// As [`bench::resume`].
pub async fn resume(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
) -> Result<LongWork> {
    ::bench::resume(&clinic.store, credentials, once, id).await
}

/// Plans when a batch is looked at.
///
/// # Errors
/// As [`bench::plan_looks`].
pub async fn plan_looks(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewLookPlan,
) -> Result<LongWork> {
    ::bench::plan_looks(&clinic.store, credentials, once, id, request).await
}
