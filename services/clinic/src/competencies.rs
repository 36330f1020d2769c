//! Competencies, sign-offs and their credentials.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller where there is one.

use store::{Credentials, IdempotencyKey, Result};
use wire::ids::{CohortId, PersonId, SignOffId};
use wire::teaching::{
    Competencies, Competency, CredentialFacts, CredentialStatus, NewCompetency, NewRevocation, NewSignOff,
    SignOff, StudentCompetencies,
};

use crate::Clinic;

/// The clinic's competencies.
///
/// # Errors
/// As [`teaching::competencies`].
pub async fn all(clinic: &Clinic, credentials: &Credentials) -> Result<Competencies> {
    ::teaching::competencies(&clinic.store, credentials).await
}

/// Adds a competency.
///
/// # Errors
/// As [`teaching::competency_create`].
pub async fn create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewCompetency,
) -> Result<Competency> {
    ::teaching::competency_create(&clinic.store, credentials, once, request).await
}

/// Adds those that come with the service, where there are none.
///
/// # Errors
/// As [`teaching::competencies_begin`].
pub async fn begin(clinic: &Clinic) -> Result<usize> {
    ::teaching::competencies_begin(&clinic.store).await
}

/// How the caller stands with every competency.
///
/// # Errors
/// As [`teaching::competencies_own`].
pub async fn own(clinic: &Clinic, credentials: &Credentials) -> Result<StudentCompetencies> {
    ::teaching::competencies_own(&clinic.store, credentials).await
}

/// How a student of a cohort stands with every competency.
///
/// # Errors
/// As [`teaching::competencies_of`].
pub async fn of(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
    person: PersonId,
) -> Result<StudentCompetencies> {
    ::teaching::competencies_of(&clinic.store, credentials, cohort, person).await
}

/// Signs a student of a cohort off.
///
/// # Errors
/// As [`teaching::sign_off_create`].
pub async fn sign(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    whom: (CohortId, PersonId),
    request: &NewSignOff,
) -> Result<SignOff> {
    ::teaching::sign_off_create(&clinic.store, credentials, once, whom, request).await
}

/// Takes a sign-off back.
///
/// # Errors
/// As [`teaching::sign_off_revoke`].
pub async fn revoke(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: SignOffId,
    request: &NewRevocation,
) -> Result<SignOff> {
    ::teaching::sign_off_revoke(&clinic.store, credentials, once, id, request).await
}

/// What the credential of the caller's own sign-off is made of.
///
/// # Errors
/// As [`teaching::credential`].
pub async fn credential(
    clinic: &Clinic,
    credentials: &Credentials,
    id: SignOffId,
    with_name: bool,
) -> Result<CredentialFacts> {
    ::teaching::credential(&clinic.store, credentials, id, with_name).await
}

/// Whether a credential holds.
///
/// # Errors
/// As [`teaching::credential_status`].
pub async fn status(clinic: &Clinic, id: SignOffId) -> Result<CredentialStatus> {
    ::teaching::credential_status(&clinic.store, id).await
}

/// The credentials that were taken back before their time was over.
///
/// # Errors
/// As [`teaching::credentials_revoked`].
pub async fn revoked(clinic: &Clinic) -> Result<Vec<SignOffId>> {
    ::teaching::credentials_revoked(&clinic.store).await
}
