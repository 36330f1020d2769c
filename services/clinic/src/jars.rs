//! Jars, whether what is in them may be used, and what whoever holds one reads of it.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller, but for the page of a jar,
//! which anybody reads.

use store::{Credentials, IdempotencyKey, Result};
use wire::ids::{BatchId, JarId};
use wire::jars::{
    JarLabels, JarPage, JarQuery, JarSheet, Jars, JarsHere, NewDecanting, NewDiscard, NewHanding,
    NewJarReturn, NewJars, NewRelease, NewSample, ReleaseSheet,
};
use wire::page::Page;

use crate::Clinic;

/// Why labels have no code to scan.
const NO_SCAN: &str = "Labels have no code to scan, because the service does not know the address that it is reached by. Set \
                       STILLROOM_PUBLIC_URL, such as https://clinic.example, and start the service again.";

/// The jars, with why their labels have no code to scan.
fn told(clinic: &Clinic, jars: Jars) -> Jars {
    let no_scan = clinic.public_address().is_none().then(|| NO_SCAN.to_owned());
    Jars { no_scan, ..jars }
}

/// What stands on jars of a batch, by how they were filled.
///
/// # Errors
/// As [`bench::jar_labels`].
pub async fn labels(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    area: &str,
    numbers: &[(u32, u32)],
) -> Result<Vec<JarLabels>> {
    ::bench::jar_labels(&clinic.store, &clinic.recipes, credentials, id, area, numbers).await
}

/// The jars of a batch, and what was decided about what is in them.
///
/// # Errors
/// As [`bench::jars`].
pub async fn jars(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<Jars> {
    let found = ::bench::jars(&clinic.store, credentials, id).await?;
    Ok(told(clinic, found))
}

/// Fills jars from what a batch made.
///
/// # Errors
/// As [`bench::jars_fill`].
pub async fn fill(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewJars,
) -> Result<Jars> {
    let found = ::bench::jars_fill(&clinic.store, &clinic.recipes, credentials, once, id, request).await?;
    Ok(told(clinic, found))
}

/// What is read before a release.
///
/// # Errors
/// As [`bench::release_sheet`].
pub async fn release_sheet(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<ReleaseSheet> {
    ::bench::release_sheet(&clinic.store, &clinic.recipes, credentials, id).await
}

/// Releases what a batch made.
///
/// # Errors
/// As [`bench::release`].
pub async fn release(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewRelease,
) -> Result<Jars> {
    let found = ::bench::release(&clinic.store, &clinic.recipes, credentials, once, id, request).await?;
    Ok(told(clinic, found))
}

/// Discards what a batch made.
///
/// # Errors
/// As [`bench::discard`].
pub async fn discard(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewDiscard,
) -> Result<Jars> {
    let found = ::bench::discard(&clinic.store, credentials, once, id, request).await?;
    Ok(told(clinic, found))
}

/// What is in a jar, by the code on it. For anybody.
///
/// # Errors
/// As [`bench::jar_page`].
pub async fn jar_page(clinic: &Clinic, code: &str) -> Result<JarPage> {
    ::bench::jar_page(&clinic.store, code).await
}

/// A jar, with what is told when it is handed out.
///
/// # Errors
/// As [`bench::jar_sheet`].
pub async fn sheet(clinic: &Clinic, credentials: &Credentials, id: JarId) -> Result<JarSheet> {
    ::bench::jar_sheet(&clinic.store, credentials, id).await
}

/// The same of the jar with this code.
///
/// # Errors
/// As [`bench::jar_sheet_of_code`].
pub async fn sheet_of_code(clinic: &Clinic, credentials: &Credentials, code: &str) -> Result<JarSheet> {
    ::bench::jar_sheet_of_code(&clinic.store, credentials, code).await
}

/// Jars on the shelf, in the order of their last days.
///
/// # Errors
/// As [`bench::jars_here`].
pub async fn here(clinic: &Clinic, credentials: &Credentials, query: &JarQuery) -> Result<Page<JarsHere>> {
    ::bench::jars_here(&clinic.store, credentials, query).await
}

/// Hands a jar out.
///
/// # Errors
/// As [`bench::jar_hand`].
pub async fn hand(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: JarId,
    request: &NewHanding,
) -> Result<JarSheet> {
    ::bench::jar_hand(&clinic.store, credentials, once, id, request).await
}

/// Takes a jar back.
///
/// # Errors
/// As [`bench::jar_take_back`].
pub async fn take_back(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: JarId,
    request: &NewJarReturn,
) -> Result<JarSheet> {
    ::bench::jar_take_back(&clinic.store, credentials, once, id, request).await
}

/// Fills the content of a jar into smaller ones of its batch.
///
/// # Errors
/// As [`bench::decant`].
pub async fn decant(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: JarId,
    request: &NewDecanting,
) -> Result<Jars> {
    Ok(told(clinic, ::bench::decant(&clinic.store, credentials, once, id, request).await?))
}

/// Keeps a jar that stands on the shelf as a sample.
///
/// # Errors
/// As [`bench::keep_as_sample`].
pub async fn keep_as_sample(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: JarId,
    request: &NewSample,
) -> Result<Jars> {
    Ok(told(clinic, ::bench::keep_as_sample(&clinic.store, credentials, once, id, request).await?))
}
