//! Work that takes days or weeks: pauses of a batch in the making, and when it is looked at meanwhile.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::long_work;
use wire::ids::BatchId;
use wire::long_work::{DueWork, LongWork, NewLookPlan, NewPause};
use wire::page::{Page, PageQuery};

use crate::answer::{self, Answer};
use crate::body::{Create, Key};
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, work_due, long_work, batch_pause, batch_resume, look_plan);
}

/// List your batches that are to be looked at or taken up again
///
/// Today or before, those that are due longest first. A batch is looked at by its plan, and taken up again on the last day of
/// its pause. An entry that tells what was seen of it, or that takes it up again, ends that.
#[utoipa::path(get, path = "/v1/long-work",
    tag = "batches", params(PageQuery), responses((status = 200, body = Page<DueWork>)))]
async fn work_due(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &long_work::due(&state.clinic, &caller.0, &query.0).await?)
}

/// Read the pauses of a batch, and when it is looked at
#[utoipa::path(get, path = "/v1/batches/{id}/long-work",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = LongWork)))]
async fn long_work(request: HttpRequest, state: Data<ApiState>, caller: Caller, id: Path<BatchId>) -> Answer {
    answer::read(&request, &long_work::of_batch(&state.clinic, &caller.0, id.0).await?)
}

/// Pause a batch that is being made
///
/// By its maker, until a day. Until it is taken up again it accepts observations, deviations and corrections, and nothing that
/// goes on with it. While it macerates, dries or settles, the time counts for a step that must last; while its maker is
/// interrupted, it counts for none.
#[utoipa::path(post, path = "/v1/batches/{id}/pauses",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewPause, responses((status = 201, body = LongWork)))]
async fn batch_pause(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewPause>,
) -> Answer {
    let paused = long_work::pause(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/long-work", id.0), &paused)
}

/// Take a paused batch up again
///
/// By its maker, on any day.
#[utoipa::path(post, path = "/v1/batches/{id}/resumptions",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 201, body = LongWork)))]
async fn batch_resume(state: Data<ApiState>, caller: Caller, id: Path<BatchId>, key: Key) -> Answer {
    let resumed = long_work::resume(&state.clinic, &caller.0, &key.0, id.0).await?;
    answer::created(&format!("/v1/batches/{}/long-work", id.0), &resumed)
}

/// Plan when a batch is looked at while it is being made
///
/// By its maker, every so many days until a day. The last plan binds. An entry of the kind `observation`, `appearance`, `smell`
/// or `separation` tells what was seen, and the next day follows from it.
#[utoipa::path(post, path = "/v1/batches/{id}/look-plans",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewLookPlan, responses((status = 201, body = LongWork)))]
async fn look_plan(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewLookPlan>,
) -> Answer {
    let planned = long_work::plan_looks(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/long-work", id.0), &planned)
}
