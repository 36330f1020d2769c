//! What is seen of batches in their retained samples, and earlier last days.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::observations;
use wire::ids::BatchId;
use wire::observations::{DueObservation, NewObservation, NewShortening, Observations};
use wire::page::{Page, PageQuery};

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, observation_due, observation_list, observation_create, batch_shorten);
}

/// List the batches whose samples are to be looked at
///
/// Today or before, those that are due longest first: the caller's own, and for instructors all of the libraries they are
/// members of. Samples are looked at one day and one week after they were put aside, and then every month up to the last day of
/// the batch.
#[utoipa::path(get, path = "/v1/observations",
    tag = "batches", params(PageQuery), responses((status = 200, body = Page<DueObservation>)))]
async fn observation_due(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    let found = observations::due(&state.clinic, &caller.0, &query.0).await?;
    answer::page(&request, &found)
}

/// List the observations of a batch
///
/// With the jars that are kept as samples, the day of the next observation, the last day that binds, and how that was brought
/// forward.
#[utoipa::path(get, path = "/v1/batches/{id}/observations",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = Observations)))]
async fn observation_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
) -> Answer {
    answer::read(&request, &observations::of_batch(&state.clinic, &caller.0, id.0).await?)
}

/// Write an observation of a batch down
///
/// What was seen or smelled in one of its jars today, or that nothing had changed. It stays: a correction names it and
/// says why, and both are told.
#[utoipa::path(post, path = "/v1/batches/{id}/observations",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewObservation, responses((status = 201, body = Observations)))]
async fn observation_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewObservation>,
) -> Answer {
    let seen = observations::observe(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/observations", id.0), &seen)
}

/// Bring the last day of a batch forward
///
/// By an instructor, after an observation, with the reason. The earlier day binds from then on: on the pages and labels of its
/// jars, for its lots on the shelf, and when a jar is handed out. It is never put off again.
#[utoipa::path(post, path = "/v1/batches/{id}/shortenings",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewShortening, responses((status = 201, body = Observations)))]
async fn batch_shorten(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewShortening>,
) -> Answer {
    let shortened = observations::shorten(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/observations", id.0), &shortened)
}
