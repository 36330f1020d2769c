//! Moderation: second marks, and how far they agree with the first.

use crate::mount::Mount;
use actix_web::web::Data;
use actix_web::{HttpRequest, get, post};
use clinic::moderation;
use wire::ids::{CohortId, ModerationId};
use wire::page::{Page, PageQuery};
use wire::teaching::{
    BlindWork, CohortAgreement, DrawnMark, Moderation, ModerationShare, NewModerationShare, NewSecondMark,
    NewSecondMarker, NewSettlement, WaitingModeration,
};

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    config
        .service(share_set)
        .service(agreement)
        .service(drawn)
        .service(waiting)
        .service(blind_work)
        .service(compared)
        .service(second_mark)
        .service(second_marker)
        .service(settle);
}

/// Set which share of a cohort's marks is given twice
///
/// Of marks that are given from now on, so many of a hundred are drawn for a second marker. What is drawn follows from the
/// work and a secret of its assignment: no marker chooses it. For the cohort's instructors.
#[utoipa::path(tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    request_body = NewModerationShare, responses((status = 201, body = ModerationShare)))]
#[post("/v1/cohorts/{id}/moderation-shares")]
async fn share_set(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    create: Create<NewModerationShare>,
) -> Answer {
    let set = moderation::share_set(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/cohorts/{}/agreement", id.0), &set)
}

/// Read how far first and second marks of a cohort agree
///
/// By assignment and criterion: weighted kappa with its 95 % interval from 30 pairs on, and the pairs that differ below that.
/// Marks that are closed to you as a second marker are left out. For the cohort's instructors and markers.
#[utoipa::path(tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 200, body = CohortAgreement)))]
#[get("/v1/cohorts/{id}/agreement")]
async fn agreement(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
) -> Answer {
    answer::read(&request, &moderation::agreement(&state.clinic, &caller.0, id.0).await?)
}

/// List the marks of a cohort that were drawn
///
/// The newest first. Marks that are closed to you as a second marker are left out. For the cohort's instructors and markers.
#[utoipa::path(tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"), PageQuery),
    responses((status = 200, body = Page<DrawnMark>)))]
#[get("/v1/cohorts/{id}/moderations")]
async fn drawn(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &moderation::drawn(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// List the second marks that you have to give
///
/// The oldest first, without a name. While you have one to give in an assignment, its marked work is closed to you, but for
/// what you marked yourself. For instructors.
#[utoipa::path(tag = "teaching", params(PageQuery),
    responses((status = 200, body = Page<WaitingModeration>)))]
#[get("/v1/moderations")]
async fn waiting(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &moderation::waiting(&state.clinic, &caller.0, &query.0).await?)
}

/// Read work that waits for your second mark
///
/// The record as it was handed in, its findings and the rubric. Nobody is named, and nothing tells the first mark. For its
/// second marker who may read the recipe.
#[utoipa::path(tag = "teaching", params(("id" = ModerationId, Path, description = "The moderation")),
    responses((status = 200, body = BlindWork)))]
#[get("/v1/moderations/{id}/work")]
async fn blind_work(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ModerationId>,
) -> Answer {
    answer::read(&request, &moderation::blind_work(&state.clinic, &caller.0, id.0).await?)
}

/// Read both marks beside each other
///
/// With the criteria on which they differ, and how they were settled. Its second marker reads it from their mark on. For the
/// cohort's instructors and markers.
#[utoipa::path(tag = "teaching", params(("id" = ModerationId, Path, description = "The moderation")),
    responses((status = 200, body = Moderation)))]
#[get("/v1/moderations/{id}")]
async fn compared(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ModerationId>,
) -> Answer {
    answer::read(&request, &moderation::moderation(&state.clinic, &caller.0, id.0).await?)
}

/// Give the second mark
///
/// Every criterion of the rubric is decided, once. Marks that are alike are settled by that. For its second marker, who is
/// told the first mark with the answer, or once every second mark of theirs in this assignment is given.
#[utoipa::path(tag = "teaching", params(("id" = ModerationId, Path, description = "The moderation")),
    request_body = NewSecondMark, responses((status = 201, body = Moderation)))]
#[post("/v1/moderations/{id}/mark")]
async fn second_mark(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ModerationId>,
    create: Create<NewSecondMark>,
) -> Answer {
    let made =
        moderation::second_mark_create(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/moderations/{}", id.0), &made)
}

/// Name another second marker
///
/// While the second mark is missing: where nobody could be drawn, or the second marker left. For the cohort's instructors.
#[utoipa::path(tag = "teaching", params(("id" = ModerationId, Path, description = "The moderation")),
    request_body = NewSecondMarker, responses((status = 201, body = Moderation)))]
#[post("/v1/moderations/{id}/second-marker")]
async fn second_marker(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ModerationId>,
    create: Create<NewSecondMarker>,
) -> Answer {
    let named =
        moderation::second_marker_name(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/moderations/{}", id.0), &named)
}

/// Settle two marks that differ
///
/// Neither marker carries their own mark through: the first can take the levels of the second, the second can let the first
/// stand. An instructor who gave neither chooses freely between the two. Where levels change, another mark counts, with the
/// reason `second_marker`; both of before stay.
#[utoipa::path(tag = "teaching", params(("id" = ModerationId, Path, description = "The moderation")),
    request_body = NewSettlement, responses((status = 201, body = Moderation)))]
#[post("/v1/moderations/{id}/settlement")]
async fn settle(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ModerationId>,
    create: Create<NewSettlement>,
) -> Answer {
    let settled = moderation::settle(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/moderations/{}", id.0), &settled)
}
