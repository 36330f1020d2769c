//! Control charts of how closely records follow their recipes.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::progress;
use wire::ids::{CohortId, FormulaId, PersonId};
use wire::teaching::{ChartedFormulas, ControlCharts};

use crate::answer::{self, Answer};
use crate::caller::Caller;
use crate::params::Path;
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, charts_own, charts_of, charts_list, charts_of_formula);
}

/// Read your control charts
///
/// How far each line that you weighed was off its target, and your yields, as individual values with their moving range. For
/// students, of all their cohorts and formulas.
#[utoipa::path(get, path = "/v1/progress/charts",
    tag = "teaching", responses((status = 200, body = ControlCharts)))]
async fn charts_own(request: HttpRequest, state: Data<ApiState>, caller: Caller) -> Answer {
    answer::read(&request, &progress::charts_own(&state.clinic, &caller.0).await?)
}

/// Read a student's control charts in a cohort
///
/// As the student reads them, of this cohort alone. What is closed to you as a second marker is left out. For the cohort's
/// instructors and markers.
#[utoipa::path(get, path = "/v1/cohorts/{id}/students/{person}/charts",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"),
    ("person" = PersonId, Path, description = "The student")), responses((status = 200, body = ControlCharts)))]
async fn charts_of(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(CohortId, PersonId)>,
) -> Answer {
    let (id, person) = path.0;
    answer::read(&request, &progress::charts_of(&state.clinic, &caller.0, id, person).await?)
}

/// List the formulas of which a cohort has control charts
///
/// Those with most records first. For the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/cohorts/{id}/charts",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 200, body = ChartedFormulas)))]
async fn charts_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
) -> Answer {
    answer::read(&request, &progress::charted(&state.clinic, &caller.0, id.0).await?)
}

/// Read the control charts of a formula in a cohort
///
/// Weighing errors and yields of the last version of each work, as individual values with their moving range: relative
/// errors, which tell no amount. Without a record there are no points. What is closed to you as a second marker is left out.
/// For the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/cohorts/{id}/charts/{formula}",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"),
    ("formula" = FormulaId, Path, description = "The formula")), responses((status = 200, body = ControlCharts)))]
async fn charts_of_formula(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(CohortId, FormulaId)>,
) -> Answer {
    let (id, formula) = path.0;
    answer::read(&request, &progress::charts_of_formula(&state.clinic, &caller.0, id, formula).await?)
}
