//! Cautions, acknowledgements, and the recipes that an acknowledgement releases.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::{Reader, formulary, recipes};
use wire::ids::{AcknowledgementId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::recipe::{CompositionQuery, Evaluation, ExplainQuery, MakeFor, Recipe};
use wire::safety::{Acknowledge, Acknowledgement, AudienceAnswer, AudienceQuery, CautionChanges, CautionSet};

use crate::answer::{self, Answer};
use crate::body::{Create, Key};
use crate::caller::Caller;
use crate::params::{Explained, Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        recipe_view,
        caution_list,
        caution_changes,
        suitability_view,
        acknowledgement_create,
        acknowledgement_list,
        acknowledgement_view,
        countersignature_create,
        countersignature_list,
        evaluation_view
    );
}

/// Read the cautions of a revision
///
/// For every member of the library. The author of a draft reads the set that it would be proposed with now, computed
/// from the revisions that it was last saved with. That set cannot be acknowledged.
#[utoipa::path(get, path = "/v1/revisions/{id}/cautions",
    tag = "recipes", params(("id" = RevisionId, Path, description = "The revision")),
    responses((status = 200, body = CautionSet)))]
async fn caution_list(
    request: HttpRequest,
    state: Data<ApiState>,
    reader: Data<Reader>,
    caller: Caller,
    id: Path<RevisionId>,
) -> Answer {
    answer::ready(&request, &formulary::current_cautions(&state.clinic, &reader, &caller.0, id.0).await?)
}

/// Read what changed in the cautions since you acknowledged them
///
/// Compares the current set with the one that you acknowledged last of this revision, if its time still runs: what is
/// new, and what is stronger, reworded or meant for more people. An acknowledgement may then leave out the keys of the
/// contraindications that stand unchanged; it still names the digest of the whole set.
#[utoipa::path(get, path = "/v1/revisions/{id}/cautions/changes",
    tag = "recipes", params(("id" = RevisionId, Path, description = "The revision")),
    responses((status = 200, body = CautionChanges)))]
async fn caution_changes(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
) -> Answer {
    answer::read(&request, &formulary::caution_changes(&state.clinic, &caller.0, id.0).await?)
}

/// Read the cautions for one audience
///
/// For a pregnancy, an age, an allergy or a condition: the gravest of stop, not suitable, ask first, not known (with what
/// is missing), suitable with care, and nothing known against it, with the cautions that it follows from and what was
/// looked at. This is not a diagnosis. For every member of the library, and the author of a draft.
#[utoipa::path(get, path = "/v1/revisions/{id}/suitability",
    tag = "recipes",
    params(("id" = RevisionId, Path, description = "The revision"), AudienceQuery),
    responses((status = 200, body = AudienceAnswer)))]
async fn suitability_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    query: Query<AudienceQuery>,
) -> Answer {
    answer::read(&request, &formulary::suitability(&state.clinic, &caller.0, id.0, &query.0.audience).await?)
}

/// Acknowledge the cautions of a revision
///
/// Names the caution set by its digest and every contraindication by its key. A person acknowledges for themselves, or
/// for an API client that they are responsible for. A client with the scope `acknowledge` does so on that person's
/// authority.
#[utoipa::path(post, path = "/v1/revisions/{id}/acknowledgements",
    tag = "recipes", params(("id" = RevisionId, Path, description = "The revision")),
    request_body = Acknowledge, responses((status = 201, body = Acknowledgement)))]
async fn acknowledgement_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    create: Create<Acknowledge>,
) -> Answer {
    let made = formulary::acknowledge(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/acknowledgements/{}", made.id), &made)
}

/// List your acknowledgements
///
/// Oldest first, with the texts as they were shown.
#[utoipa::path(get, path = "/v1/acknowledgements",
    tag = "recipes", params(PageQuery), responses((status = 200, body = Page<Acknowledgement>)))]
async fn acknowledgement_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &formulary::acknowledgements(&state.clinic, &caller.0, &query.0).await?)
}

/// Read one of your acknowledgements
#[utoipa::path(get, path = "/v1/acknowledgements/{id}",
    tag = "recipes", params(("id" = AcknowledgementId, Path, description = "The acknowledgement")),
    responses((status = 200, body = Acknowledgement)))]
async fn acknowledgement_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AcknowledgementId>,
) -> Answer {
    answer::read(&request, &formulary::acknowledgement(&state.clinic, &caller.0, id.0).await?)
}

/// Countersign an acknowledgement
///
/// A recipe for certain audiences, named by the policy, is released only after a second signature. For instructors of
/// the library who have acknowledged the same cautions. Releases the recipe to the holder.
#[utoipa::path(post, path = "/v1/acknowledgements/{id}/countersignature",
    tag = "recipes", params(("id" = AcknowledgementId, Path, description = "The acknowledgement")),
    responses((status = 201, body = Acknowledgement)))]
async fn countersignature_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AcknowledgementId>,
    key: Key,
) -> Answer {
    let signed = formulary::countersign(&state.clinic, &caller.0, &key.0, id.0).await?;
    answer::created(&format!("/v1/acknowledgements/{}", signed.id), &signed)
}

/// List acknowledgements awaiting a countersignature
///
/// Those of others in your libraries, oldest first.
#[utoipa::path(get, path = "/v1/countersignatures/awaited",
    tag = "recipes", params(PageQuery), responses((status = 200, body = Page<Acknowledgement>)))]
async fn countersignature_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &formulary::awaited(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a recipe
///
/// Scaled to a quantity. With `explain=true` every figure states its rule, its inputs and their sources. Only for users who have acknowledged the current
/// cautions; the problem `gate-closed` lists them. API clients need the scope `recipes:read`.
#[utoipa::path(get, path = "/v1/revisions/{id}/recipe",
    tag = "recipes", params(("id" = RevisionId, Path, description = "The revision"), MakeFor, ExplainQuery),
    responses((status = 200, body = Recipe)))]
async fn recipe_view(
    request: HttpRequest,
    state: Data<ApiState>,
    reader: Data<Reader>,
    caller: Caller,
    id: Path<RevisionId>,
    asked: Explained<MakeFor>,
) -> Answer {
    let Explained { detail, query } = asked;
    let recipe = recipes::recipe(&state.clinic, &reader, &caller.0, id.0, &query, detail).await?;
    answer::released(&request, &recipe)
}

/// Read the evaluation of a revision
///
/// Down to single materials, through every level of nesting. The cautions of every nested revision must be acknowledged
/// as well.
#[utoipa::path(get, path = "/v1/revisions/{id}/evaluation",
    tag = "recipes",
    params(("id" = RevisionId, Path, description = "The revision"), CompositionQuery, ExplainQuery),
    responses((status = 200, body = Evaluation)))]
async fn evaluation_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    asked: Explained<CompositionQuery>,
) -> Answer {
    let Explained { detail, query } = asked;
    let evaluation = recipes::evaluation(&state.clinic, &caller.0, id.0, query.composition, detail).await?;
    answer::read_large(&request, evaluation).await
}
