//! Marking: claims, what the findings propose, marks, and relations that keep somebody from marking.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use release::Released;
use store::{Credentials, IdempotencyKey, Result};
use wire::ids::{BatchId, WorkSubmissionId};
use wire::page::{Page, PageQuery};
use wire::teaching::{Assessment, MarkChange, NewRelation, Relation, WorkClaim, WorkMarks, WorkSubmission};

use crate::Clinic;

/// Claims work that was handed in, or prolongs the caller's own claim.
///
/// # Errors
/// As [`teaching::claim_create`].
pub async fn claim_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: WorkSubmissionId,
) -> Result<WorkClaim> {
    ::teaching::claim_create(&clinic.store, credentials, once, id).await
}

/// Gives the caller's own claim up.
///
/// # Errors
/// As [`teaching::claim_end`].
pub async fn claim_end(clinic: &Clinic, credentials: &Credentials, id: WorkSubmissionId) -> Result<()> {
    ::teaching::claim_end(&clinic.store, credentials, id).await
}

/// What a marker needs to assess work.
///
/// # Errors
/// As [`teaching::assessment`].
pub async fn assessment(
    clinic: &Clinic,
    credentials: &Credentials,
    id: WorkSubmissionId,
) -> Result<Released<Assessment>> {
    ::teaching::assessment(&clinic.store, credentials, id).await
}

/// The work that the last submission of a batch record was handed in as, for its author and those who mark that cohort's
/// work.
///
/// # Errors
/// As [`teaching::handed_as`].
pub async fn handed_as(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Option<WorkSubmission>> {
    ::teaching::handed_as(&clinic.store, credentials, id).await
}

/// The marks of work that was handed in.
///
/// # Errors
/// As [`teaching::marks`].
pub async fn marks(clinic: &Clinic, credentials: &Credentials, id: WorkSubmissionId) -> Result<WorkMarks> {
    ::teaching::marks(&clinic.store, credentials, id).await
}

/// Changes the mark of work that was accepted or rejected.
///
/// # Errors
/// As [`teaching::mark_change`].
pub async fn mark_change(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: WorkSubmissionId,
    request: &MarkChange,
) -> Result<WorkMarks> {
    ::teaching::mark_change(&clinic.store, credentials, once, id, request).await
}

/// Declares a relation of the caller to a student.
///
/// # Errors
/// As [`teaching::relation_create`].
pub async fn relation_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewRelation,
) -> Result<Relation> {
    ::teaching::relation_create(&clinic.store, credentials, once, request).await
}

/// The relations that the caller declared, the newest first.
///
/// # Errors
/// As [`teaching::relations`].
pub async fn relations(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<Relation>> {
    ::teaching::relations(&clinic.store, credentials, query).await
}
