//! Released recipes, evaluations and labels.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use judgement::figures::Detail;
use release::Released;
use release::ReleasedRecipe;
use store::Credentials;
use store::Result;
use wire::formulary::RevisionComment;
use wire::ids::RevisionId;
use wire::label::Label;
use wire::label::LabelQuery;
use wire::recipe::CompositionBasis;
use wire::recipe::Evaluation;
use wire::recipe::MakeFor;

use crate::{Clinic, Reader};

/// The evaluation of a frozen revision. Requires a grant for every revision nested in it, because the shares of the
/// leaves reveal their amounts.
///
/// # Errors
/// As [`recipes::evaluation`].
pub async fn evaluation(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    basis: CompositionBasis,
    detail: Detail,
) -> Result<Released<Evaluation>> {
    ::recipes::evaluation(&clinic.store, &clinic.recipes, credentials, id, basis, detail).await
}

/// The label of a revision as planned.
///
/// # Errors
/// As [`recipes::label::label`].
pub async fn label(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    query: &LabelQuery,
) -> Result<Label> {
    ::recipes::label::label(&clinic.store, &clinic.recipes, credentials, id, query).await
}

/// The recipe of a revision, scaled to a quantity, for the holder of a `Make` or `Decide` grant.
///
/// Cost of a read once the revision is in memory: a share of one statement, which finds two rows by their keys for each
/// read that it gathers, and scaling the lines in memory where a quantity is asked for.
///
/// # Errors
/// As [`recipes::recipe`].
pub async fn recipe(
    clinic: &Clinic,
    reader: &Reader,
    credentials: &Credentials,
    id: RevisionId,
    ask: &MakeFor,
    detail: Detail,
) -> Result<ReleasedRecipe> {
    ::recipes::recipe(&clinic.store, &clinic.recipes, &reader.grants, credentials, id, ask, detail).await
}

/// The comments on the decisions about a revision. Its author reads them without a grant.
///
/// # Errors
/// As [`recipes::comments`].
pub async fn comments(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<Released<Vec<RevisionComment>>> {
    ::recipes::comments(&clinic.store, credentials, id).await
}
