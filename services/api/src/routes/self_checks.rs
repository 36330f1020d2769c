//! What a maker checks of themselves before making, and what a student tells the instructors of it, by an act of its own.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::{formulary, teaching};
use wire::ids::{CohortId, RevisionId};
use wire::self_check::{NewSelfCheck, SelfCheck};
use wire::teaching::{NewWorkLimit, WorkLimit, WorkLimits};

use crate::answer::{self, Answer};
use crate::body::{Body, Create};
use crate::caller::Caller;
use crate::params::Path;
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, self_check, work_limit_create, work_limits, work_limit_withdraw);
}

/// Check a formula for yourself before you make it
///
/// Send what is true of you, such as a pregnancy or an allergy. The response names the cautions that concern you, whom to
/// ask, and formulas of your libraries that carry none of it. This is no diagnosis. The answers are kept nowhere, so the
/// request has no idempotency key, and nobody else is told them. For every member of the library.
#[utoipa::path(post, path = "/v1/revisions/{id}/self-check",
    tag = "recipes", params(("id" = RevisionId, Path, description = "The revision")),
    request_body = NewSelfCheck, responses((status = 200, body = SelfCheck)))]
async fn self_check(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    body: Body<NewSelfCheck>,
) -> Answer {
    answer::read(&request, &formulary::self_check(&state.clinic, &caller.0, id.0, &body.0).await?)
}

/// Tell your instructors what you cannot work with
///
/// With your consent: one sentence in your words, which the instructors of the cohort read until you withdraw it. Markers,
/// students and administrators do not. For students of the cohort.
#[utoipa::path(post, path = "/v1/cohorts/{id}/work-limits",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    request_body = NewWorkLimit, responses((status = 201, body = WorkLimit)))]
async fn work_limit_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    create: Create<NewWorkLimit>,
) -> Answer {
    let made =
        teaching::work_limit_create(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/cohorts/{}/work-limits", id.0), &made)
}

/// List what students cannot work with
///
/// For the instructors of the cohort, what its students told them, by name; for a student, the student's own.
#[utoipa::path(get, path = "/v1/cohorts/{id}/work-limits",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 200, body = WorkLimits)))]
async fn work_limits(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
) -> Answer {
    answer::read(&request, &teaching::work_limits(&state.clinic, &caller.0, id.0).await?)
}

/// Withdraw what you told your instructors
///
/// Its words are removed. That you told something and withdrew it stays in the journal, without the words.
#[utoipa::path(delete, path = "/v1/cohorts/{id}/work-limits",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 204)))]
async fn work_limit_withdraw(state: Data<ApiState>, caller: Caller, id: Path<CohortId>) -> Answer {
    teaching::work_limit_withdraw(&state.clinic, &caller.0, id.0).await?;
    answer::done()
}
