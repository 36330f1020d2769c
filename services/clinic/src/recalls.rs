//! Where lots and batches went, and calling them back.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::{Credentials, IdempotencyKey, Result};
use uuid::Uuid;
use wire::ids::{BatchId, LotId, RecallId};
use wire::page::Page;
use wire::recalls::{
    CloseRecall, NewJarOutcomes, NewRecall, NewRecallOutcome, Recall, RecallCause, RecallQuery,
    RecallSummary, Trace, TraceDirection, TraceNode,
};

use crate::Clinic;

/// Where a lot went, or what it was made of.
///
/// # Errors
/// As [`recalls::lot_trace`].
pub async fn lot_trace(
    clinic: &Clinic,
    credentials: &Credentials,
    id: LotId,
    direction: TraceDirection,
) -> Result<Trace> {
    ::recalls::lot_trace(&clinic.store, credentials, id, direction).await
}

/// What a batch was made of, or where it went.
///
/// # Errors
/// As [`recalls::batch_trace`].
pub async fn batch_trace(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    direction: TraceDirection,
) -> Result<Trace> {
    ::recalls::batch_trace(&clinic.store, credentials, id, direction).await
}

/// Recalls something with everything that was made of it.
///
/// # Errors
/// As [`recalls::start`].
pub async fn start(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewRecall,
) -> Result<Recall> {
    ::recalls::start(&clinic.store, credentials, once, request).await
}

/// What a recall would reach now.
///
/// # Errors
/// As [`recalls::reach`].
pub async fn reach(
    clinic: &Clinic,
    credentials: &Credentials,
    cause: RecallCause,
    id: Uuid,
) -> Result<Vec<TraceNode>> {
    ::recalls::reach(&clinic.store, credentials, cause, id).await
}

/// Recalls, the newest first.
///
/// # Errors
/// As [`recalls::recalls()`].
pub async fn recalls(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &RecallQuery,
) -> Result<Page<RecallSummary>> {
    ::recalls::recalls(&clinic.store, credentials, query).await
}

/// One recall, with everything that it reached.
///
/// # Errors
/// As [`recalls::recall()`].
pub async fn recall(clinic: &Clinic, credentials: &Credentials, id: RecallId) -> Result<Recall> {
    ::recalls::recall(&clinic.store, credentials, id).await
}

/// Notes what came of a lot or batch that was recalled.
///
/// # Errors
/// As [`recalls::account`].
pub async fn account(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: RecallId,
    request: &NewRecallOutcome,
) -> Result<Recall> {
    ::recalls::account(&clinic.store, credentials, once, id, request).await
}

/// Closes a recall.
///
/// # Errors
/// As [`recalls::close`].
pub async fn close(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: RecallId,
    request: &CloseRecall,
) -> Result<Recall> {
    ::recalls::close(&clinic.store, credentials, once, id, request).await
}

/// Notes what came of jars that were recalled.
///
/// # Errors
/// As [`recalls::account_jars`].
pub async fn account_jars(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: RecallId,
    request: &NewJarOutcomes,
) -> Result<Recall> {
    ::recalls::account_jars(&clinic.store, credentials, once, id, request).await
}
