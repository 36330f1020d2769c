//! Work that students hand in.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::{Credentials, IdempotencyKey, Result, Versioned};
use wire::ids::{AssignmentId, BatchId, PersonId, WorkSubmissionId};
use wire::teaching::{
    Allowance, NewAllowance, NewReflection, NewWorkSubmission, Reflection, StudentRecord, SubmissionNote,
    WorkSubmission,
};

use crate::Clinic;

pub use ::teaching::CountsFor;

/// The caller's own work on an assignment, with the dates that hold for the caller.
///
/// # Errors
/// As [`teaching::record_own`].
pub async fn record_own(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AssignmentId,
) -> Result<StudentRecord> {
    ::teaching::record_own(&clinic.store, credentials, id).await
}

/// A student's work on an assignment, for instructors and markers.
///
/// # Errors
/// As [`teaching::record_of`].
pub async fn record_of(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AssignmentId,
    of: PersonId,
) -> Result<StudentRecord> {
    ::teaching::record_of(&clinic.store, credentials, id, of).await
}

/// Allows one student more time, or excuses an absence.
///
/// # Errors
/// As [`teaching::allowance_create`].
pub async fn allowance_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AssignmentId,
    of: PersonId,
    request: &NewAllowance,
) -> Result<Allowance> {
    ::teaching::allowance_create(&clinic.store, credentials, once, id, of, request).await
}

/// The draft of the caller's reflection.
///
/// # Errors
/// As [`teaching::reflection`].
pub async fn reflection(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AssignmentId,
) -> Result<Versioned<Reflection>> {
    ::teaching::reflection(&clinic.store, credentials, id).await
}

/// Saves the draft of the caller's reflection.
///
/// # Errors
/// As [`teaching::reflection_save`].
pub async fn reflection_save(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AssignmentId,
    version: i64,
    request: &NewReflection,
) -> Result<Versioned<Reflection>> {
    ::teaching::reflection_save(&clinic.store, credentials, id, version, request).await
}

/// Hands work in. It counts at the time at which this is called, when the request has arrived in full.
///
/// # Errors
/// As [`teaching::submit`].
pub async fn submit(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AssignmentId,
    request: &NewWorkSubmission,
) -> Result<WorkSubmission> {
    // Read before anything that a request waits for, and once, however often the transaction is tried.
    let received = clinic.store.clock.now();
    ::teaching::submit(&clinic.store, &clinic.recipes, (credentials, once), received, id, request).await
}

/// The assignments that a batch of the caller's own counts for or can be handed in for.
///
/// # Errors
/// As [`teaching::counts_for`].
pub async fn counts_for(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<Vec<CountsFor>> {
    ::teaching::counts_for(&clinic.store, credentials, id).await
}

/// One submission.
///
/// # Errors
/// As [`teaching::submission_view`].
pub async fn submission(
    clinic: &Clinic,
    credentials: &Credentials,
    id: WorkSubmissionId,
) -> Result<WorkSubmission> {
    ::teaching::submission_view(&clinic.store, credentials, id).await
}

/// Neutral notes on a submission, for instructors and markers.
///
/// # Errors
/// As [`teaching::notes`].
pub async fn notes(
    clinic: &Clinic,
    credentials: &Credentials,
    id: WorkSubmissionId,
) -> Result<Vec<SubmissionNote>> {
    ::teaching::notes(&clinic.store, credentials, id).await
}
