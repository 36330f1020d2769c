//! Competencies, sign-offs and their credentials.

use crate::mount::{Mount, operations};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use clinic::competencies;
use wire::ids::{CohortId, PersonId, SignOffId};
use wire::teaching::{
    Competencies, Competency, CredentialQuery, CredentialStatus, NewCompetency, NewRevocation, NewSignOff,
    SignOff, StudentCompetencies,
};

use crate::answer::{self, Answer};
use crate::badge;
use crate::body::Create;
use crate::caller::{self, Caller};
use crate::params::{Path, Query};
use crate::problem::Refusal;
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        competencies_list,
        competency_create,
        competencies_own,
        competencies_of,
        sign_off_create,
        sign_off_revoke,
        credential_get,
        credentials_revoked,
        credential_status
    );
}

/// List the clinic's competencies
///
/// What a student can be signed off as able to do, each with its rule. For every person.
#[utoipa::path(get, path = "/v1/competencies",
    tag = "teaching", responses((status = 200, body = Competencies)))]
async fn competencies_list(request: HttpRequest, state: Data<ApiState>, caller: Caller) -> Answer {
    answer::read(&request, &competencies::all(&state.clinic, &caller.0).await?)
}

/// Add a competency
///
/// It never changes: another takes its place. For instructors and administrators.
#[utoipa::path(post, path = "/v1/competencies",
    tag = "teaching", request_body = NewCompetency, responses((status = 201, body = Competency)))]
async fn competency_create(state: Data<ApiState>, caller: Caller, create: Create<NewCompetency>) -> Answer {
    let made = competencies::create(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created("/v1/competencies", &made)
}

/// Read how you stand with every competency
///
/// What counts for each rule, and your last sign-off. For students.
#[utoipa::path(get, path = "/v1/progress/competencies",
    tag = "teaching", responses((status = 200, body = StudentCompetencies)))]
async fn competencies_own(request: HttpRequest, state: Data<ApiState>, caller: Caller) -> Answer {
    answer::read(&request, &competencies::own(&state.clinic, &caller.0).await?)
}

/// Read how a student stands with every competency
///
/// By work in all cohorts; what is closed to you as a second marker does not count. For the cohort's instructors and markers.
#[utoipa::path(get, path = "/v1/cohorts/{id}/students/{person}/competencies",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"),
    ("person" = PersonId, Path, description = "The student")), responses((status = 200, body = StudentCompetencies)))]
async fn competencies_of(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(CohortId, PersonId)>,
) -> Answer {
    let (id, person) = path.0;
    answer::read(&request, &competencies::of(&state.clinic, &caller.0, id, person).await?)
}

/// Sign a student off
///
/// Your word that the student can do it, once what the rule asks for is there. It ends after the months of the competency.
/// For the cohort's instructors who declared no relation to the student.
#[utoipa::path(post, path = "/v1/cohorts/{id}/students/{person}/sign-offs",
    tag = "teaching", params(("id" = CohortId, Path, description = "The cohort"),
    ("person" = PersonId, Path, description = "The student")),
    request_body = NewSignOff, responses((status = 201, body = SignOff)))]
async fn sign_off_create(
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(CohortId, PersonId)>,
    create: Create<NewSignOff>,
) -> Answer {
    let (id, person) = path.0;
    let made = competencies::sign(&state.clinic, &caller.0, &create.once, (id, person), &create.body).await?;
    answer::created(&format!("/v1/cohorts/{id}/students/{person}/competencies"), &made)
}

/// Take a sign-off back
///
/// With the reason, once. Its credential is listed as revoked from then on. For the instructors of the cohort in which it was
/// signed.
#[utoipa::path(post, path = "/v1/sign-offs/{id}/revocation",
    tag = "teaching", params(("id" = SignOffId, Path, description = "The sign-off")),
    request_body = NewRevocation, responses((status = 201, body = SignOff)))]
async fn sign_off_revoke(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<SignOffId>,
    create: Create<NewRevocation>,
) -> Answer {
    let taken = competencies::revoke(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/credentials/{}", id.0), &taken)
}

/// Get the credential of your sign-off
///
/// An Open Badges 3.0 credential (Verifiable Credentials 2.0), secured as a JWT with the service's published keys. It says
/// your sign-in name, and your name where you ask for it. For its holder, while it holds.
#[utoipa::path(get, path = "/v1/sign-offs/{id}/credential",
    tag = "teaching", params(("id" = SignOffId, Path, description = "The sign-off"), CredentialQuery),
    responses((status = 200, content_type = "application/vc+jwt", body = String, example = "eyJhbGciOiJFZERTQSJ9.e30.c2ln")))]
async fn credential_get(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<SignOffId>,
    query: Query<CredentialQuery>,
) -> Answer {
    let facts = competencies::credential(&state.clinic, &caller.0, id.0, query.0.with_name).await?;
    let signed = state.tokens.credential(&facts);
    let signed = signed.ok_or_else(|| clinic::Error::internal("a credential that was not signed"))?;
    Ok(HttpResponse::Ok().content_type(badge::MEDIA_TYPE).body(signed))
}

/// Counts a request of whoever asks, by where it comes from: these two are asked by anybody and read the database.
fn stranger(request: &HttpRequest, state: &ApiState) -> Result<(), Refusal> {
    caller::count_stranger(request, state).map_err(|retry_after| Refusal::TooFast { retry_after })
}

/// List the credentials that were taken back
///
/// Those whose time is not over, as Open Badges 3.0 lists them: numbers, and nothing of anybody.
#[utoipa::path(get, path = "/v1/credentials/revoked",
    tag = "teaching", responses((status = 200, body = serde_json::Value)), security(()))]
async fn credentials_revoked(request: HttpRequest, state: Data<ApiState>) -> Answer {
    stranger(&request, &state)?;
    let ids = competencies::revoked(&state.clinic).await?;
    answer::read(&request, &badge::revoked(&ids, state.tokens.issuer()))
}

/// Read whether a credential holds
///
/// `valid`, `expired` or `revoked`, for anybody who has its number. It tells nothing of anybody.
#[utoipa::path(get, path = "/v1/credentials/{id}",
    tag = "teaching", params(("id" = SignOffId, Path, description = "The number of the credential")),
    responses((status = 200, body = CredentialStatus)), security(()))]
async fn credential_status(request: HttpRequest, state: Data<ApiState>, id: Path<SignOffId>) -> Answer {
    stranger(&request, &state)?;
    answer::read(&request, &competencies::status(&state.clinic, id.0).await?)
}
