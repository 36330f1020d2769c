//! Labels: what stands on a jar.

use crate::mount::Mount;
use actix_web::web::Data;
use actix_web::{HttpRequest, get};
use clinic::{bench, safety};
use wire::ids::{BatchId, RevisionId};
use wire::label::{BatchLabelQuery, Label, LabelQuery};

use crate::answer::{self, Answer};
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    config.service(revision_label).service(batch_label);
}

/// Read the label of a revision
///
/// As it is planned: ingredients in their order, allergens, warnings by audience, directions, storage, the use-by date
/// for a day of making, each with where it comes from. Without amounts and method, so open to every member of the
/// library without acknowledging. With an area it says what finds no room; nothing is left out.
#[utoipa::path(tag = "labels", params(("id" = RevisionId, Path, description = "The revision"), LabelQuery),
    responses((status = 200, body = Label)))]
#[get("/v1/revisions/{id}/label")]
async fn revision_label(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    query: Query<LabelQuery>,
) -> Answer {
    answer::read(&request, &safety::label(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// Read the label of a batch
///
/// With its number and day of making, and of what was weighed once every line was. For whoever may read the record.
#[utoipa::path(tag = "labels", params(("id" = BatchId, Path, description = "The batch"), BatchLabelQuery),
    responses((status = 200, body = Label)))]
#[get("/v1/batches/{id}/label")]
async fn batch_label(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    query: Query<BatchLabelQuery>,
) -> Answer {
    answer::read(&request, &bench::label(&state.clinic, &caller.0, id.0, &query.0).await?)
}
