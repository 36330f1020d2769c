//! Labels. Open without acknowledgement: never with amounts or method.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::{bench, recipes};
use wire::ids::{BatchId, RevisionId};
use wire::label::{BatchLabelQuery, Label, LabelQuery};

use crate::answer::{self, Answer};
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, revision_label, batch_label);
}

/// Read the label of a revision
///
/// As planned: ingredients in order, allergens, warnings by audience, directions, storage and the use-by date for a day
/// of making, each with its origin. Holds no amounts and no method, so every member of the library may read it without
/// acknowledging. For a given label area, the response names the parts that do not fit; none is omitted.
#[utoipa::path(get, path = "/v1/revisions/{id}/label",
    tag = "labels", params(("id" = RevisionId, Path, description = "The revision"), LabelQuery),
    responses((status = 200, body = Label)))]
async fn revision_label(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    query: Query<LabelQuery>,
) -> Answer {
    answer::read(&request, &recipes::label(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// Read the label of a batch
///
/// With its number and day of making; from the weighings once every line is weighed. For users who may read the record,
/// and for API clients with the scope `labels:read` that are members of its library. An API client gets the label from
/// the weighings once the cautions of the formula, and of every nested formula, are acknowledged for it; until then the
/// label follows the approved formula and says so.
#[utoipa::path(get, path = "/v1/batches/{id}/label",
    tag = "labels", params(("id" = BatchId, Path, description = "The batch"), BatchLabelQuery),
    responses((status = 200, body = Label)))]
async fn batch_label(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    query: Query<BatchLabelQuery>,
) -> Answer {
    answer::read(&request, &bench::label(&state.clinic, &caller.0, id.0, &query.0).await?)
}
