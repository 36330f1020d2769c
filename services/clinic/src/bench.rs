//! Batch records, their submission and review.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use judgement::figures::Detail;
use release::{Released, ReleasedRecipe};
use store::Credentials;
use store::IdempotencyKey;
use store::Result;
use wire::adjustments::{Adjustment, NewAdjustment};
use wire::bench::AtBench;
use wire::bench::BatchRecord;
use wire::bench::BatchSummary;
use wire::bench::EntryWritten;
use wire::bench::NewBatch;
use wire::bench::NewEntry;
use wire::bench::NewReview;
use wire::bench::Submit;
use wire::checks::{Check, NewCheck};
use wire::deviations::{Authorisation, NewAuthorisation};
use wire::filed::FiledRecord;
use wire::holds::{HoldRelease, NewHoldRelease};
use wire::ids::BatchId;
use wire::label::BatchLabelQuery;
use wire::label::Label;
use wire::page::Page;

use crate::{Clinic, Reader};

pub use ::bench::{BatchQuery, address};

/// Opens a batch record from a recipe. Requires a `Make` grant.
///
/// # Errors
/// As [`bench::batch_create`].
pub async fn batch_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewBatch,
) -> Result<Released<BatchRecord>> {
    ::bench::batch_create(&clinic.store, &clinic.recipes, credentials, once, request).await
}

/// A batch record with its entries, findings and evaluation.
///
/// # Errors
/// As [`bench::batch`].
pub async fn batch(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    detail: Detail,
) -> Result<Released<BatchRecord>> {
    ::bench::batch(&clinic.store, &clinic.recipes, credentials, id, detail).await
}

/// A batch record for the file: with who had the batch, its plans, its photographs and which of its jars were filled into others.
///
/// # Errors
/// As [`bench::filed`].
pub async fn filed(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<Released<FiledRecord>> {
    ::bench::filed(&clinic.store, &clinic.recipes, credentials, id).await
}

/// As [`batch`], in brief, as the bytes to be sent. Cost: a share of one statement, once the record is in memory.
///
/// # Errors
/// As [`bench::batch_rendered`].
pub async fn batch_rendered(
    clinic: &Clinic,
    reader: &Reader,
    credentials: &Credentials,
    id: BatchId,
) -> Result<ReleasedRecipe> {
    ::bench::batch_rendered(&clinic.store, &clinic.recipes, &reader.records, credentials, id).await
}

/// Batches, the oldest first: the caller's own, and for instructors all of the libraries they are members of.
///
/// # Errors
/// As [`bench::batches`].
pub async fn batches(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &BatchQuery,
) -> Result<Page<BatchSummary>> {
    ::bench::batches(&clinic.store, credentials, query).await
}

/// For what quantity the caller made a formula last.
///
/// # Errors
/// As [`bench::last_asked`].
pub async fn last_asked(
    clinic: &Clinic,
    credentials: &Credentials,
    revision: wire::ids::RevisionId,
) -> Result<Option<Released<wire::recipe::MakeFor>>> {
    ::bench::last_asked(&clinic.store, credentials, revision).await
}

/// A record with what helps whoever weighs its lines: the range that is within tolerance, and the lot that the maker used
/// last time.
///
/// # Errors
/// As [`bench::batch`].
pub async fn at_bench(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<Released<AtBench>> {
    ::bench::at_bench(&clinic.store, &clinic.recipes, credentials, id).await
}

/// From which lots the lines of a batch can be weighed: that which expires first comes first.
///
/// # Errors
/// As [`bench::lots`].
pub async fn lots(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Released<wire::stock::BatchLots>> {
    ::bench::lots(&clinic.store, &clinic.recipes, credentials, id).await
}

/// Puts what a batch made on the shelf, as a lot from which other batches are weighed.
///
/// # Errors
/// As [`bench::shelve`].
pub async fn shelve(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &wire::stock::NewMadeLot,
) -> Result<store::Versioned<wire::stock::Lot>> {
    ::bench::shelve(&clinic.store, &clinic.recipes, credentials, once, id, request).await
}

/// Reserves lots for the lines of a batch that are not weighed yet.
///
/// # Errors
/// As [`bench::reserve`].
pub async fn reserve(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &wire::stock::NewReservations,
) -> Result<wire::stock::Reservations> {
    ::bench::reserve(&clinic.store, &clinic.recipes, credentials, once, id, request).await
}

/// What a batch has reserved.
///
/// # Errors
/// As [`bench::reserved`].
pub async fn reserved(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
) -> Result<wire::stock::Reservations> {
    ::bench::reserved(&clinic.store, credentials, id).await
}

/// Frees what a batch has reserved.
///
/// # Errors
/// As [`bench::free`].
pub async fn free(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<()> {
    ::bench::free(&clinic.store, credentials, id).await
}

/// Abandons a batch.
///
/// # Errors
/// As [`bench::abandon`].
pub async fn abandon(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Released<BatchRecord>> {
    ::bench::abandon(&clinic.store, &clinic.recipes, credentials, id).await
}

/// Adds an entry. The first one moves the batch to `making`. A correction names the corrected entry and its reason;
/// both entries stay.
///
/// # Errors
/// As [`bench::entry_create`].
pub async fn entry_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewEntry,
) -> Result<Released<EntryWritten>> {
    ::bench::entry_create(&clinic.store, &clinic.recipes, credentials, once, id, request).await
}

/// Adds a check before the start, or the equipment used. A correction names the corrected check and its reason.
///
/// # Errors
/// As [`bench::check_create`].
pub async fn check_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewCheck,
) -> Result<Check> {
    ::bench::check_create(&clinic.store, credentials, once, id, request).await
}

/// The caller's last check of each meter.
///
/// # Errors
/// As [`bench::last_checks`].
pub async fn last_checks(clinic: &Clinic, credentials: &Credentials) -> Result<Vec<Check>> {
    ::bench::last_checks(&clinic.store, credentials).await
}

/// Releases a hold of a batch.
///
/// # Errors
/// As [`bench::hold_release`].
pub async fn hold_release(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewHoldRelease,
) -> Result<HoldRelease> {
    ::bench::hold_release(&clinic.store, &clinic.recipes, credentials, once, id, request).await
}

/// What could correct a batch of which too much of a line was weighed.
///
/// # Errors
/// As [`bench::adjustment`].
pub async fn adjustment(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Released<Adjustment>> {
    ::bench::adjustment(&clinic.store, &clinic.recipes, credentials, id).await
}

/// Proposes the adjustment that could correct a batch.
///
/// # Errors
/// As [`bench::adjust`].
pub async fn adjust(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewAdjustment,
) -> Result<Released<EntryWritten>> {
    ::bench::adjust(&clinic.store, &clinic.recipes, credentials, once, id, request).await
}

/// Authorises a deviation of a batch.
///
/// # Errors
/// As [`bench::authorise`].
pub async fn authorise(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewAuthorisation,
) -> Result<Authorisation> {
    ::bench::authorise(&clinic.store, &clinic.recipes, credentials, once, id, request).await
}

/// The label for the jars of a batch: as made once it is submitted with every line weighed, as planned before that and
/// for readers to whom a nested formula is closed.
///
/// # Errors
/// As [`bench::label`].
pub async fn label(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    query: &BatchLabelQuery,
) -> Result<Label> {
    ::bench::label(&clinic.store, &clinic.recipes, credentials, id, query).await
}

/// Reviews a submitted batch record. Of one that was handed in for an assignment it settles that work too.
///
/// # Errors
/// As [`teaching::review`].
pub async fn review(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewReview,
) -> Result<Released<BatchRecord>> {
    ::teaching::review(&clinic.store, &clinic.recipes, credentials, once, id, request).await
}

/// Submits a batch record. Findings never prevent a submission, so that a maker has no reason to falsify the record.
///
/// # Errors
/// As [`bench::submit`].
pub async fn submit(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &Submit,
) -> Result<Released<BatchRecord>> {
    ::bench::submit(&clinic.store, &clinic.recipes, credentials, once, id, request).await
}
