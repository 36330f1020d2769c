//! Phrases that instructors keep for their comments.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
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
    operations!(config, phrases, phrase_create, phrase_remove);
}

/// List the phrases that you keep
///
/// The oldest first, 50 at most. Nobody else sees them. For instructors.
#[utoipa::path(get, path = "/v1/phrases",
    tag = "teaching", params(PageQuery), responses((status = 200, body = Page<KeptPhrase>)))]
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
#[utoipa::path(post, path = "/v1/phrases",
    tag = "teaching", request_body = NewPhrase, responses((status = 201, body = KeptPhrase)))]
async fn phrase_create(state: Data<ApiState>, caller: Caller, create: Create<NewPhrase>) -> Answer {
    let made = marking::phrase_create(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created("/v1/phrases", &made)
}

/// Remove a phrase that you keep
///
/// Comments in which it was used stay as they are.
#[utoipa::path(delete, path = "/v1/phrases/{id}",
    tag = "teaching", params(("id" = PhraseId, Path, description = "The phrase")),
    responses((status = 204)))]
async fn phrase_remove(state: Data<ApiState>, caller: Caller, id: Path<PhraseId>) -> Answer {
    marking::phrase_remove(&state.clinic, &caller.0, id.0).await?;
    answer::done()
}
