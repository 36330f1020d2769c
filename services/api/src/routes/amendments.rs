//! Amendments: changes of materials and of the clinic's own cautions, and what they mean for formulas.

use crate::mount::Mount;
use actix_web::web::Data;
use actix_web::{HttpRequest, get, post};
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
    config
        .service(amendment_create)
        .service(amendment_list)
        .service(amendment_view)
        .service(amendment_decide)
        .service(affected_list)
        .service(revision_reinstate);
}

/// Amend a material or a caution
///
/// By an instructor. A new or merged material, a table of materials, a revision that touches the safety of a material,
/// and a caution that is lowered or set aside wait for a second instructor; anything else is in force at once. What is
/// in force renews the cautions of every formula that it reaches, through every level of nesting.
#[utoipa::path(tag = "amendments", request_body = NewAmendment, responses((status = 201, body = Amendment)))]
#[post("/v1/amendments")]
async fn amendment_create(state: Data<ApiState>, caller: Caller, create: Create<NewAmendment>) -> Answer {
    let made = amendments::make(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created(&format!("/v1/amendments/{}", made.id), &made)
}

/// List amendments
///
/// Oldest first. `state=awaiting_second_person` is what waits for a decision.
#[utoipa::path(tag = "amendments", params(AmendmentQuery), responses((status = 200, body = Page<Amendment>)))]
#[get("/v1/amendments")]
async fn amendment_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<AmendmentQuery>,
) -> Answer {
    answer::page(&request, &amendments::amendments(&state.clinic, &caller.0, &query.0).await?)
}

/// Look at an amendment
#[utoipa::path(tag = "amendments", params(("id" = AmendmentId, Path, description = "The amendment")),
    responses((status = 200, body = Amendment)))]
#[get("/v1/amendments/{id}")]
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
/// By an instructor who did not make it; its author may refuse it, to take it back.
#[utoipa::path(tag = "amendments", params(("id" = AmendmentId, Path, description = "The amendment")),
    request_body = DecideAmendment, responses((status = 200, body = Amendment)))]
#[post("/v1/amendments/{id}/decision")]
async fn amendment_decide(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AmendmentId>,
    body: Body<DecideAmendment>,
) -> Answer {
    answer::read(&request, &amendments::decide(&state.clinic, &caller.0, id.0, &body.0).await?)
}

/// List what an amendment changed
///
/// The revisions whose cautions or evaluation are no longer what they were, each with everybody who made it or read its
/// recipe in the year before. An instructor sees the libraries shared with them, an administrator all.
#[utoipa::path(tag = "amendments",
    params(("id" = AmendmentId, Path, description = "The amendment"), PageQuery),
    responses((status = 200, body = Page<AffectedRevision>)))]
#[get("/v1/amendments/{id}/affected")]
async fn affected_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<AmendmentId>,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &amendments::affected(&state.clinic, &caller.0, id.0, &query.0).await?)
}

/// Let a withheld revision be made again
///
/// By an instructor, once no stop stands in its caution set any more. Otherwise it is withdrawn.
#[utoipa::path(tag = "revisions", params(("id" = RevisionId, Path, description = "The revision")),
    request_body = Reinstate, responses((status = 200, body = Revision)))]
#[post("/v1/revisions/{id}/reinstatement")]
async fn revision_reinstate(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    body: Body<Reinstate>,
) -> Answer {
    answer::changed(&amendments::reinstate(&state.clinic, &caller.0, id.0, &body.0).await?)
}
