//! Suspected adverse reactions: what is told of a jar, and the cases that follow.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller, but for what is told on the
//! page of a jar, which anybody may.

use store::{Credentials, IdempotencyKey, Result};
use wire::ids::{JarId, ReactionCaseId};
use wire::page::Page;
use wire::reactions::{
    NewConclusion, NewErasure, NewJoining, NewReaction, NewReactionNote, ReactionCase, ReactionCaseSummary,
    ReactionQuery, ReactionReceipt,
};

use crate::Clinic;

/// Keeps a report from the page of a jar. For anybody.
///
/// # Errors
/// As [`reactions::tell_on_page`].
pub async fn tell_on_page(
    clinic: &Clinic,
    code: &str,
    form: [u8; 32],
    request: &NewReaction,
) -> Result<ReactionReceipt> {
    ::reactions::tell_on_page(&clinic.store, code, form, request).await
}

/// Refuses a report that could not be kept, before it is counted.
///
/// # Errors
/// As [`reactions::acceptable`].
pub fn acceptable(clinic: &Clinic, request: &NewReaction) -> Result<()> {
    // The day of the clinic is judged when it is kept.
    ::reactions::acceptable(request, clinic.store.clock.now().date_naive())
}

/// What was told on the page of a jar under a reference. For anybody who has the code.
///
/// # Errors
/// As [`reactions::receipt`].
pub async fn receipt(clinic: &Clinic, code: &str, reference: &str) -> Result<ReactionReceipt> {
    ::reactions::receipt(&clinic.store, code, reference).await
}

/// Keeps a report that somebody told at the clinic.
///
/// # Errors
/// As [`reactions::tell_at_clinic`].
pub async fn tell_at_clinic(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    jar: JarId,
    request: &NewReaction,
) -> Result<ReactionReceipt> {
    ::reactions::tell_at_clinic(&clinic.store, credentials, once, jar, request).await
}

/// Cases, the newest first.
///
/// # Errors
/// As [`reactions::cases`].
pub async fn cases(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &ReactionQuery,
) -> Result<Page<ReactionCaseSummary>> {
    ::reactions::cases(&clinic.store, credentials, query).await
}

/// One case, with everything about it.
///
/// # Errors
/// As [`reactions::case`].
pub async fn case(clinic: &Clinic, credentials: &Credentials, id: ReactionCaseId) -> Result<ReactionCase> {
    ::reactions::case(&clinic.store, credentials, id).await
}

/// Notes what was found out.
///
/// # Errors
/// As [`reactions::note`].
pub async fn note(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ReactionCaseId,
    request: &NewReactionNote,
) -> Result<ReactionCase> {
    ::reactions::note(&clinic.store, credentials, once, id, request).await
}

/// Removes the words of a report.
///
/// # Errors
/// As [`reactions::erase`].
pub async fn erase(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ReactionCaseId,
    request: &NewErasure,
) -> Result<ReactionCase> {
    ::reactions::erase(&clinic.store, credentials, once, id, request).await
}

/// Joins a case to another; answers the other.
///
/// # Errors
/// As [`reactions::join`].
pub async fn join(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ReactionCaseId,
    request: &NewJoining,
) -> Result<ReactionCase> {
    ::reactions::join(&clinic.store, credentials, once, id, request).await
}

/// Closes a case with a conclusion.
///
/// # Errors
/// As [`reactions::conclude`].
pub async fn conclude(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ReactionCaseId,
    request: &NewConclusion,
) -> Result<ReactionCase> {
    ::reactions::conclude(&clinic.store, credentials, once, id, request).await
}
