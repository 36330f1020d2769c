//! Cohorts: their members, codes, class lists and banks of questions.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::teaching;
use wire::ids::{CohortCodeId, CohortId, PersonId};
use wire::page::{Page, PageQuery};
use wire::teaching::{
    BankQuestion, Cohort, CohortCode, CohortMember, Enrol, EnrolledClass, JoinCohort, NewBankQuestion,
    NewClass, NewCohort, NewCohortCode,
};

use crate::answer::{self, Answer};
use crate::body::{Body, Create};
use crate::caller::Caller;
use crate::params::{IfMatch, Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        cohort_create,
        cohort_list,
        cohort_view,
        cohort_change,
        cohort_member_list,
        cohort_enrol,
        cohort_member_remove,
        cohort_class,
        cohort_code_create,
        cohort_code_list,
        cohort_code_close,
        cohort_join,
        bank_question_create,
        bank_question_list
    );
}

/// Create a cohort
///
/// A class of people for a term. For instructors; its creator becomes its first instructor.
#[utoipa::path(post, path = "/v1/cohorts",
    tag = "teaching", request_body = NewCohort, responses((status = 201, body = Cohort)))]
async fn cohort_create(state: Data<ApiState>, caller: Caller, create: Create<NewCohort>) -> Answer {
    let made = teaching::cohort_create(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created_version(&format!("/v1/cohorts/{}", made.value.id), &made)
}

/// List your cohorts
///
/// The newest first. Administrators see all cohorts, but none of their work.
#[utoipa::path(get, path = "/v1/cohorts",
    tag = "teaching", params(PageQuery), responses((status = 200, body = Page<Cohort>)))]
async fn cohort_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &teaching::cohorts(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a cohort
#[utoipa::path(get, path = "/v1/cohorts/{id}",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    responses((status = 200, body = Cohort)))]
async fn cohort_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
) -> Answer {
    answer::versioned(&request, &teaching::cohort(&state.clinic, &caller.0, id.0).await?)
}

/// Change a cohort
///
/// Its name and its term; the time zone stays. For the cohort's instructors, and for administrators.
#[utoipa::path(put, path = "/v1/cohorts/{id}",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    request_body = NewCohort, responses((status = 200, body = Cohort)))]
async fn cohort_change(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    version: IfMatch,
    body: Body<NewCohort>,
) -> Answer {
    answer::changed(&teaching::cohort_change(&state.clinic, &caller.0, id.0, version.0, &body.0).await?)
}

/// List a cohort's members
///
/// By name. For the cohort's instructors and markers, and for administrators.
#[utoipa::path(get, path = "/v1/cohorts/{id}/members",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"), PageQuery),
    responses((status = 200, body = Page<CohortMember>)))]
async fn cohort_member_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &teaching::members(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// Enrol a person
///
/// Gives a member another role, too. For the cohort's instructors, and for administrators.
#[utoipa::path(post, path = "/v1/cohorts/{id}/members",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    request_body = Enrol, responses((status = 201, body = CohortMember)))]
async fn cohort_enrol(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    create: Create<Enrol>,
) -> Answer {
    let member = teaching::enrol(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/cohorts/{}/members", id.0), &member)
}

/// Remove a member
///
/// The person loses access to the cohort and its work at once. For the cohort's instructors, and for administrators.
#[utoipa::path(delete, path = "/v1/cohorts/{id}/members/{person}",
    tag = "teaching",
    params(("id" = CohortId, Path, description = "The cohort"),
        ("person" = PersonId, Path, description = "The member")),
    responses((status = 204)))]
async fn cohort_member_remove(
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(CohortId, PersonId)>,
) -> Answer {
    teaching::member_remove(&state.clinic, &caller.0, path.0.0, path.0.1).await?;
    answer::done()
}

/// Enrol a class from a list
///
/// Everybody on the list, or nobody: each refused line is named with its field. An administrator's list also invites those
/// who have no account, and this response contains their one-time codes. For the cohort's instructors, and for
/// administrators.
#[utoipa::path(post, path = "/v1/cohorts/{id}/class",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    request_body = NewClass, responses((status = 201, body = EnrolledClass)))]
async fn cohort_class(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    create: Create<NewClass>,
) -> Answer {
    let class = teaching::class_enrol(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/cohorts/{}/members", id.0), &class)
}

/// Create a code to join with
///
/// Students join the cohort with it until it ends or is closed. The code is shown in this response only. For the cohort's
/// instructors, and for administrators.
#[utoipa::path(post, path = "/v1/cohorts/{id}/codes",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    request_body = NewCohortCode, responses((status = 201, body = CohortCode)))]
async fn cohort_code_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    create: Create<NewCohortCode>,
) -> Answer {
    let code = teaching::code_create(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/cohorts/{}/codes", id.0), &code)
}

/// List a cohort's codes
///
/// The oldest first, without the codes themselves. For the cohort's instructors, and for administrators.
#[utoipa::path(get, path = "/v1/cohorts/{id}/codes",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"), PageQuery),
    responses((status = 200, body = Page<CohortCode>)))]
async fn cohort_code_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &teaching::codes(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// Close a code
///
/// Nobody joins with it any more; those who joined stay. For the cohort's instructors, and for administrators.
#[utoipa::path(delete, path = "/v1/cohorts/{id}/codes/{code}",
    tag = "teaching",
    params(("id" = CohortId, Path, description = "The cohort"),
        ("code" = CohortCodeId, Path, description = "The code's ID")),
    responses((status = 204)))]
async fn cohort_code_close(
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(CohortId, CohortCodeId)>,
) -> Answer {
    teaching::code_close(&state.clinic, &caller.0, path.0.0, path.0.1).await?;
    answer::done()
}

/// Join a cohort with a code
///
/// For students. Joining again changes nothing.
#[utoipa::path(post, path = "/v1/enrolments",
    tag = "teaching", request_body = JoinCohort, responses((status = 201, body = Cohort)))]
async fn cohort_join(state: Data<ApiState>, caller: Caller, create: Create<JoinCohort>) -> Answer {
    let cohort = teaching::join(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created_version(&format!("/v1/cohorts/{}", cohort.value.id), &cohort)
}

/// Add a question to the bank
///
/// A question never changes: add another one. For the cohort's instructors.
#[utoipa::path(post, path = "/v1/cohorts/{id}/questions",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort")),
    request_body = NewBankQuestion, responses((status = 201, body = BankQuestion)))]
async fn bank_question_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    create: Create<NewBankQuestion>,
) -> Answer {
    let made =
        teaching::bank_question_create(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/cohorts/{}/questions", id.0), &made)
}

/// List the bank of a cohort
///
/// The oldest question first, with its answer. For the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/cohorts/{id}/questions",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"), PageQuery),
    responses((status = 200, body = Page<BankQuestion>)))]
async fn bank_question_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<CohortId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &teaching::bank_questions(&state.clinic, &caller.0, id.0, &query.0).await?)
}
