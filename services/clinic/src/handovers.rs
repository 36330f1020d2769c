//! Handing a batch over to another maker.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::{Credentials, IdempotencyKey, Result};
use wire::handovers::{Handover, Handovers, NewHandover, NewHandoverAnswer};
use wire::ids::{BatchId, HandoverId};
use wire::page::{Page, PageQuery};

use crate::Clinic;

/// Batches that are offered to the caller and wait for an answer.
///
/// # Errors
/// As [`bench::offered`].
pub async fn offered(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<Handover>> {
    ::bench::offered(&clinic.store, credentials, query).await
}

/// An offer, for those whom it concerns.
///
/// # Errors
/// As [`bench::handover`].
pub async fn handover(clinic: &Clinic, credentials: &Credentials, id: HandoverId) -> Result<Handover> {
    ::bench::handover(&clinic.store, credentials, id).await
}

/// Who has a batch and who had it, and who could take it.
///
/// # Errors
/// As [`bench::handovers`].
pub async fn of_batch(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<Handovers> {
    ::bench::handovers(&clinic.store, credentials, id).await
}

/// Offers a batch to another maker.
///
/// # Errors
/// As [`bench::hand_over`].
pub async fn offer(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewHandover,
) -> Result<Handovers> {
    ::bench::hand_over(&clinic.store, credentials, once, id, request).await
}

/// Answers an offer.
///
/// # Errors
/// As [`bench::answer_handover`].
pub async fn answer(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: HandoverId,
    request: &NewHandoverAnswer,
) -> Result<Handover> {
    ::bench::answer_handover(&clinic.store, credentials, once, id, request).await
}
