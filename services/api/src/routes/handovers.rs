//! Handing a batch over to another maker.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::handovers;
use wire::handovers::{Handover, Handovers, NewHandover, NewHandoverAnswer};
use wire::ids::{BatchId, HandoverId};
use wire::page::{Page, PageQuery};

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, handover_list, handover, handover_answer, batch_handovers, handover_create);
}

/// List the batches that are offered to you
///
/// Those that wait for an answer, the first offer first.
#[utoipa::path(get, path = "/v1/handovers",
    tag = "batches", params(PageQuery), responses((status = 200, body = Page<Handover>)))]
async fn handover_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &handovers::offered(&state.clinic, &caller.0, &query.0).await?)
}

/// Read an offer of a batch
///
/// For whoever has the batch, whoever offered it, and whom it is offered to.
#[utoipa::path(get, path = "/v1/handovers/{id}",
    tag = "batches", params(("id" = HandoverId, Path, description = "The offer")),
    responses((status = 200, body = Handover)))]
async fn handover(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<HandoverId>,
) -> Answer {
    answer::read(&request, &handovers::handover(&state.clinic, &caller.0, id.0).await?)
}

/// Answer an offer of a batch
///
/// Accepted or declined by the person whom it is offered to, who may make its formula; withdrawn by the others. Whoever accepts
/// it has the batch from then on and writes its entries; whoever had it reads its record. Both made it: neither reviews,
/// releases or signs anything of it.
#[utoipa::path(post, path = "/v1/handovers/{id}/answer",
    tag = "batches", params(("id" = HandoverId, Path, description = "The offer")),
    request_body = NewHandoverAnswer, responses((status = 201, body = Handover)))]
async fn handover_answer(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<HandoverId>,
    create: Create<NewHandoverAnswer>,
) -> Answer {
    let answered = handovers::answer(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/handovers/{}", id.0), &answered)
}

/// Read who has a batch and who had it
///
/// With every offer of it. Whoever may offer it also reads who could take it.
#[utoipa::path(get, path = "/v1/batches/{id}/handovers",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = Handovers)))]
async fn batch_handovers(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
) -> Answer {
    answer::read(&request, &handovers::of_batch(&state.clinic, &caller.0, id.0).await?)
}

/// Offer a batch to another maker
///
/// By the person who has it, or by an instructor for somebody who is absent, while it is planned, making or returned. A batch
/// that counts for an assignment stays with its student.
#[utoipa::path(post, path = "/v1/batches/{id}/handovers",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewHandover, responses((status = 201, body = Handovers)))]
async fn handover_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewHandover>,
) -> Answer {
    let offered = handovers::offer(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/handovers", id.0), &offered)
}
