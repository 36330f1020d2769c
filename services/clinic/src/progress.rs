//! Progress of students, and where a class struggles.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::{Credentials, Result};
use wire::ids::{CohortId, PersonId};
use wire::teaching::{CohortDifficulties, StudentProgress};

use crate::Clinic;

/// The caller's own progress.
///
/// # Errors
/// As [`teaching::progress_own`].
pub async fn own(clinic: &Clinic, credentials: &Credentials) -> Result<StudentProgress> {
    ::teaching::progress_own(&clinic.store, credentials).await
}

/// What the caller handed in, a line of JSON each.
///
/// # Errors
/// As [`teaching::progress_lines`].
pub async fn lines(clinic: &Clinic, credentials: &Credentials) -> Result<String> {
    ::teaching::progress_lines(&clinic.store, credentials).await
}

/// The progress of a student of a cohort.
///
/// # Errors
/// As [`teaching::progress_of`].
pub async fn of(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
    person: PersonId,
) -> Result<StudentProgress> {
    ::teaching::progress_of(&clinic.store, credentials, cohort, person).await
}

/// Where a cohort struggles.
///
/// # Errors
/// As [`teaching::difficulties`].
pub async fn difficulties(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
) -> Result<CohortDifficulties> {
    ::teaching::difficulties(&clinic.store, credentials, cohort).await
}
