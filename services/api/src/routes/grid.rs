//! How a cohort stands, and its marks to take along.

use crate::mount::Mount;
use actix_web::web::Data;
use actix_web::{HttpRequest, get};
use clinic::marking;
use wire::ids::CohortId;
use wire::teaching::{CohortGrid, ExportedMark};

use crate::answer::{self, Answer};
use crate::caller::Caller;
use crate::params::Path;
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    config.service(grid).service(marks_table).service(marks_lines).service(marks_archive);
}

/// Read how a cohort stands
///
/// Every student by every assignment that was published, with the state by the dates that hold for the student and the
/// points of the mark that counts: all in one response, at most 1000 students by 100 assignments. For the cohort's
/// instructors and markers.
#[utoipa::path(tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 200, body = CohortGrid)))]
#[get("/v1/cohorts/{id}/grid")]
async fn grid(request: HttpRequest, state: Data<ApiState>, caller: Caller, id: Path<CohortId>) -> Answer {
    let grid = marking::grid(&state.clinic, &caller.0, id.0).await?;
    answer::read_large(&request, grid).await
}

/// Export the marks of a cohort as a table
///
/// CSV (RFC 4180), the mark that counts of each student's work in a row, by assignment and student. Points and times are as
/// in the lines of JSON. A cell that a spreadsheet would take for a formula starts with an apostrophe. For the cohort's
/// instructors and markers.
#[utoipa::path(tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 200, content_type = "text/csv", body = String, example = "assignment,title,student,name\r\n")))]
#[get("/v1/cohorts/{id}/marks.csv")]
async fn marks_table(state: Data<ApiState>, caller: Caller, id: Path<CohortId>) -> Answer {
    Ok(answer::table("marks.csv", marking::marks_table(&state.clinic, &caller.0, id.0).await?))
}

/// Export the marks of a cohort as lines of JSON
///
/// The mark that counts of each student's work, one JSON object a line, by assignment and student, with what was decided on
/// each criterion. For the cohort's instructors and markers.
#[utoipa::path(tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 200, content_type = "application/x-ndjson", body = ExportedMark)))]
#[get("/v1/cohorts/{id}/marks.ndjson")]
async fn marks_lines(state: Data<ApiState>, caller: Caller, id: Path<CohortId>) -> Answer {
    Ok(answer::lines("marks.ndjson", marking::marks_lines(&state.clinic, &caller.0, id.0).await?))
}

/// Export the marks of a cohort for another system
///
/// An archive of the CSV files of OneRoster 1.2: `manifest.csv`, `categories.csv`, `lineItems.csv` and `results.csv`, all of
/// them bulk. Names of files and columns are from memory of that specification. A line item is an assignment that gives
/// points, a result is the mark that counts, with the status `fully graded`. Every `sourcedId` is an ID of this service: of
/// the assignment, of the student's work on it, of the student. The ID of the cohort stands for the class, its term and its
/// one category. Points that were given by an earlier version of the assignment are converted to those of the line item, and
/// the comment says so. Nothing is told that `marks.csv` does not tell, and no name of a person. For the cohort's instructors
/// and markers.
#[utoipa::path(tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 200, description = "The archive", content_type = "application/zip")))]
#[get("/v1/cohorts/{id}/oneroster.zip")]
async fn marks_archive(state: Data<ApiState>, caller: Caller, id: Path<CohortId>) -> Answer {
    Ok(answer::archive("oneroster.zip", marking::marks_archive(&state.clinic, &caller.0, id.0).await?))
}
