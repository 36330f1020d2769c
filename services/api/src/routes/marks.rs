//! Marking work that was handed in.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::marking;
use wire::ids::WorkSubmissionId;
use wire::page::{Page, PageQuery};
use wire::teaching::{
    Assessment, MarkChange, NewRelation, QueueQuery, Relation, WaitingWork, WorkClaim, WorkMarks,
};

use crate::answer::{self, Answer};
use crate::body::{Create, Key};
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        queue,
        claim_create,
        claim_end,
        assessment_view,
        marks_view,
        mark_change,
        relation_create,
        relations
    );
}

/// List work that waits to be marked
///
/// The work of your cohorts, with the one thing that stands out of each and who holds it. Exceptions come first, then clean
/// work, the oldest first; or by when it came in, or by when it was due. Work of students to whom you declared a relation
/// is left out. For instructors.
#[utoipa::path(get, path = "/v1/submissions",
    tag = "teaching", params(QueueQuery), responses((status = 200, body = Page<WaitingWork>)))]
async fn queue(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<QueueQuery>,
) -> Answer {
    answer::page(&request, &marking::queue(&state.clinic, &caller.0, &query.0).await?)
}

/// Claim work that was handed in
///
/// Only one marker at a time holds work. A claim lasts 30 minutes; claiming again prolongs it, and the verdict ends it. The
/// verdict on the record and a changed mark need a claim of your own. For the cohort's instructors and markers.
#[utoipa::path(post, path = "/v1/submissions/{id}/claim",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    responses((status = 201, body = WorkClaim)))]
async fn claim_create(state: Data<ApiState>, caller: Caller, id: Path<WorkSubmissionId>, key: Key) -> Answer {
    let claim = marking::claim_create(&state.clinic, &caller.0, &key.0, id.0).await?;
    answer::created(&format!("/v1/submissions/{}/assessment", id.0), &claim)
}

/// Give a claim up
///
/// Only its holder can. Another marker can claim the work at once.
#[utoipa::path(delete, path = "/v1/submissions/{id}/claim",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    responses((status = 204)))]
async fn claim_end(state: Data<ApiState>, caller: Caller, id: Path<WorkSubmissionId>) -> Answer {
    marking::claim_end(&state.clinic, &caller.0, id.0).await?;
    answer::done()
}

/// Read what a marker needs to assess work
///
/// The rubric of the work's own version of the assignment, what the student was allowed, who holds the work, and the levels
/// that the findings of the record propose, each with its findings. A proposal decides nothing. For the cohort's instructors
/// and markers who may read the batch record.
#[utoipa::path(get, path = "/v1/submissions/{id}/assessment",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    responses((status = 200, body = Assessment)))]
async fn assessment_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<WorkSubmissionId>,
) -> Answer {
    answer::read(&request, &marking::assessment(&state.clinic, &caller.0, id.0).await?)
}

/// Read the marks of work that was handed in
///
/// A mark is released with the verdict on the record. The comments beside the criteria are read with the batch: `comment`
/// names one among those of the review. For the student, and the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/submissions/{id}/marks",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    responses((status = 200, body = WorkMarks)))]
async fn marks_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<WorkSubmissionId>,
) -> Answer {
    answer::read(&request, &marking::marks(&state.clinic, &caller.0, id.0).await?)
}

/// Change a mark
///
/// Another mark takes the place of the one before, with its reason. Both stay. Name the criteria that get another level.
/// Needs a claim of your own, and ends it. The first mark is given with the verdict on the batch record.
#[utoipa::path(post, path = "/v1/submissions/{id}/marks",
    tag = "teaching", params(("id" = WorkSubmissionId, Path, description = "The submission")),
    request_body = MarkChange, responses((status = 201, body = WorkMarks)))]
async fn mark_change(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<WorkSubmissionId>,
    create: Create<MarkChange>,
) -> Answer {
    let marks = marking::mark_change(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/submissions/{}/marks", id.0), &marks)
}

/// Declare a relation to a student
///
/// You then mark no work of this student, and claims of yours on it end. Only you see your relations. A declared relation
/// stays. For instructors.
#[utoipa::path(post, path = "/v1/relations",
    tag = "teaching", request_body = NewRelation, responses((status = 201, body = Relation)))]
async fn relation_create(state: Data<ApiState>, caller: Caller, create: Create<NewRelation>) -> Answer {
    let made = marking::relation_create(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created("/v1/relations", &made)
}

/// List your declared relations
///
/// The newest first. Nobody else sees them.
#[utoipa::path(get, path = "/v1/relations",
    tag = "teaching", params(PageQuery), responses((status = 200, body = Page<Relation>)))]
async fn relations(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &marking::relations(&state.clinic, &caller.0, &query.0).await?)
}
