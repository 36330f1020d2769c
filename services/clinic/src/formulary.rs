//! Libraries, formulas, revisions, their cautions and acknowledgements.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use std::sync::Arc;

use chrono::NaiveDate;
use judgement::figures::Detail;
use release::Released;
use store::Credentials;
use store::IdempotencyKey;
use store::Ready;
use store::Result;
use store::Versioned;
use store::page::ReadyPage;
use wire::calculations::use_by::UseByAnswer;
use wire::formulary::Decide;
use wire::formulary::Formula;
use wire::formulary::FormulaContent;
use wire::formulary::Library;
use wire::formulary::Member;
use wire::formulary::NewLibrary;
use wire::formulary::Revision;
use wire::formulary::Withdraw;
use wire::ids::AcknowledgementId;
use wire::ids::FormulaId;
use wire::ids::HolderId;
use wire::ids::LibraryId;
use wire::ids::RevisionId;
use wire::page::Page;
use wire::page::PageQuery;
use wire::recipe::CompositionBasis;
use wire::recipe::Evaluate;
use wire::recipe::Evaluation;
use wire::safety::Acknowledge;
use wire::safety::Acknowledgement;
use wire::safety::CautionChanges;
use wire::safety::CautionSet;
use wire::safety::{AudienceAnswer, AudienceSuits};
use wire::self_check::{NewSelfCheck, SelfCheck};

use crate::{Clinic, Reader};

pub use ::formulary::{FormulaQuery, typed};

/// Acknowledges the current caution set of a revision. This creates a grant, unless a countersignature is required
/// first.
///
/// # Errors
/// As [`formulary::acknowledge`].
pub async fn acknowledge(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: RevisionId,
    request: &Acknowledge,
) -> Result<Acknowledgement> {
    ::formulary::acknowledge(&clinic.store, credentials, once, id, request).await
}

/// One of the caller's acknowledgements, with the cautions as they were acknowledged.
///
/// # Errors
/// As [`formulary::acknowledgement`].
pub async fn acknowledgement(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AcknowledgementId,
) -> Result<Acknowledgement> {
    ::formulary::acknowledgement(&clinic.store, credentials, id).await
}

/// The caller's acknowledgements, the oldest first.
///
/// # Errors
/// As [`formulary::acknowledgements`].
pub async fn acknowledgements(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<Acknowledgement>> {
    ::formulary::acknowledgements(&clinic.store, credentials, query).await
}

/// The current caution set of a revision, or the one that its author's draft would be proposed with now. Everybody who
/// may see the revision may read it.
///
/// # Errors
/// As [`formulary::cautions`].
pub async fn cautions(clinic: &Clinic, credentials: &Credentials, id: RevisionId) -> Result<CautionSet> {
    ::formulary::cautions(&clinic.store, credentials, id).await
}

/// What changed in the caution set of a revision since the caller acknowledged one of it.
///
/// # Errors
/// As [`formulary::changes`].
pub async fn caution_changes(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<CautionChanges> {
    ::formulary::changes(&clinic.store, credentials, id).await
}

/// As [`cautions`], as the bytes to be sent. Cost: a share of one statement, once the set is in memory.
///
/// # Errors
/// As [`formulary::current_cautions`].
pub async fn current_cautions(
    clinic: &Clinic,
    reader: &Reader,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<Ready> {
    ::formulary::current_cautions(&clinic.store, &clinic.cautions, &reader.cautions, credentials, id).await
}

/// Countersigns an acknowledgement, which creates its grant. The caller must be an instructor of the library who holds
/// a grant for the revision.
///
/// # Errors
/// As [`formulary::countersign`].
pub async fn countersign(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AcknowledgementId,
) -> Result<Acknowledgement> {
    ::formulary::countersign(&clinic.store, credentials, once, id).await
}

/// Acknowledgements in the caller's libraries that await a countersignature, the oldest first.
///
/// # Errors
/// As [`formulary::awaited`].
pub async fn awaited(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<Acknowledgement>> {
    ::formulary::awaited(&clinic.store, credentials, query).await
}

/// Proposes a draft: freezes its content, and stores its digest and its first caution set.
///
/// # Errors
/// As [`formulary::propose`].
pub async fn propose(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    version: i64,
) -> Result<Versioned<Revision>> {
    ::formulary::propose(&clinic.store, credentials, id, version).await
}

/// Returns or approves a proposed revision. The caller must hold a grant for it, which requires acknowledging its
/// cautions.
///
/// # Errors
/// As [`formulary::decide`].
pub async fn decide(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    request: &Decide,
) -> Result<Versioned<Revision>> {
    ::formulary::decide(&clinic.store, credentials, id, request).await
}

/// Withdraws an approved revision. Deletes the grants for it and for all revisions that contain it in the same
/// transaction.
///
/// # Errors
/// As [`formulary::withdraw`].
pub async fn withdraw(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    request: &Withdraw,
) -> Result<Versioned<Revision>> {
    ::formulary::withdraw(&clinic.store, credentials, id, request).await
}

/// The content of the caller's own draft, as entered.
///
/// # Errors
/// As [`formulary::draft`].
pub async fn draft(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<Versioned<Released<FormulaContent>>> {
    ::formulary::draft(&clinic.store, credentials, id).await
}

/// Replaces the content of the caller's own draft.
///
/// # Errors
/// As [`formulary::draft_change`].
pub async fn draft_change(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    version: i64,
    content: &FormulaContent,
) -> Result<Versioned<Released<FormulaContent>>> {
    ::formulary::draft_change(&clinic.store, credentials, id, version, content).await
}

/// The evaluation of the caller's own draft.
///
/// # Errors
/// As [`formulary::draft_evaluation`].
pub async fn draft_evaluation(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    basis: CompositionBasis,
    detail: Detail,
) -> Result<Released<Evaluation>> {
    ::formulary::draft_evaluation(&clinic.store, credentials, id, basis, detail).await
}

/// Evaluates a formula without storing it.
///
/// # Errors
/// As [`formulary::evaluate`].
pub async fn evaluate(
    clinic: &Clinic,
    credentials: &Credentials,
    request: &Evaluate,
    detail: Detail,
) -> Result<Released<Evaluation>> {
    ::formulary::evaluate(&clinic.store, credentials, request, detail).await
}

/// Evaluates a formula without storing it, with the use-by date of what would be made on `made_on`.
///
/// # Errors
/// As [`formulary::evaluate_dated`].
pub async fn evaluate_dated(
    clinic: &Clinic,
    credentials: &Credentials,
    request: &Evaluate,
    made_on: NaiveDate,
    detail: Detail,
) -> Result<Released<(Evaluation, UseByAnswer)>> {
    ::formulary::evaluate_dated(&clinic.store, credentials, request, made_on, detail).await
}

/// The formulas of the caller's libraries, by title. Cost: a share of one statement, which reads one page from each of
/// these libraries and merges them; it grows neither with depth nor with the number of formulas. A search is a transaction
/// of its own, whose cost [`formulary::search_formulas`] states.
///
/// # Errors
/// As [`formulary::formulas`] and [`formulary::search_formulas`].
pub async fn formulas(
    reader: &Reader,
    credentials: &Credentials,
    query: &FormulaQuery,
) -> Result<Arc<ReadyPage>> {
    if query.is_search() {
        let found = ::formulary::search_formulas(&reader.store, credentials, query).await?;
        return Ok(Arc::new(ReadyPage::new(found)?));
    }
    ::formulary::formulas(&reader.formulas, credentials, query).await
}

/// One formula with its revisions. Cost: a share of one statement.
///
/// # Errors
/// As [`formulary::formula`].
pub async fn formula(reader: &Reader, credentials: &Credentials, id: FormulaId) -> Result<Formula> {
    ::formulary::formula(&reader.formula, credentials, id).await
}

/// Adds a formula to a library, with its first draft.
///
/// # Errors
/// As [`formulary::formula_create`].
pub async fn formula_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    library: LibraryId,
    content: &FormulaContent,
) -> Result<Formula> {
    ::formulary::formula_create(&clinic.store, credentials, once, library, content).await
}

/// Starts a further revision of a formula.
///
/// # Errors
/// As [`formulary::revision_create`].
pub async fn revision_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: FormulaId,
    content: &FormulaContent,
) -> Result<Versioned<wire::formulary::Revision>> {
    ::formulary::revision_create(&clinic.store, credentials, once, id, content).await
}

/// Creates a library; its creator becomes the first member.
///
/// # Errors
/// As [`formulary::library_create`].
pub async fn library_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewLibrary,
) -> Result<Versioned<Library>> {
    ::formulary::library_create(&clinic.store, credentials, once, request).await
}

/// Changes the name and description of a library.
///
/// # Errors
/// As [`formulary::library_change`].
pub async fn library_change(
    clinic: &Clinic,
    credentials: &Credentials,
    id: LibraryId,
    version: i64,
    request: &NewLibrary,
) -> Result<Versioned<Library>> {
    ::formulary::library_change(&clinic.store, credentials, id, version, request).await
}

/// One library.
///
/// # Errors
/// As [`formulary::library`].
pub async fn library(
    clinic: &Clinic,
    credentials: &Credentials,
    id: LibraryId,
) -> Result<Versioned<Library>> {
    ::formulary::library(&clinic.store, credentials, id).await
}

/// The caller's libraries by name, or all libraries for an administrator.
///
/// # Errors
/// As [`formulary::libraries`].
pub async fn libraries(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<Library>> {
    ::formulary::libraries(&clinic.store, credentials, query).await
}

/// The members of a library, in the order in which their accounts were created.
///
/// # Errors
/// As [`formulary::members`].
pub async fn members(
    clinic: &Clinic,
    credentials: &Credentials,
    id: LibraryId,
    query: &PageQuery,
) -> Result<Page<Member>> {
    ::formulary::members(&clinic.store, credentials, id, query).await
}

/// Adds a person or an API client to a library. Does nothing for a member.
///
/// # Errors
/// As [`formulary::member_add`].
pub async fn member_add(
    clinic: &Clinic,
    credentials: &Credentials,
    id: LibraryId,
    holder: HolderId,
) -> Result<()> {
    ::formulary::member_add(&clinic.store, credentials, id, holder).await
}

/// Ends a membership, and deletes the holder's grants for the library in the same transaction.
///
/// # Errors
/// As [`formulary::member_remove`].
pub async fn member_remove(
    clinic: &Clinic,
    credentials: &Credentials,
    id: LibraryId,
    holder: HolderId,
) -> Result<()> {
    ::formulary::member_remove(&clinic.store, credentials, id, holder).await
}

/// The open part of a revision.
///
/// # Errors
/// As [`formulary::revision`].
pub async fn revision(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<Versioned<Revision>> {
    ::formulary::revision(&clinic.store, credentials, id).await
}

/// The suitability of a revision for one audience, with the cautions it follows from.
///
/// # Errors
/// As [`formulary::suitability`].
pub async fn suitability(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    audience: &str,
) -> Result<AudienceAnswer> {
    ::formulary::suitability(&clinic.store, credentials, id, audience).await
}

/// What the cautions of a revision say to its maker. The answers are kept nowhere.
///
/// # Errors
/// As [`formulary::self_check`].
pub async fn self_check(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    request: &NewSelfCheck,
) -> Result<SelfCheck> {
    ::formulary::self_check(&clinic.store, credentials, id, request).await
}

/// What a maker can answer: each word, with the name that an allergy has.
#[must_use]
pub fn self_check_choices(clinic: &Clinic) -> Vec<(String, Option<String>)> {
    ::formulary::self_check_choices(&clinic.store.reference)
}

/// The answers of several approved revisions for several groups of people.
///
/// # Errors
/// As [`formulary::suiting`].
pub async fn suiting(
    clinic: &Clinic,
    credentials: &Credentials,
    revisions: &[RevisionId],
    groups: &[String],
) -> Result<Vec<(RevisionId, Vec<AudienceSuits>)>> {
    ::formulary::suiting(&clinic.store, credentials, revisions, groups).await
}
