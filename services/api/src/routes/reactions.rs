//! Suspected adverse reactions: reports and cases.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::reactions;
use wire::ids::{JarId, ReactionCaseId};
use wire::page::Page;
use wire::reactions::{
    NewConclusion, NewErasure, NewJoining, NewReaction, NewReactionNote, ReactionCase, ReactionCaseSummary,
    ReactionQuery, ReactionReceipt,
};

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        reaction_tell,
        reaction_list,
        reaction_view,
        reaction_note,
        reaction_join,
        reaction_conclude,
        reaction_erase
    );
}

fn address(id: ReactionCaseId) -> String {
    format!("/v1/reactions/{id}")
}

/// Report a reaction to what is in a jar
///
/// As it was told at the clinic, without a name. It opens a case, which instructors and administrators of the library of the
/// jar read. Whoever holds the jar reports without an account, on the page of the jar. For members of the library.
#[utoipa::path(post, path = "/v1/jars/{id}/reactions",
    tag = "reactions", params(("id" = JarId, Path, description = "The jar")),
    request_body = NewReaction, responses((status = 201, body = ReactionReceipt)))]
async fn reaction_tell(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<JarId>,
    create: Create<NewReaction>,
) -> Answer {
    let told = reactions::tell_at_clinic(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created("/v1/reactions", &told)
}

/// List cases of reactions
///
/// The newest first. For instructors and administrators, of the libraries that they are members of.
#[utoipa::path(get, path = "/v1/reactions",
    tag = "reactions", params(ReactionQuery),
    responses((status = 200, body = Page<ReactionCaseSummary>)))]
async fn reaction_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<ReactionQuery>,
) -> Answer {
    answer::page(&request, &reactions::cases(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a case of a reaction
///
/// Its reports, what was found out, and what it has in common with other cases: lots and batches at any depth, formula,
/// materials through every level, botanical families. For instructors and administrators of the libraries of its jars.
#[utoipa::path(get, path = "/v1/reactions/{id}",
    tag = "reactions", params(("id" = ReactionCaseId, Path, description = "The case")),
    responses((status = 200, body = ReactionCase)))]
async fn reaction_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ReactionCaseId>,
) -> Answer {
    answer::read_large(&request, reactions::case(&state.clinic, &caller.0, id.0).await?).await
}

/// Note what was found out about a reaction
///
/// A note stays as it was written. For instructors of the libraries of the case, while it is open.
#[utoipa::path(post, path = "/v1/reactions/{id}/notes",
    tag = "reactions", params(("id" = ReactionCaseId, Path, description = "The case")),
    request_body = NewReactionNote, responses((status = 201, body = ReactionCase)))]
async fn reaction_note(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ReactionCaseId>,
    create: Create<NewReactionNote>,
) -> Answer {
    let case = reactions::note(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(id.0), &case)
}

/// Join a case of a reaction to another
///
/// Its reports stand in the other case from then on, which is answered. For instructors of the libraries of both.
#[utoipa::path(post, path = "/v1/reactions/{id}/joining",
    tag = "reactions", params(("id" = ReactionCaseId, Path, description = "The case that ends")),
    request_body = NewJoining, responses((status = 201, body = ReactionCase)))]
async fn reaction_join(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ReactionCaseId>,
    create: Create<NewJoining>,
) -> Answer {
    let case = reactions::join(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(case.summary.id), &case)
}

/// Close a case of a reaction
///
/// With how likely it is that the product was the cause, and the conclusion. It never opens again. For instructors of the
/// libraries of the case.
#[utoipa::path(post, path = "/v1/reactions/{id}/conclusion",
    tag = "reactions", params(("id" = ReactionCaseId, Path, description = "The case")),
    request_body = NewConclusion, responses((status = 201, body = ReactionCase)))]
async fn reaction_conclude(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ReactionCaseId>,
    create: Create<NewConclusion>,
) -> Answer {
    let case = reactions::conclude(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(id.0), &case)
}

/// Remove the words of a report
///
/// Where they name somebody. That the report came, about which jar, and how it ended stays. For instructors of the libraries
/// of the case.
#[utoipa::path(post, path = "/v1/reactions/{id}/erasures",
    tag = "reactions", params(("id" = ReactionCaseId, Path, description = "The case")),
    request_body = NewErasure, responses((status = 201, body = ReactionCase)))]
async fn reaction_erase(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<ReactionCaseId>,
    create: Create<NewErasure>,
) -> Answer {
    let case = reactions::erase(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&address(id.0), &case)
}
