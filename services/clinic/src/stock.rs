//! Lots and what is left of them.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::{Credentials, IdempotencyKey, Result, Versioned};
use wire::ids::{LotId, MaterialId};
use wire::page::{Page, PageQuery};
use wire::stock::{
    Lot, LotMovement, LotQuery, LotReason, LotSummary, MaterialStock, NewCount, NewIdentityCheck, NewLot,
    NewThreshold, StockQuery, Threshold,
};

use crate::Clinic;

/// Receives a lot. It waits in quarantine until an instructor has confirmed its identity.
///
/// # Errors
/// As [`stock::receive`].
pub async fn receive(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewLot,
) -> Result<Versioned<Lot>> {
    ::stock::receive(&clinic.store, credentials, once, request).await
}

/// One lot.
///
/// # Errors
/// As [`stock::lot()`].
pub async fn lot(clinic: &Clinic, credentials: &Credentials, id: LotId) -> Result<Versioned<Lot>> {
    ::stock::lot(&clinic.store, credentials, id).await
}

/// Lots, what expires first before the others.
///
/// # Errors
/// As [`stock::lots()`].
pub async fn lots(clinic: &Clinic, credentials: &Credentials, query: &LotQuery) -> Result<Page<LotSummary>> {
    ::stock::lots(&clinic.store, credentials, query).await
}

/// The movements of a lot, the newest first, for who keeps the stock.
///
/// # Errors
/// As [`stock::movements`].
pub async fn movements(
    clinic: &Clinic,
    credentials: &Credentials,
    id: LotId,
    query: &PageQuery,
) -> Result<Page<LotMovement>> {
    ::stock::movements(&clinic.store, credentials, id, query).await
}

/// Records a check of identity by an instructor. Where it confirms the material, the lot becomes usable.
///
/// # Errors
/// As [`stock::identity_check`].
pub async fn identity_check(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: LotId,
    request: &NewIdentityCheck,
) -> Result<Versioned<Lot>> {
    ::stock::identity_check(&clinic.store, credentials, once, id, request).await
}

/// Puts a usable lot in quarantine.
///
/// # Errors
/// As [`stock::quarantine`].
pub async fn quarantine(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: LotId,
    request: &LotReason,
) -> Result<Versioned<Lot>> {
    ::stock::quarantine(&clinic.store, credentials, once, id, request).await
}

/// Discards a lot with all that is left of it.
///
/// # Errors
/// As [`stock::discard`].
pub async fn discard(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: LotId,
    request: &LotReason,
) -> Result<Versioned<Lot>> {
    ::stock::discard(&clinic.store, credentials, once, id, request).await
}

/// Adjusts the balance of a lot to what was counted.
///
/// # Errors
/// As [`stock::count`].
pub async fn count(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: LotId,
    version: i64,
    request: &NewCount,
) -> Result<Versioned<Lot>> {
    ::stock::count(&clinic.store, credentials, once, id, version, request).await
}

/// The materials with something left or a threshold, by name.
///
/// # Errors
/// As [`stock::stocks`].
pub async fn stocks(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &StockQuery,
) -> Result<Page<MaterialStock>> {
    ::stock::stocks(&clinic.store, credentials, query).await
}

/// The threshold of a material.
///
/// # Errors
/// As [`stock::threshold()`].
pub async fn threshold(
    clinic: &Clinic,
    credentials: &Credentials,
    id: MaterialId,
) -> Result<Versioned<Threshold>> {
    ::stock::threshold(&clinic.store, credentials, id).await
}

/// Sets, changes or takes away the threshold of a material.
///
/// # Errors
/// As [`stock::threshold_change`].
pub async fn threshold_change(
    clinic: &Clinic,
    credentials: &Credentials,
    id: MaterialId,
    version: i64,
    request: &NewThreshold,
) -> Result<Versioned<Threshold>> {
    ::stock::threshold_change(&clinic.store, credentials, id, version, request).await
}
