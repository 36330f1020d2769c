//! Amendments: changes of materials and of the clinic's own cautions, and what they mean for formulas.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::amendments;
use wire::amendments::{
    AffectedRevision, Amendment, AmendmentQuery, DecideAmendment, NewAmendment, Reinstate,
};
use wire::formulary::Revision;
use wire::ids::{AmendmentId, RevisionId};
use wire::page::{Page, PageQuery};

use crate::answer::{self, Answer};
use crate::body::{Body, Create};
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        amendment_create,
        amendment_list,
        amendment_view,
        amendment_decide,
        affected_list,
        revision_reinstate
    );
}

/// Amend a material or a caution
///
/// For instructors. These wait for a second instructor: a new or merged material, a table of materials, a revision that
/// touches the safety of a material, and a caution that is lowered or set aside. Every other amendment is in force at
/// once. An amendment in force recomputes the cautions of every formula that contains the material, at any depth.
#[utoipa::path(post, path = "/v1/amendments",
    tag = "amendments", request_body = NewAmendment, responses((status = 201, body = Amendment)))]
async fn amendment_create(state: Data<ApiState>, caller: Caller, create: Create<NewAmendment>) -> Answer {
    let made = amendments::make(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created(&format!("/v1/amendments/{}", made.id), &made)
}

/// List amendments
///
/// Oldest first. `state=awaiting_second_person` lists those that wait for a decision.
#[utoipa::path(get, path = "/v1/amendments",
    tag = "amendments", params(AmendmentQuery), responses((status = 200, body = Page<Amendment>)))]
async fn amendment_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<AmendmentQuery>,
) -> Answer {
    answer::page(&request, &amendments::amendments(&state.clinic, &caller.0, &query.0).await?)
}

/// Read an amendment
#[utoipa::path(get, path = "/v1/amendments/{id}",
    tag = "amendments", params(("id" = AmendmentId, Path, description = "The amendment")),
    responses((status = 200, body = Amendment)))]
async fn amendment_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AmendmentId>,
) -> Answer {
    answer::read(&request, &amendments::amendment(&state.clinic, &caller.0, id.0).await?)
}

/// Confirm or refuse an amendment
///
/// For instructors other than its author. The author may refuse it, to withdraw it.
#[utoipa::path(post, path = "/v1/amendments/{id}/decision",
    tag = "amendments", params(("id" = AmendmentId, Path, description = "The amendment")),
    request_body = DecideAmendment, responses((status = 200, body = Amendment)))]
async fn amendment_decide(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AmendmentId>,
    body: Body<DecideAmendment>,
) -> Answer {
    answer::read(&request, &amendments::decide(&state.clinic, &caller.0, id.0, &body.0).await?)
}

/// List the formulas that an amendment affects
///
/// The revisions whose cautions or evaluation changed, each with the people who made it or read its recipe in the year
/// before. Instructors see the libraries shared with them, administrators all.
#[utoipa::path(get, path = "/v1/amendments/{id}/affected",
    tag = "amendments",
    params(("id" = AmendmentId, Path, description = "The amendment"), PageQuery),
    responses((status = 200, body = Page<AffectedRevision>)))]
async fn affected_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AmendmentId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &amendments::affected(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// Reinstate a withheld revision
///
/// For instructors, once its caution set holds no stop. Until then it can only be withdrawn.
#[utoipa::path(post, path = "/v1/revisions/{id}/reinstatement",
    tag = "revisions", params(("id" = RevisionId, Path, description = "The revision")),
    request_body = Reinstate, responses((status = 200, body = Revision)))]
async fn revision_reinstate(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    body: Body<Reinstate>,
) -> Answer {
    answer::changed(&amendments::reinstate(&state.clinic, &caller.0, id.0, &body.0).await?)
}
