//! Revisions: editing drafts, proposing, deciding, withdrawing.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::{formulary, recipes};
use wire::formulary::{Decide, FormulaContent, Revision, RevisionComment, Withdraw};
use wire::ids::RevisionId;
use wire::recipe::{CompositionQuery, Evaluate, Evaluation, ExplainQuery};

use crate::answer::{self, Answer};
use crate::body::Body;
use crate::caller::Caller;
use crate::params::{Explained, IfMatch, Nothing, Path};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        revision_view,
        draft_view,
        draft_change,
        draft_evaluation,
        evaluation_create,
        revision_propose,
        revision_decide,
        revision_withdraw,
        comment_list
    );
}

/// Read a revision
///
/// Everything but amounts and method: title, kind, ingredient names and their order, cautions.
#[utoipa::path(get, path = "/v1/revisions/{id}",
    tag = "revisions", params(("id" = RevisionId, Path, description = "The revision")),
    responses((status = 200, body = Revision)))]
async fn revision_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
) -> Answer {
    answer::versioned(&request, &formulary::revision(&state.clinic, &caller.0, id.0).await?)
}

/// Read your draft
///
/// As written. Only the author may read a draft.
#[utoipa::path(get, path = "/v1/revisions/{id}/draft",
    tag = "revisions", params(("id" = RevisionId, Path, description = "The revision")),
    responses((status = 200, body = FormulaContent)))]
async fn draft_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
) -> Answer {
    answer::versioned(&request, &formulary::draft(&state.clinic, &caller.0, id.0).await?)
}

/// Change your draft
///
/// Replaces the whole draft. The new content is evaluated before it is saved.
#[utoipa::path(put, path = "/v1/revisions/{id}/draft",
    tag = "revisions", params(("id" = RevisionId, Path, description = "The revision")),
    request_body = FormulaContent, responses((status = 200, body = FormulaContent)))]
async fn draft_change(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    version: IfMatch,
    body: Body<FormulaContent>,
) -> Answer {
    answer::changed(&formulary::draft_change(&state.clinic, &caller.0, id.0, version.0, &body.0).await?)
}

/// Evaluate your draft
///
/// Composition, totals, oil to water, emulsifier to oil, dried herb, and missing data. With `explain=true` every figure
/// states its rule and inputs.
#[utoipa::path(get, path = "/v1/revisions/{id}/draft/evaluation",
    tag = "revisions",
    params(("id" = RevisionId, Path, description = "The revision"), CompositionQuery, ExplainQuery),
    responses((status = 200, body = Evaluation)))]
async fn draft_evaluation(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    asked: Explained<CompositionQuery>,
) -> Answer {
    let Explained { detail, query } = asked;
    let evaluation =
        formulary::draft_evaluation(&state.clinic, &caller.0, id.0, query.composition, detail).await?;
    answer::read_large(&request, evaluation).await
}

/// Evaluate a formula without saving it
///
/// For checking a formula while writing it, also one that nests your own drafts, which need no approval for a trial.
/// Creates nothing and needs no Idempotency-Key.
#[utoipa::path(post, path = "/v1/evaluations",
    tag = "revisions", params(ExplainQuery), request_body = Evaluate,
    responses((status = 200, body = Evaluation)))]
async fn evaluation_create(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    asked: Explained<Nothing>,
    body: Body<Evaluate>,
) -> Answer {
    let evaluation = formulary::evaluate(&state.clinic, &caller.0, &body.0, asked.detail).await?;
    answer::read_large(&request, evaluation).await
}

/// Propose your draft
///
/// The content is frozen, gets its digest and its caution set, and waits for another instructor's decision.
#[utoipa::path(post, path = "/v1/revisions/{id}/proposal",
    tag = "revisions", params(("id" = RevisionId, Path, description = "The revision")),
    responses((status = 200, body = Revision)))]
async fn revision_propose(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    version: IfMatch,
) -> Answer {
    answer::changed(&formulary::propose(&state.clinic, &caller.0, id.0, version.0).await?)
}

/// Return or approve a proposed revision
///
/// For instructors other than its author who have acknowledged its cautions. Returning needs a comment and starts a new
/// draft for the author. Approving supersedes the previously approved revision.
#[utoipa::path(post, path = "/v1/revisions/{id}/decision",
    tag = "revisions", params(("id" = RevisionId, Path, description = "The revision")),
    request_body = Decide, responses((status = 200, body = Revision)))]
async fn revision_decide(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    body: Body<Decide>,
) -> Answer {
    answer::changed(&formulary::decide(&state.clinic, &caller.0, id.0, &body.0).await?)
}

/// Withdraw an approved revision
///
/// Its recipe, and the recipe of every formula that contains it, is closed to all users at once.
#[utoipa::path(post, path = "/v1/revisions/{id}/withdrawal",
    tag = "revisions", params(("id" = RevisionId, Path, description = "The revision")),
    request_body = Withdraw, responses((status = 200, body = Revision)))]
async fn revision_withdraw(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
    body: Body<Withdraw>,
) -> Answer {
    answer::changed(&formulary::withdraw(&state.clinic, &caller.0, id.0, &body.0).await?)
}

/// Read the comments on a revision
///
/// The comments given with decisions. They may name amounts, so only the author of the revision and users who have
/// acknowledged its cautions may read them.
#[utoipa::path(get, path = "/v1/revisions/{id}/comments",
    tag = "revisions", params(("id" = RevisionId, Path, description = "The revision")),
    responses((status = 200, body = Vec<RevisionComment>)))]
async fn comment_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<RevisionId>,
) -> Answer {
    answer::read(&request, &recipes::comments(&state.clinic, &caller.0, id.0).await?)
}
