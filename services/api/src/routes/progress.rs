//! Progress of students, and where a class struggles.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::progress;
use wire::ids::{CohortId, PersonId};
use wire::teaching::{CohortDifficulties, ExportedWork, StudentProgress};

use crate::answer::{self, Answer};
use crate::caller::Caller;
use crate::params::Path;
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, progress_own, progress_lines, progress_of, cohort_difficulties);
}

/// Read your progress
///
/// What was decided on each criterion over time, by the marks that count; which kinds of questions you missed at the first
/// attempt and which findings your records had, with where; and your accepted work. For students, of all their cohorts.
#[utoipa::path(get, path = "/v1/progress",
    tag = "teaching", responses((status = 200, body = StudentProgress)))]
async fn progress_own(request: HttpRequest, state: Data<ApiState>, caller: Caller) -> Answer {
    answer::read(&request, &progress::own(&state.clinic, &caller.0).await?)
}

/// Export what you handed in as lines of JSON
///
/// Every version, one JSON object a line, the first one first, with what was decided on each criterion and the kinds of
/// findings. What was written about it stands in the records. For students, of all their cohorts.
#[utoipa::path(get, path = "/v1/progress.ndjson",
    tag = "teaching",
    responses((status = 200, content_type = "application/x-ndjson", body = ExportedWork)))]
async fn progress_lines(state: Data<ApiState>, caller: Caller) -> Answer {
    Ok(answer::lines("progress.ndjson", progress::lines(&state.clinic, &caller.0).await?))
}

/// Read a student's progress in a cohort
///
/// As the student reads it, of this cohort alone. What is closed to you as a second marker is left out. For the cohort's
/// instructors and markers.
#[utoipa::path(get, path = "/v1/cohorts/{id}/students/{person}/progress",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"),
    ("person" = PersonId, Path, description = "The student")), responses((status = 200, body = StudentProgress)))]
async fn progress_of(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(CohortId, PersonId)>,
) -> Answer {
    let (id, person) = path.0;
    answer::read(&request, &progress::of(&state.clinic, &caller.0, id, person).await?)
}

/// Read where a cohort struggles
///
/// By criterion, by kind of question at the first attempt, and by kind of finding: counts, and shares where there are enough
/// to tell one. What is closed to you as a second marker is left out. For the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/cohorts/{id}/difficulties",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 200, body = CohortDifficulties)))]
async fn cohort_difficulties(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
) -> Answer {
    answer::read(&request, &progress::difficulties(&state.clinic, &caller.0, id.0).await?)
}
