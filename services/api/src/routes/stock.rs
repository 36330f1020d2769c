//! Lots, their ledger, and what is left of each material.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::stock;
use wire::ids::{LotId, MaterialId};
use wire::page::{Page, PageQuery};
use wire::stock::{
    Lot, LotMovement, LotQuery, LotReason, LotSummary, MaterialStock, NewCount, NewIdentityCheck, NewLot,
    NewThreshold, StockQuery, Threshold,
};

use crate::answer::{self, Answer};
use crate::body::{Body, Create};
use crate::caller::Caller;
use crate::params::{IfMatch, Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        lot_receive,
        lot_list,
        lot_view,
        lot_movement_list,
        lot_identity_check,
        lot_quarantine,
        lot_discard,
        lot_count,
        stock_list,
        threshold_view,
        threshold_change
    );
}

fn address(id: LotId) -> String {
    format!("/v1/lots/{id}")
}

/// Receive a lot
///
/// It waits in quarantine until an instructor has confirmed its identity. The answer names the plants that are mistaken for
/// the material. For instructors and administrators.
#[utoipa::path(post, path = "/v1/lots",
    tag = "stock", request_body = NewLot, responses((status = 201, body = Lot)))]
async fn lot_receive(state: Data<ApiState>, caller: Caller, create: Create<NewLot>) -> Answer {
    let made = stock::receive(&state.clinic, &caller.0, &create.once, &create.body).await?.value;
    answer::created(&address(made.summary.id), &made)
}

/// List lots
///
/// What expires first comes first. Everybody in the clinic sees the shelf; what is left of a lot is for those who keep the
/// stock, instructors and administrators, since it tells what batches drew.
#[utoipa::path(get, path = "/v1/lots",
    tag = "stock", params(LotQuery), responses((status = 200, body = Page<LotSummary>)))]
async fn lot_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<LotQuery>,
) -> Answer {
    answer::page(&request, &stock::lots(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a lot
///
/// Its tag is the version that a count names in `If-Match`.
#[utoipa::path(get, path = "/v1/lots/{id}",
    tag = "stock", params(("id" = LotId, Path, description = "The lot")),
    responses((status = 200, body = Lot)))]
async fn lot_view(state: Data<ApiState>, caller: Caller, id: Path<LotId>) -> Answer {
    // Whether it is past its date changes without a new version, so it is always sent whole.
    answer::changed(&stock::lot(&state.clinic, &caller.0, id.0).await?)
}

/// List the movements of a lot
///
/// The newest first. What a batch used is told by its record, not here. For instructors and administrators.
#[utoipa::path(get, path = "/v1/lots/{id}/movements",
    tag = "stock", params(("id" = LotId, Path, description = "The lot"), PageQuery),
    responses((status = 200, body = Page<LotMovement>)))]
async fn lot_movement_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LotId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &stock::movements(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// Check the identity of a lot
///
/// Where it is confirmed, the lot becomes usable. For instructors.
#[utoipa::path(post, path = "/v1/lots/{id}/identity",
    tag = "stock", params(("id" = LotId, Path, description = "The lot")),
    request_body = NewIdentityCheck, responses((status = 201, body = Lot)))]
async fn lot_identity_check(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LotId>,
    create: Create<NewIdentityCheck>,
) -> Answer {
    let lot = stock::identity_check(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(id.0), &lot.value)
}

/// Put a lot in quarantine
///
/// Nothing more is weighed from it until its identity is confirmed anew. For instructors and administrators.
#[utoipa::path(post, path = "/v1/lots/{id}/quarantine",
    tag = "stock", params(("id" = LotId, Path, description = "The lot")),
    request_body = LotReason, responses((status = 201, body = Lot)))]
async fn lot_quarantine(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LotId>,
    create: Create<LotReason>,
) -> Answer {
    let lot = stock::quarantine(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(id.0), &lot.value)
}

/// Discard a lot
///
/// All that is left of it leaves the ledger. For instructors and administrators.
#[utoipa::path(post, path = "/v1/lots/{id}/discard",
    tag = "stock", params(("id" = LotId, Path, description = "The lot")),
    request_body = LotReason, responses((status = 201, body = Lot)))]
async fn lot_discard(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LotId>,
    create: Create<LotReason>,
) -> Answer {
    let lot = stock::discard(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(id.0), &lot.value)
}

/// Count what is left of a lot
///
/// The balance is adjusted by a movement with its reason. `If-Match` names the lot as you read it: if something was drawn
/// since, nothing is written, and the answer says what the ledger says now. For instructors and administrators.
#[utoipa::path(post, path = "/v1/lots/{id}/counts",
    tag = "stock", params(("id" = LotId, Path, description = "The lot")),
    request_body = NewCount, responses((status = 201, body = Lot)))]
async fn lot_count(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LotId>,
    // Before the version: a request without its key is refused for that.
    create: Create<NewCount>,
    version: IfMatch,
) -> Answer {
    let lot = stock::count(&state.clinic, &caller.0, &create.once, id.0, version.0, &create.body).await?;
    answer::created(&address(id.0), &lot.value)
}

/// List what is left of each material
///
/// By name, with what it cost, and whether it runs low. For instructors and administrators.
#[utoipa::path(get, path = "/v1/stock",
    tag = "stock", params(StockQuery), responses((status = 200, body = Page<MaterialStock>)))]
async fn stock_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<StockQuery>,
) -> Answer {
    answer::page(&request, &stock::stocks(&state.clinic, &caller.0, &query.0).await?)
}

/// Read the threshold of a material
///
/// Below it the material counts as running low. For instructors and administrators.
#[utoipa::path(get, path = "/v1/materials/{id}/threshold",
    tag = "stock", params(("id" = MaterialId, Path, description = "The material")),
    responses((status = 200, body = Threshold)))]
async fn threshold_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<MaterialId>,
) -> Answer {
    answer::versioned(&request, &stock::threshold(&state.clinic, &caller.0, id.0).await?)
}

/// Set the threshold of a material
///
/// For instructors and administrators.
#[utoipa::path(put, path = "/v1/materials/{id}/threshold",
    tag = "stock", params(("id" = MaterialId, Path, description = "The material")),
    request_body = NewThreshold, responses((status = 200, body = Threshold)))]
async fn threshold_change(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<MaterialId>,
    version: IfMatch,
    body: Body<NewThreshold>,
) -> Answer {
    answer::changed(&stock::threshold_change(&state.clinic, &caller.0, id.0, version.0, &body.0).await?)
}
