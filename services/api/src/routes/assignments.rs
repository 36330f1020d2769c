//! Assignments, and the questions that students answer before the recipe opens.

use crate::mount::Mount;
use actix_web::web::Data;
use actix_web::{HttpRequest, get, post, put};
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
    config
        .service(assignment_create)
        .service(cohort_assignment_list)
        .service(own_assignment_list)
        .service(assignment_view)
        .service(assignment_change)
        .service(assignment_publish)
        .service(assignment_withdraw)
        .service(student_list)
        .service(student_view)
        .service(questions_begin)
        .service(questions_view)
        .service(question_answer);
}

/// Write an assignment
///
/// A draft, which only the cohort's instructors and markers see until it is published. For the cohort's instructors.
#[utoipa::path(tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    request_body = AssignmentContent, responses((status = 201, body = Assignment)))]
#[post("/v1/cohorts/{id}/assignments")]
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
#[utoipa::path(tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"), PageQuery),
    responses((status = 200, body = Page<CohortAssignment>)))]
#[get("/v1/cohorts/{id}/assignments")]
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
#[utoipa::path(tag = "teaching", params(PageQuery), responses((status = 200, body = Page<OwnAssignment>)))]
#[get("/v1/assignments")]
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
#[utoipa::path(tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 200, body = Assignment)))]
#[get("/v1/assignments/{id}")]
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
#[utoipa::path(tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    request_body = AssignmentChange, responses((status = 200, body = Assignment)))]
#[put("/v1/assignments/{id}")]
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
#[utoipa::path(tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 201, body = Assignment)))]
#[post("/v1/assignments/{id}/publication")]
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
#[utoipa::path(tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    request_body = WithdrawAssignment, responses((status = 201, body = Assignment)))]
#[post("/v1/assignments/{id}/withdrawal")]
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
#[utoipa::path(tag = "teaching",
    params(("id" = AssignmentId, Path, description = "The assignment"), PageQuery),
    responses((status = 200, body = Page<StudentWork>)))]
#[get("/v1/assignments/{id}/students")]
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
#[utoipa::path(tag = "teaching",
    params(("id" = AssignmentId, Path, description = "The assignment"),
        ("person" = PersonId, Path, description = "The student")),
    responses((status = 200, body = StudentQuestions)))]
#[get("/v1/assignments/{id}/students/{person}")]
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
#[utoipa::path(tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 201, body = StudentQuestions)))]
#[post("/v1/assignments/{id}/questions")]
async fn questions_begin(state: Data<ApiState>, caller: Caller, id: Path<AssignmentId>, key: Key) -> Answer {
    let begun = teaching::begin(&state.clinic, &caller.0, &key.0, id.0).await?;
    answer::created(&format!("/v1/assignments/{}/questions", id.0), &begun)
}

/// Read your questions of an assignment
///
/// With your answers. How a question is worked out is shown once its answer is final.
#[utoipa::path(tag = "teaching", params(("id" = AssignmentId, Path, description = "The assignment")),
    responses((status = 200, body = StudentQuestions)))]
#[get("/v1/assignments/{id}/questions")]
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
#[utoipa::path(tag = "teaching", params(("id" = QuestionId, Path, description = "The question")),
    request_body = NewAnswer, responses((status = 201, body = Question)))]
#[post("/v1/questions/{id}/answers")]
async fn question_answer(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<QuestionId>,
    create: Create<NewAnswer>,
) -> Answer {
    let question = teaching::answer(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/assignments/{}/questions", question.assignment), &question)
}
