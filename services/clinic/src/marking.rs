//! Marking: claims, what the findings propose, marks, and relations that keep somebody from marking.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use release::Released;
use store::{Credentials, IdempotencyKey, Result};
use wire::ids::{BatchId, CohortId, PhraseId, WorkSubmissionId};
use wire::page::{Page, PageQuery};
use wire::teaching::{
    AppealDecision, Appeals, Assessment, CohortGrid, KeptPhrase, MarkChange, NewAppeal, NewPhrase,
    NewRelation, QueueQuery, Relation, WaitingAppeal, WaitingWork, WorkClaim, WorkMarks, WorkSubmission,
};

use crate::Clinic;

/// The work of the caller's cohorts that waits to be marked.
///
/// # Errors
/// As [`teaching::queue`].
pub async fn queue(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &QueueQuery,
) -> Result<Page<WaitingWork>> {
    ::teaching::queue(&clinic.store, credentials, query).await
}

/// How a cohort stands: every student by every assignment.
///
/// # Errors
/// As [`teaching::grid`].
pub async fn grid(clinic: &Clinic, credentials: &Credentials, cohort: CohortId) -> Result<CohortGrid> {
    ::teaching::grid(&clinic.store, credentials, cohort).await
}

/// The marks that count of a cohort, as CSV.
///
/// # Errors
/// As [`teaching::marks_table`].
pub async fn marks_table(clinic: &Clinic, credentials: &Credentials, cohort: CohortId) -> Result<String> {
    ::teaching::marks_table(&clinic.store, credentials, cohort).await
}

/// The marks that count of a cohort, a line of JSON each.
///
/// # Errors
/// As [`teaching::marks_lines`].
pub async fn marks_lines(clinic: &Clinic, credentials: &Credentials, cohort: CohortId) -> Result<String> {
    ::teaching::marks_lines(&clinic.store, credentials, cohort).await
}

/// The marks of a cohort as the CSV files of OneRoster 1.2, in one archive.
///
/// # Errors
/// As [`teaching::marks_archive`].
pub async fn marks_archive(clinic: &Clinic, credentials: &Credentials, cohort: CohortId) -> Result<Vec<u8>> {
    ::teaching::marks_archive(&clinic.store, credentials, cohort).await
}

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

/// Appeals against the mark that counts of the caller's own work.
///
/// # Errors
/// As [`teaching::appeal_create`].
pub async fn appeal_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: WorkSubmissionId,
    request: &NewAppeal,
) -> Result<Appeals> {
    ::teaching::appeal_create(&clinic.store, credentials, once, id, request).await
}

/// Decides an appeal.
///
/// # Errors
/// As [`teaching::appeal_decide`].
pub async fn appeal_decide(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: WorkSubmissionId,
    request: &AppealDecision,
) -> Result<Appeals> {
    ::teaching::appeal_decide(&clinic.store, credentials, once, id, request).await
}

/// The appeal on work that was handed in.
///
/// # Errors
/// As [`teaching::appeals`].
pub async fn appeals(clinic: &Clinic, credentials: &Credentials, id: WorkSubmissionId) -> Result<Appeals> {
    ::teaching::appeals(&clinic.store, credentials, id).await
}

/// The appeals that the caller may decide, the oldest first.
///
/// # Errors
/// As [`teaching::appeals_waiting`].
pub async fn appeals_waiting(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<WaitingAppeal>> {
    ::teaching::appeals_waiting(&clinic.store, credentials, query).await
}

/// Keeps a phrase of the caller's own.
///
/// # Errors
/// As [`teaching::phrase_create`].
pub async fn phrase_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewPhrase,
) -> Result<KeptPhrase> {
    ::teaching::phrase_create(&clinic.store, credentials, once, request).await
}

/// The phrases that the caller keeps, the oldest first.
///
/// # Errors
/// As [`teaching::phrases`].
pub async fn phrases(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<KeptPhrase>> {
    ::teaching::phrases(&clinic.store, credentials, query).await
}

/// Removes a phrase of the caller's own.
///
/// # Errors
/// As [`teaching::phrase_remove`].
pub async fn phrase_remove(clinic: &Clinic, credentials: &Credentials, id: PhraseId) -> Result<()> {
    ::teaching::phrase_remove(&clinic.store, credentials, id).await
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
