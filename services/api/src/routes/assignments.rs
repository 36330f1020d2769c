//! Assignments, and the questions that students answer before the recipe opens.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::teaching;
use wire::ids::{AssignmentId, CohortId, PersonId, QuestionId};
use wire::page::{Page, PageQuery};
use wire::teaching::{
    Assignment, AssignmentChange, AssignmentContent, CohortAssignment, NewAnswer, OwnAssignment, Question,
    StudentQuestions, StudentWork, WithdrawAssignment,
};

use crate::answer::{self, Answer};
use crate::body::{Body, Create, Key};
use crate::caller::Caller;
use crate::params::{IfMatch, Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        assignment_create,
        cohort_assignment_list,
        own_assignment_list,
        assignment_view,
        assignment_change,
        assignment_publish,
        assignment_withdraw,
        student_list,
        student_view,
        questions_begin,
        questions_view,
        question_answer
    );
}

/// Write an assignment
///
/// A draft, which only the cohort's instructors and markers see until it is published. For the cohort's instructors.
#[utoipa::path(post, path = "/v1/cohorts/{id}/assignments",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    request_body = AssignmentContent, responses((status = 201, body = Assignment)))]
async fn assignment_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    create: Create<AssignmentContent>,
) -> Answer {
    let made =
        teaching::assignment_create(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created_version(&format!("/v1/assignments/{}", made.value.id), &made)
}

/// List a cohort's assignments
///
/// By when they are due, the latest first, with how many students have not begun, begun and answered every question. For the
/// cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/cohorts/{id}/assignments",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"), PageQuery),
    responses((status = 200, body = Page<CohortAssignment>)))]
async fn cohort_assignment_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &teaching::assignments_of(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// List the work that is set to you
///
/// Of the cohorts in which you are a student: by when it is due, the latest first, and how it stands for you.
#[utoipa::path(get, path = "/v1/assignments",
    tag = "teaching", params(PageQuery), responses((status = 200, body = Page<OwnAssignment>)))]
async fn own_assignment_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &teaching::own_assignments(&state.clinic, &caller.0, &query.0).await?)
}

/// Read an assignment
///
/// For the members of its cohort; students see it once it is published.
#[utoipa::path(get, path = "/v1/assignments/{id}",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 200, body = Assignment)))]
async fn assignment_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
) -> Answer {
    answer::versioned(&request, &teaching::assignment(&state.clinic, &caller.0, id.0).await?)
}

/// Change an assignment
///
/// Writes another version. Of a published assignment, a change has its reason, and formulas and questions stay; a later
/// revision of the same formula may take the place of an earlier one. For the cohort's instructors.
#[utoipa::path(put, path = "/v1/assignments/{id}",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    request_body = AssignmentChange, responses((status = 200, body = Assignment)))]
async fn assignment_change(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
    version: IfMatch,
    body: Body<AssignmentChange>,
) -> Answer {
    let changed = teaching::assignment_change(&state.clinic, &caller.0, id.0, version.0, &body.0).await?;
    answer::changed(&changed)
}

/// Publish an assignment
///
/// From its opening on, a student of the cohort cannot open the recipe of any of its formulas before having answered every
/// question. Recipes that are open stay open. For the cohort's instructors.
#[utoipa::path(post, path = "/v1/assignments/{id}/publication",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 201, body = Assignment)))]
async fn assignment_publish(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
    key: Key,
) -> Answer {
    let published = teaching::publish(&state.clinic, &caller.0, &key.0, id.0).await?;
    answer::created_version(&format!("/v1/assignments/{}", id.0), &published)
}

/// Withdraw an assignment
///
/// It holds no recipe from then on. What students answered stays. For the cohort's instructors.
#[utoipa::path(post, path = "/v1/assignments/{id}/withdrawal",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    request_body = WithdrawAssignment, responses((status = 201, body = Assignment)))]
async fn assignment_withdraw(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
    create: Create<WithdrawAssignment>,
) -> Answer {
    let withdrawn = teaching::withdraw(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created_version(&format!("/v1/assignments/{}", id.0), &withdrawn)
}

/// List the students of an assignment
///
/// By name, with how far each is. For the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/assignments/{id}/students",
    tag = "teaching",
    params(("id" = AssignmentId, Path, description = "The assignment"), PageQuery),
    responses((status = 200, body = Page<StudentWork>)))]
async fn student_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &teaching::students(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// Read a student's questions
///
/// With every answer. For the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/assignments/{id}/students/{person}",
    tag = "teaching",
    params(("id" = AssignmentId, Path, description = "The assignment"),
        ("person" = PersonId, Path, description = "The student")),
    responses((status = 200, body = StudentQuestions)))]
async fn student_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(AssignmentId, PersonId)>,
) -> Answer {
    let found = teaching::questions_of(&state.clinic, &caller.0, path.0.0, path.0.1).await?;
    answer::read(&request, &found)
}

/// Begin the questions of an assignment
///
/// Draws your own numbers, which stay the same. Beginning again changes nothing. For the students of its cohort, once it has
/// opened.
#[utoipa::path(post, path = "/v1/assignments/{id}/questions",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 201, body = StudentQuestions)))]
async fn questions_begin(state: Data<ApiState>, caller: Caller, id: Path<AssignmentId>, key: Key) -> Answer {
    let begun = teaching::begin(&state.clinic, &caller.0, &key.0, id.0).await?;
    answer::created(&format!("/v1/assignments/{}/questions", id.0), &begun)
}

/// Read your questions of an assignment
///
/// With your answers. How a question is worked out is shown once its answer is final.
#[utoipa::path(get, path = "/v1/assignments/{id}/questions",
    tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 200, body = StudentQuestions)))]
async fn questions_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AssignmentId>,
) -> Answer {
    answer::read(&request, &teaching::questions_own(&state.clinic, &caller.0, id.0).await?)
}

/// Answer a question
///
/// Numbers with their unit; another unit of the same kind is converted, and the answer says so. An answer without its unit
/// is refused and is no attempt. The answer is final once it is right or every attempt is used.
#[utoipa::path(post, path = "/v1/questions/{id}/answers",
    tag = "teaching", params(("id" = QuestionId, Path, description = "The question")),
    request_body = NewAnswer, responses((status = 201, body = Question)))]
async fn question_answer(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<QuestionId>,
    create: Create<NewAnswer>,
) -> Answer {
    let question = teaching::answer(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/assignments/{}/questions", question.assignment), &question)
}
