//! Where lots and batches went, and calling them back.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::recalls;
use wire::ids::{BatchId, LotId, RecallId};
use wire::page::Page;
use wire::recalls::{
    CloseRecall, NewJarOutcomes, NewRecall, NewRecallOutcome, Recall, RecallQuery, RecallSummary, Trace,
    TraceDirection, TraceQuery,
};

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        lot_trace,
        batch_trace,
        recall_start,
        recall_list,
        recall_view,
        recall_account,
        recall_account_jars,
        recall_close
    );
}

fn address(id: RecallId) -> String {
    format!("/v1/recalls/{id}")
}

/// Trace a lot
///
/// Everything that was made of it, at any depth, or everything that it was made of. A weighing that was corrected to another
/// lot counts for that lot only. For instructors and administrators.
#[utoipa::path(get, path = "/v1/lots/{id}/trace",
    tag = "stock", params(("id" = LotId, Path, description = "The lot"), TraceQuery),
    responses((status = 200, body = Trace)))]
async fn lot_trace(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LotId>,
    query: Query<TraceQuery>,
) -> Answer {
    let direction = query.0.direction.unwrap_or(TraceDirection::Onward);
    answer::read_large(&request, recalls::lot_trace(&state.clinic, &caller.0, id.0, direction).await?).await
}

/// Trace a batch
///
/// Every lot and batch that it was made of, at any depth, or everything that was made of it. For instructors and
/// administrators.
#[utoipa::path(get, path = "/v1/batches/{id}/trace",
    tag = "stock", params(("id" = BatchId, Path, description = "The batch"), TraceQuery),
    responses((status = 200, body = Trace)))]
async fn batch_trace(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    query: Query<TraceQuery>,
) -> Answer {
    let direction = query.0.direction.unwrap_or(TraceDirection::Back);
    answer::read_large(&request, recalls::batch_trace(&state.clinic, &caller.0, id.0, direction).await?).await
}

/// Recall a lot, a batch, a formula or a material
///
/// With everything that was made of it, at once: no lot that is reached can be weighed from any more, and nothing that the
/// batches made is to be given out. It stays open until everything is accounted for. For instructors.
#[utoipa::path(post, path = "/v1/recalls",
    tag = "stock", request_body = NewRecall, responses((status = 201, body = Recall)))]
async fn recall_start(state: Data<ApiState>, caller: Caller, create: Create<NewRecall>) -> Answer {
    let started = recalls::start(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created(&address(started.summary.id), &started)
}

/// List recalls
///
/// The newest first. For instructors and administrators.
#[utoipa::path(get, path = "/v1/recalls",
    tag = "stock", params(RecallQuery), responses((status = 200, body = Page<RecallSummary>)))]
async fn recall_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<RecallQuery>,
) -> Answer {
    answer::page(&request, &recalls::recalls(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a recall
///
/// Every lot and batch that it reached, and what came of each. For instructors and administrators.
#[utoipa::path(get, path = "/v1/recalls/{id}",
    tag = "stock", params(("id" = RecallId, Path, description = "The recall")),
    responses((status = 200, body = Recall)))]
async fn recall_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RecallId>,
) -> Answer {
    answer::read_large(&request, recalls::recall(&state.clinic, &caller.0, id.0).await?).await
}

/// Account for something that was recalled
///
/// What was noted before stays, and the last counts. For instructors and administrators.
#[utoipa::path(post, path = "/v1/recalls/{id}/outcomes",
    tag = "stock", params(("id" = RecallId, Path, description = "The recall")),
    request_body = NewRecallOutcome, responses((status = 201, body = Recall)))]
async fn recall_account(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RecallId>,
    create: Create<NewRecallOutcome>,
) -> Answer {
    let recall = recalls::account(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(id.0), &recall)
}

/// Account for jars that were recalled
///
/// Of a batch that the recall reached, several at once. What was noted before stays, and the last counts. The recall names the
/// clinic's reference that a jar was handed out to, never a person. For instructors and administrators.
#[utoipa::path(post, path = "/v1/recalls/{id}/jar-outcomes",
    tag = "stock", params(("id" = RecallId, Path, description = "The recall")),
    request_body = NewJarOutcomes, responses((status = 201, body = Recall)))]
async fn recall_account_jars(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RecallId>,
    create: Create<NewJarOutcomes>,
) -> Answer {
    let recall = recalls::account_jars(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(id.0), &recall)
}

/// Close a recall
///
/// It is refused while something is not accounted for, unless a reason is given. It stays closed, and what it reached stays
/// out of use. For instructors.
#[utoipa::path(post, path = "/v1/recalls/{id}/close",
    tag = "stock", params(("id" = RecallId, Path, description = "The recall")),
    request_body = CloseRecall, responses((status = 201, body = Recall)))]
async fn recall_close(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RecallId>,
    create: Create<CloseRecall>,
) -> Answer {
    let recall = recalls::close(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(id.0), &recall)
}
