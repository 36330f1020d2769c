//! Released recipes, evaluations and labels.
//!
//! Each function is one request: one transaction, whose first statement proves the caller.

use ::recipes::ReadBatcher;
use release::Released;
use release::ReleasedRecipe;
use store::Claim;
use store::Result;
use wire::formulary::RevisionComment;
use wire::ids::RevisionId;
use wire::label::Label;
use wire::label::LabelQuery;
use wire::recipe::Evaluation;
use wire::recipe::MakeFor;

use crate::Clinic;

/// How a frozen revision comes out, leaf by leaf. Needs a grant for every revision nested in it, since the leaves tell
/// their amounts too.
///
/// # Errors
/// As [`recipes::evaluation`].
pub async fn evaluation(clinic: &Clinic, claim: &Claim, id: RevisionId) -> Result<Released<Evaluation>> {
    ::recipes::evaluation(&clinic.store, &clinic.recipes, claim, id).await
}

/// The label of a revision as it is planned.
///
/// # Errors
/// As [`recipes::label::label`].
pub async fn label(clinic: &Clinic, claim: &Claim, id: RevisionId, query: &LabelQuery) -> Result<Label> {
    ::recipes::label::label(&clinic.store, &clinic.recipes, claim, id, query).await
}

/// The recipe of a revision, worked out for a quantity: by a grant to make, or one to decide.
///
/// # Errors
/// As [`recipes::recipe`].
pub async fn recipe(
    clinic: &Clinic,
    reader: &ReadBatcher,
    claim: &Claim,
    id: RevisionId,
    ask: &MakeFor,
) -> Result<ReleasedRecipe> {
    ::recipes::recipe(&clinic.store, &clinic.recipes, reader, claim, id, ask).await
}

/// The comments given with decisions about a revision.
///
/// # Errors
/// As [`recipes::comments`].
pub async fn comments(
    clinic: &Clinic,
    claim: &Claim,
    id: RevisionId,
) -> Result<Released<Vec<RevisionComment>>> {
    ::recipes::comments(&clinic.store, claim, id).await
}
