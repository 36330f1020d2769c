//! People, invitations, API clients, the clinic's policy and the journal.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::{journal, people, policy, security};
use wire::ids::{ApiClientId, PersonId};
use wire::journal::{Event, EventQuery};
use wire::page::{Page, PageQuery};
use wire::people::{ApiClient, Invite, NewApiClient, OneTimeCode, Person, PersonChange};
use wire::policy::{Policy, PolicyContent};
use wire::security::{SecurityEvent, SecurityEventQuery};

use crate::answer::{self, Answer};
use crate::body::{Body, Create, Key};
use crate::caller::Caller;
use crate::params::{IfMatch, Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        invitation_create,
        person_list,
        person_view,
        person_change,
        person_reset,
        api_client_create,
        api_client_list,
        api_client_view,
        api_client_revoke,
        policy_view,
        policy_change,
        event_list,
        security_event_list
    );
}

/// Invite a person
///
/// Creates the account and a one-time code, shown once. For administrators.
#[utoipa::path(post, path = "/v1/invitations",
    tag = "people", request_body = Invite, responses((status = 201, body = OneTimeCode)))]
async fn invitation_create(state: Data<ApiState>, caller: Caller, create: Create<Invite>) -> Answer {
    let made = people::invite(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created(&format!("/v1/people/{}", made.person.id), &made)
}

/// List people
///
/// By name. For instructors and administrators.
#[utoipa::path(get, path = "/v1/people",
    tag = "people", params(PageQuery), responses((status = 200, body = Page<Person>)))]
async fn person_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &people::people(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a person
#[utoipa::path(get, path = "/v1/people/{id}",
    tag = "people", params(("id" = PersonId, Path, description = "The person")),
    responses((status = 200, body = Person)))]
async fn person_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<PersonId>,
) -> Answer {
    answer::versioned(&request, &people::person(&state.clinic, &caller.0, id.0).await?)
}

/// Change an account
///
/// Name, role, or state. Takes effect with the person's next request. For administrators.
#[utoipa::path(patch, path = "/v1/people/{id}",
    tag = "people", params(("id" = PersonId, Path, description = "The person")),
    request_body = PersonChange, responses((status = 200, body = Person)))]
async fn person_change(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<PersonId>,
    version: IfMatch,
    body: Body<PersonChange>,
) -> Answer {
    answer::changed(&people::change(&state.clinic, &caller.0, id.0, version.0, &body.0).await?)
}

/// Start a password reset
///
/// Creates a one-time code, shown once, with which the person sets a new password. For administrators.
#[utoipa::path(post, path = "/v1/people/{id}/reset",
    tag = "people", params(("id" = PersonId, Path, description = "The person")),
    responses((status = 201, body = OneTimeCode)))]
async fn person_reset(state: Data<ApiState>, caller: Caller, id: Path<PersonId>, key: Key) -> Answer {
    let made = people::reset(&state.clinic, &caller.0, &key.0, id.0).await?;
    answer::created(&format!("/v1/people/{}", made.person.id), &made)
}

/// Create an API client
///
/// The key is shown in this response only. For administrators. Before the client can read a recipe: create it here; add
/// it to each library that it may read (`PUT /v1/libraries/{id}/members/{holder}`); and have its responsible person
/// acknowledge the cautions of each formula for it (`for_api_client`), or give it the scope `acknowledge` to do so on
/// that person's authority.
#[utoipa::path(post, path = "/v1/api-clients",
    tag = "API clients", request_body = NewApiClient, responses((status = 201, body = ApiClient)))]
async fn api_client_create(state: Data<ApiState>, caller: Caller, create: Create<NewApiClient>) -> Answer {
    let made = people::api_client_create(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created_version(&format!("/v1/api-clients/{}", made.value.id), &made)
}

/// List API clients
///
/// Administrators see all, others those that they are responsible for.
#[utoipa::path(get, path = "/v1/api-clients",
    tag = "API clients", params(PageQuery), responses((status = 200, body = Page<ApiClient>)))]
async fn api_client_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &people::api_clients(&state.clinic, &caller.0, &query.0).await?)
}

/// Read an API client
#[utoipa::path(get, path = "/v1/api-clients/{id}",
    tag = "API clients", params(("id" = ApiClientId, Path, description = "The client")),
    responses((status = 200, body = ApiClient)))]
async fn api_client_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ApiClientId>,
) -> Answer {
    answer::versioned(&request, &people::api_client(&state.clinic, &caller.0, id.0).await?)
}

/// Revoke an API client's key
///
/// Takes effect at once. For administrators and the responsible person. The client stays in the record.
#[utoipa::path(delete, path = "/v1/api-clients/{id}",
    tag = "API clients", params(("id" = ApiClientId, Path, description = "The client")),
    responses((status = 200, body = ApiClient)))]
async fn api_client_revoke(state: Data<ApiState>, caller: Caller, id: Path<ApiClientId>) -> Answer {
    answer::changed(&people::api_client_revoke(&state.clinic, &caller.0, id.0).await?)
}

/// Read the clinic's policy
#[utoipa::path(get, path = "/v1/policy",
    tag = "clinic", responses((status = 200, body = Policy)))]
async fn policy_view(request: HttpRequest, state: Data<ApiState>, caller: Caller) -> Answer {
    answer::versioned(&request, &policy::policy(&state.clinic, &caller.0).await?)
}

/// Change the clinic's policy
///
/// Puts a new version into force. Batches keep the version they were opened under. For administrators.
#[utoipa::path(put, path = "/v1/policy",
    tag = "clinic", request_body = PolicyContent, responses((status = 200, body = Policy)))]
async fn policy_change(
    state: Data<ApiState>,
    caller: Caller,
    version: IfMatch,
    body: Body<PolicyContent>,
) -> Answer {
    answer::changed(&policy::policy_change(&state.clinic, &caller.0, version.0, &body.0).await?)
}

/// List events
///
/// Who changed which subject, and when; oldest first. Name one `subject`; only administrators may omit it. Students and
/// API clients are not told who else acknowledges, reads or is a member.
#[utoipa::path(get, path = "/v1/events",
    tag = "clinic", params(EventQuery), responses((status = 200, body = Page<Event>)))]
async fn event_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<EventQuery>,
) -> Answer {
    answer::page(&request, &journal::events(&state.clinic, &caller.0, &query.0).await?)
}

/// List security events
///
/// Who tried and was refused, the newest first: failed sign-ins, codes and refresh tokens, refused requests, limited
/// callers. Several attempts of one kind by one caller from one network are one event with a count. They are no part of
/// the journal, and are removed after the clinic's retention. For administrators.
#[utoipa::path(get, path = "/v1/security-events",
    tag = "clinic", params(SecurityEventQuery), responses((status = 200, body = Page<SecurityEvent>)))]
async fn security_event_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<SecurityEventQuery>,
) -> Answer {
    answer::page(&request, &security::security_events(&state.clinic, &caller.0, &query.0).await?)
}
