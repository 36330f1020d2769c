//! Libraries and their members.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::formulary;
use wire::formulary::{Library, Member, NewLibrary};
use wire::ids::{HolderId, LibraryId};
use wire::page::{Page, PageQuery};

use crate::answer::{self, Answer};
use crate::body::{Body, Create};
use crate::caller::Caller;
use crate::params::{IfMatch, Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        library_create,
        library_list,
        library_view,
        library_change,
        member_list,
        member_add,
        member_remove
    );
}

/// Create a library
///
/// For instructors. Its creator becomes the first member.
#[utoipa::path(post, path = "/v1/libraries",
    tag = "libraries", request_body = NewLibrary, responses((status = 201, body = Library)))]
async fn library_create(state: Data<ApiState>, caller: Caller, create: Create<NewLibrary>) -> Answer {
    let made = formulary::library_create(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created_version(&format!("/v1/libraries/{}", made.value.id), &made)
}

/// List your libraries
///
/// By name. Administrators see all libraries, but only members see the formulas.
#[utoipa::path(get, path = "/v1/libraries",
    tag = "libraries", params(PageQuery), responses((status = 200, body = Page<Library>)))]
async fn library_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &formulary::libraries(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a library
#[utoipa::path(get, path = "/v1/libraries/{id}",
    tag = "libraries", params(("id" = LibraryId, Path, description = "The library")),
    responses((status = 200, body = Library)))]
async fn library_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LibraryId>,
) -> Answer {
    answer::versioned(&request, &formulary::library(&state.clinic, &caller.0, id.0).await?)
}

/// Change a library
#[utoipa::path(put, path = "/v1/libraries/{id}",
    tag = "libraries", params(("id" = LibraryId, Path, description = "The library")),
    request_body = NewLibrary, responses((status = 200, body = Library)))]
async fn library_change(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LibraryId>,
    version: IfMatch,
    body: Body<NewLibrary>,
) -> Answer {
    answer::changed(&formulary::library_change(&state.clinic, &caller.0, id.0, version.0, &body.0).await?)
}

/// List a library's members
///
/// For the library's instructors, and for administrators.
#[utoipa::path(get, path = "/v1/libraries/{id}/members",
    tag = "libraries", params(("id" = LibraryId, Path, description = "The library"), PageQuery),
    responses((status = 200, body = Page<Member>)))]
async fn member_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LibraryId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &formulary::members(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// Add a member
///
/// A person or an API client. Adding a member again changes nothing.
#[utoipa::path(put, path = "/v1/libraries/{id}/members/{holder}",
    tag = "libraries",
    params(("id" = LibraryId, Path, description = "The library"),
        ("holder" = HolderId, Path, description = "The person or API client")),
    responses((status = 204)))]
async fn member_add(state: Data<ApiState>, caller: Caller, path: Path<(LibraryId, HolderId)>) -> Answer {
    formulary::member_add(&state.clinic, &caller.0, path.0.0, path.0.1).await?;
    answer::done()
}

/// Remove a member
///
/// The member loses access to every recipe of the library at once.
#[utoipa::path(delete, path = "/v1/libraries/{id}/members/{holder}",
    tag = "libraries",
    params(("id" = LibraryId, Path, description = "The library"),
        ("holder" = HolderId, Path, description = "The person or API client")),
    responses((status = 204)))]
async fn member_remove(state: Data<ApiState>, caller: Caller, path: Path<(LibraryId, HolderId)>) -> Answer {
    formulary::member_remove(&state.clinic, &caller.0, path.0.0, path.0.1).await?;
    answer::done()
}
