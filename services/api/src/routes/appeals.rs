//! Appeals against marks.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::marking;
use wire::ids::WorkSubmissionId;
use wire::page::{Page, PageQuery};
use wire::teaching::{AppealDecision, Appeals, NewAppeal, WaitingAppeal};

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, appeals_waiting, appeals_view, appeal_create, appeal_decide);
}

/// List the appeals that you may decide
///
/// The oldest first: of cohorts in which you are an instructor, on work of which you gave no mark. Appeals of students to
/// whom you declared a relation are left out. For instructors.
#[utoipa::path(get, path = "/v1/appeals",
    tag = "teaching", params(PageQuery), responses((status = 200, body = Page<WaitingAppeal>)))]
async fn appeals_waiting(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &marking::appeals_waiting(&state.clinic, &caller.0, &query.0).await?)
}

/// Read the appeal on work that was handed in
///
/// Until when the mark that counts can be appealed against, the appeal if one was made, and what was decided. For the
/// student, and the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/submissions/{id}/appeal",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    responses((status = 200, body = Appeals)))]
async fn appeals_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<WorkSubmissionId>,
) -> Answer {
    answer::read(&request, &marking::appeals(&state.clinic, &caller.0, id.0).await?)
}

/// Appeal against a mark
///
/// Once, within 14 days after the mark that counts was given (common practice, no source). An instructor who gave no mark of
/// the work looks at it again. For the student whose work it is.
#[utoipa::path(post, path = "/v1/submissions/{id}/appeal",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    request_body = NewAppeal, responses((status = 201, body = Appeals)))]
async fn appeal_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<WorkSubmissionId>,
    create: Create<NewAppeal>,
) -> Answer {
    let made = marking::appeal_create(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/submissions/{}/appeal", id.0), &made)
}

/// Decide an appeal
///
/// The mark stands, or another takes its place with the reason `appeal`; the one of before stays. Needs a claim of your own,
/// and ends it. For the cohort's instructors who gave no mark of the work.
#[utoipa::path(post, path = "/v1/submissions/{id}/appeal/decision",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    request_body = AppealDecision, responses((status = 201, body = Appeals)))]
async fn appeal_decide(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<WorkSubmissionId>,
    create: Create<AppealDecision>,
) -> Answer {
    let made = marking::appeal_decide(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/submissions/{}/appeal", id.0), &made)
}
