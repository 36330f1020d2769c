//! Moderation: which share of the marks is given twice, second marks, and how far the two agree.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use release::Released;
use store::{Credentials, IdempotencyKey, Result};
use wire::ids::{CohortId, ModerationId};
use wire::page::{Page, PageQuery};
use wire::teaching::{
    BlindWork, CohortAgreement, DrawnMark, Moderation, ModerationShare, NewModerationShare, NewSecondMark,
    NewSecondMarker, NewSettlement, WaitingModeration,
};

use crate::Clinic;

/// Sets which share of a cohort's marks is drawn from now on.
///
/// # Errors
/// As [`teaching::moderation_share_set`].
pub async fn share_set(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    cohort: CohortId,
    request: &NewModerationShare,
) -> Result<ModerationShare> {
    ::teaching::moderation_share_set(&clinic.store, credentials, once, cohort, request).await
}

/// How far first and second marks of a cohort agree.
///
/// # Errors
/// As [`teaching::agreement`].
pub async fn agreement(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
) -> Result<CohortAgreement> {
    ::teaching::agreement(&clinic.store, credentials, cohort).await
}

/// The marks of a cohort that were drawn, the newest first.
///
/// # Errors
/// As [`teaching::moderations`].
pub async fn drawn(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
    query: &PageQuery,
) -> Result<Page<DrawnMark>> {
    ::teaching::moderations(&clinic.store, credentials, cohort, query).await
}

/// The second marks that the caller has to give, the oldest first.
///
/// # Errors
/// As [`teaching::moderations_waiting`].
pub async fn waiting(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<WaitingModeration>> {
    ::teaching::moderations_waiting(&clinic.store, credentials, query).await
}

/// Work as its second marker sees it.
///
/// # Errors
/// As [`teaching::blind_work`].
pub async fn blind_work(
    clinic: &Clinic,
    credentials: &Credentials,
    id: ModerationId,
) -> Result<Released<BlindWork>> {
    ::teaching::blind_work(&clinic.store, &clinic.recipes, credentials, id).await
}

/// Both marks beside each other.
///
/// # Errors
/// As [`teaching::moderation`].
pub async fn moderation(clinic: &Clinic, credentials: &Credentials, id: ModerationId) -> Result<Moderation> {
    ::teaching::moderation(&clinic.store, credentials, id).await
}

/// Gives the second mark.
///
/// # Errors
/// As [`teaching::second_mark_create`].
pub async fn second_mark_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ModerationId,
    request: &NewSecondMark,
) -> Result<Moderation> {
    ::teaching::second_mark_create(&clinic.store, credentials, once, id, request).await
}

/// Names another second marker.
///
/// # Errors
/// As [`teaching::second_marker_name`].
pub async fn second_marker_name(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ModerationId,
    request: &NewSecondMarker,
) -> Result<Moderation> {
    ::teaching::second_marker_name(&clinic.store, credentials, once, id, request).await
}

/// Settles two marks that differ.
///
/// # Errors
/// As [`teaching::settle`].
pub async fn settle(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ModerationId,
    request: &NewSettlement,
) -> Result<Moderation> {
    ::teaching::settle(&clinic.store, credentials, once, id, request).await
}
