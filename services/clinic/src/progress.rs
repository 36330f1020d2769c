//! Progress of students, where a class struggles, and control charts of how closely records follow their recipes.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::{Credentials, Result};
use wire::ids::{CohortId, FormulaId, PersonId};
use wire::teaching::{ChartedFormulas, CohortDifficulties, ControlCharts, StudentProgress};

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

/// The formulas of which a cohort handed records in.
///
/// # Errors
/// As [`teaching::charted`].
pub async fn charted(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
) -> Result<ChartedFormulas> {
    ::teaching::charted(&clinic.store, credentials, cohort).await
}

/// The control charts of a cohort's records of one formula.
///
/// # Errors
/// As [`teaching::charts_of_formula`].
pub async fn charts_of_formula(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
    formula: FormulaId,
) -> Result<ControlCharts> {
    ::teaching::charts_of_formula(&clinic.store, credentials, cohort, formula).await
}

/// The control charts of a student of a cohort.
///
/// # Errors
/// As [`teaching::charts_of`].
pub async fn charts_of(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
    person: PersonId,
) -> Result<ControlCharts> {
    ::teaching::charts_of(&clinic.store, credentials, cohort, person).await
}

/// The caller's own control charts.
///
/// # Errors
/// As [`teaching::charts_own`].
pub async fn charts_own(clinic: &Clinic, credentials: &Credentials) -> Result<ControlCharts> {
    ::teaching::charts_own(&clinic.store, credentials).await
}
