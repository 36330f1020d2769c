//! Phrases that instructors keep for their comments.

use crate::mount::Mount;
use actix_web::web::Data;
use actix_web::{HttpRequest, delete, get, post};
use clinic::marking;
use wire::ids::PhraseId;
use wire::page::{Page, PageQuery};
use wire::teaching::{KeptPhrase, NewPhrase};

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    config.service(phrases).service(phrase_create).service(phrase_remove);
}

/// List the phrases that you keep
///
/// The oldest first, 50 at most. Nobody else sees them. For instructors.
#[utoipa::path(tag = "teaching", params(PageQuery), responses((status = 200, body = Page<KeptPhrase>)))]
#[get("/v1/phrases")]
async fn phrases(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &marking::phrases(&state.clinic, &caller.0, &query.0).await?)
}

/// Keep a phrase for comments
///
/// The same words again are the phrase that you keep already. For instructors.
#[utoipa::path(tag = "teaching", request_body = NewPhrase, responses((status = 201, body = KeptPhrase)))]
#[post("/v1/phrases")]
async fn phrase_create(state: Data<ApiState>, caller: Caller, create: Create<NewPhrase>) -> Answer {
    let made = marking::phrase_create(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created("/v1/phrases", &made)
}

/// Remove a phrase that you keep
///
/// Comments in which it was used stay as they are.
#[utoipa::path(tag = "teaching", params(("id" = PhraseId, Path, description = "The phrase")),
    responses((status = 204)))]
#[delete("/v1/phrases/{id}")]
async fn phrase_remove(state: Data<ApiState>, caller: Caller, id: Path<PhraseId>) -> Answer {
    marking::phrase_remove(&state.clinic, &caller.0, id.0).await?;
    answer::done()
}
