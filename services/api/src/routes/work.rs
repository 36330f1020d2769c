//! Work that students hand in.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::work;
use wire::ids::{AssignmentId, PersonId, WorkSubmissionId};
use wire::teaching::{
    Allowance, NewAllowance, NewReflection, NewWorkSubmission, Reflection, StudentRecord, SubmissionNote,
    WorkSubmission,
};

use crate::answer::{self, Answer};
use crate::body::{Body, Create};
use crate::caller::Caller;
use crate::params::{IfMatch, Path};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        record_own,
        record_of,
        allowance_create,
        reflection_view,
        reflection_save,
        work_submit,
        work_submission_view,
        submission_notes
    );
}

/// Read your work on an assignment
///
/// The dates that hold for you, what you are allowed, what you handed in, and which of your batches you can hand in.
#[utoipa::path(get, path = "/v1/assignments/{id}/work",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 200, body = StudentRecord)))]
async fn record_own(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
) -> Answer {
    answer::read(&request, &work::record_own(&state.clinic, &caller.0, id.0).await?)
}

/// Read a student's work on an assignment
///
/// For the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/assignments/{id}/students/{person}/work",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment"),
    ("person" = PersonId, Path, description = "The student")), responses((status = 200, body = StudentRecord)))]
async fn record_of(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(AssignmentId, PersonId)>,
) -> Answer {
    let (id, person) = path.0;
    answer::read(&request, &work::record_of(&state.clinic, &caller.0, id, person).await?)
}

/// Allow a student more time, or excuse an absence
///
/// The last allowance of a student counts. The student reads its reason. For the cohort's instructors.
#[utoipa::path(post, path = "/v1/assignments/{id}/students/{person}/allowances",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment"),
    ("person" = PersonId, Path, description = "The student")),
    request_body = NewAllowance, responses((status = 201, body = Allowance)))]
async fn allowance_create(
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(AssignmentId, PersonId)>,
    create: Create<NewAllowance>,
) -> Answer {
    let (id, person) = path.0;
    let made =
        work::allowance_create(&state.clinic, &caller.0, &create.once, id, person, &create.body).await?;
    answer::created(&format!("/v1/assignments/{id}/students/{person}/work"), &made)
}

/// Read the draft of your reflection
///
/// Only its author reads a draft.
#[utoipa::path(get, path = "/v1/assignments/{id}/reflection",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 200, body = Reflection)))]
async fn reflection_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
) -> Answer {
    answer::versioned(&request, &work::reflection(&state.clinic, &caller.0, id.0).await?)
}

/// Save the draft of your reflection
///
/// It can be saved as often as you like. Handing work in without a text takes the draft.
#[utoipa::path(put, path = "/v1/assignments/{id}/reflection",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    request_body = NewReflection, responses((status = 200, body = Reflection)))]
async fn reflection_save(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
    version: IfMatch,
    body: Body<NewReflection>,
) -> Answer {
    answer::changed(&work::reflection_save(&state.clinic, &caller.0, id.0, version.0, &body.0).await?)
}

/// Hand work in
///
/// Submits the record of a batch of your own, of one of the assigned formulas, and freezes it with the reflection and the
/// rubric; `digest` names all of it. The time at which the request arrived counts against your dates. Work that came back
/// is handed in again here, as its next version.
#[utoipa::path(post, path = "/v1/assignments/{id}/submissions",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    request_body = NewWorkSubmission, responses((status = 201, body = WorkSubmission)))]
async fn work_submit(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
    create: Create<NewWorkSubmission>,
) -> Answer {
    let made = work::submit(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/submissions/{}", made.id), &made)
}

/// Read work that was handed in
///
/// For its author, and the cohort's instructors and markers. The record and the reflection are read with the batch.
#[utoipa::path(get, path = "/v1/submissions/{id}",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    responses((status = 200, body = WorkSubmission)))]
async fn work_submission_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<WorkSubmissionId>,
) -> Answer {
    answer::read(&request, &work::submission(&state.clinic, &caller.0, id.0).await?)
}

/// Read neutral notes on work that was handed in
///
/// Figures that are the same as another student's of the assignment, no variation at all, a whole record written within one
/// minute. A note judges nobody, and the student does not see it. For the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/submissions/{id}/notes",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    responses((status = 200, body = Vec<SubmissionNote>)))]
async fn submission_notes(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<WorkSubmissionId>,
) -> Answer {
    answer::read(&request, &work::notes(&state.clinic, &caller.0, id.0).await?)
}
