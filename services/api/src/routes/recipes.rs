//! The gate: cautions, acknowledging them, and the recipe behind them.

use crate::mount::Mount;
use actix_web::web::Data;
use actix_web::{HttpRequest, get, post};
use clinic::{Reader, safety};
use wire::ids::{AcknowledgementId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::recipe::{Evaluation, MakeFor, Recipe};
use wire::safety::{Acknowledge, Acknowledgement, AudienceAnswer, AudienceQuery, CautionSet};

use crate::answer::{self, Answer};
use crate::body::{Create, Key};
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    config
        .service(recipe_view)
        .service(caution_list)
        .service(suitability_view)
        .service(acknowledgement_create)
        .service(acknowledgement_list)
        .service(acknowledgement_view)
        .service(countersignature_create)
        .service(countersignature_list)
        .service(evaluation_view);
}

/// Read the cautions of a revision
///
/// Open to every member of the library. The author of a draft reads what it would be proposed with now, made from
/// the revisions that it was last saved with; such a set cannot be acknowledged yet.
#[utoipa::path(tag = "recipes", params(("id" = RevisionId, Path, description = "The revision")),
    responses((status = 200, body = CautionSet)))]
#[get("/v1/revisions/{id}/cautions")]
async fn caution_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
) -> Answer {
    answer::read(&request, &safety::cautions(&state.clinic, &caller.0, id.0).await?)
}

/// Ask for whom a revision is meant
///
/// What the recorded cautions say about one audience: a pregnancy, an age, an allergy, a condition. It is no diagnosis,
/// and nothing recorded is not the same as safe. Open to every member of the library, and to the author of a draft.
#[utoipa::path(tag = "recipes",
    params(("id" = RevisionId, Path, description = "The revision"), AudienceQuery),
    responses((status = 200, body = AudienceAnswer)))]
#[get("/v1/revisions/{id}/suitability")]
async fn suitability_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    query: Query<AudienceQuery>,
) -> Answer {
    answer::read(&request, &safety::suitability(&state.clinic, &caller.0, id.0, &query.0.audience).await?)
}

/// Acknowledge the cautions of a revision
///
/// Names the set that was read by its digest, and every contraindication by its key. A person acknowledges for
/// themselves, or for an API client they answer for; a client with the scope `acknowledge` on that person's authority.
#[utoipa::path(tag = "recipes", params(("id" = RevisionId, Path, description = "The revision")),
    request_body = Acknowledge, responses((status = 201, body = Acknowledgement)))]
#[post("/v1/revisions/{id}/acknowledgements")]
async fn acknowledgement_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    create: Create<Acknowledge>,
) -> Answer {
    let made = safety::acknowledge(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/acknowledgements/{}", made.id), &made)
}

/// List your acknowledgements
///
/// With the texts as they were shown, oldest first.
#[utoipa::path(tag = "recipes", params(PageQuery), responses((status = 200, body = Page<Acknowledgement>)))]
#[get("/v1/acknowledgements")]
async fn acknowledgement_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &safety::acknowledgements(&state.clinic, &caller.0, &query.0).await?)
}

/// Look at one of your acknowledgements
#[utoipa::path(tag = "recipes", params(("id" = AcknowledgementId, Path, description = "The acknowledgement")),
    responses((status = 200, body = Acknowledgement)))]
#[get("/v1/acknowledgements/{id}")]
async fn acknowledgement_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AcknowledgementId>,
) -> Answer {
    answer::read(&request, &safety::acknowledgement(&state.clinic, &caller.0, id.0).await?)
}

/// Countersign an acknowledgement
///
/// Some people need an instructor's signature beside the maker's before a recipe is released for them. By an instructor
/// of the library who has acknowledged the same cautions; opens the recipe to its holder.
#[utoipa::path(tag = "recipes", params(("id" = AcknowledgementId, Path, description = "The acknowledgement")),
    responses((status = 201, body = Acknowledgement)))]
#[post("/v1/acknowledgements/{id}/countersignature")]
async fn countersignature_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AcknowledgementId>,
    key: Key,
) -> Answer {
    let signed = safety::countersign(&state.clinic, &caller.0, &key.0, id.0).await?;
    answer::created(&format!("/v1/acknowledgements/{}", signed.id), &signed)
}

/// List what waits for a countersignature
///
/// Acknowledgements of others in your libraries, oldest first.
#[utoipa::path(tag = "recipes", params(PageQuery), responses((status = 200, body = Page<Acknowledgement>)))]
#[get("/v1/countersignatures/awaited")]
async fn countersignature_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &safety::awaited(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a recipe
///
/// Worked out for a quantity, every figure explaining itself. Opens to whoever has acknowledged the current cautions;
/// otherwise the answer is the problem `gate-closed`, which lists them. Needs the scope `recipes:read` of an API client.
#[utoipa::path(tag = "recipes", params(("id" = RevisionId, Path, description = "The revision"), MakeFor),
    responses((status = 200, body = Recipe)))]
#[get("/v1/revisions/{id}/recipe")]
async fn recipe_view(
    request: HttpRequest,
    state: Data<ApiState>,
    reader: Data<Reader>,
    caller: Caller,
    id: Path<RevisionId>,
    query: Query<MakeFor>,
) -> Answer {
    answer::recipe(&request, &safety::recipe(&state.clinic, &reader, &caller.0, id.0, &query.0).await?)
}

/// Read how a revision comes out
///
/// Leaf by leaf, through every level of nesting; the cautions of every nested revision must have been acknowledged too.
#[utoipa::path(tag = "recipes", params(("id" = RevisionId, Path, description = "The revision")),
    responses((status = 200, body = Evaluation)))]
#[get("/v1/revisions/{id}/evaluation")]
async fn evaluation_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
) -> Answer {
    answer::read(&request, &safety::evaluation(&state.clinic, &caller.0, id.0).await?)
}
