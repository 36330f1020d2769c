//! Jars of a batch, and whether what is in them may be used.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::jars;
use wire::ids::{BatchId, JarId};
use wire::jars::{
    JarQuery, JarSheet, Jars, JarsHere, NewDecanting, NewDiscard, NewHanding, NewJarReturn, NewJars,
    NewRelease, NewSample, ReleaseSheet,
};
use wire::page::Page;

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        jar_list,
        jar_shelf,
        jar_scan,
        jar_create,
        release_sheet,
        batch_release,
        batch_discard,
        jar_view,
        jar_hand,
        jar_return,
        jar_decant,
        jar_keep
    );
}

/// List the jars of a batch
///
/// With what is left of the yield, and every decision about what was made. The page of a jar, at `page`, is open to whoever
/// holds it.
#[utoipa::path(get, path = "/v1/batches/{id}/jars",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = Jars)))]
async fn jar_list(request: HttpRequest, state: Data<ApiState>, caller: Caller, id: Path<BatchId>) -> Answer {
    answer::read(&request, &jars::jars(&state.clinic, &caller.0, id.0).await?)
}

/// Fill jars from a batch
///
/// Its record is accepted. The jars are numbered within the batch; each has a code chosen at random, and keeps as long as the
/// label of the batch says. All jars and lots of a batch hold no more than its recorded yield, less what was lost or kept as a
/// sample since.
#[utoipa::path(post, path = "/v1/batches/{id}/jars",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewJars, responses((status = 201, body = Jars)))]
async fn jar_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewJars>,
) -> Answer {
    let filled = jars::fill(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/jars", id.0), &filled)
}

/// Read what a release asks for
///
/// The label by what was weighed, each of its cautions with the `id` that a release names, and what keeps the batch from being
/// released. For instructors who have acknowledged the cautions of the formula and of everything nested in it.
#[utoipa::path(get, path = "/v1/batches/{id}/release",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = ReleaseSheet)))]
async fn release_sheet(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
) -> Answer {
    answer::read(&request, &jars::release_sheet(&state.clinic, &caller.0, id.0).await?)
}

/// Release what a batch made
///
/// Out of quarantine, by an instructor who did not make it and confirms every caution of the label. Refused while a limit is
/// exceeded or unknown, the date is unknown or past, the pH is not measured or not where the preservative works, a hold is not
/// signed, or a stop stands. What was made for practice is never released.
#[utoipa::path(post, path = "/v1/batches/{id}/release",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewRelease, responses((status = 201, body = Jars)))]
async fn batch_release(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewRelease>,
) -> Answer {
    let released = jars::release(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/jars", id.0), &released)
}

/// Discard what a batch made
///
/// With the reason, whether it was released, recalled or neither. Nothing leads back.
#[utoipa::path(post, path = "/v1/batches/{id}/discard",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewDiscard, responses((status = 201, body = Jars)))]
async fn batch_discard(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewDiscard>,
) -> Answer {
    let discarded = jars::discard(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/jars", id.0), &discarded)
}

/// List the jars on the shelf
///
/// Of the libraries of the caller, those that were filled alike together, in the order of the last day on their labels. What
/// was handed out, kept as a sample, emptied, recalled or discarded is not among them. `of=ready` lists what may be handed out
/// today. For instructors, and for API clients with the scope `jars:read`.
#[utoipa::path(get, path = "/v1/jars",
    tag = "batches", params(JarQuery), responses((status = 200, body = Page<JarsHere>)))]
async fn jar_shelf(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<JarQuery>,
) -> Answer {
    answer::page(&request, &jars::here(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a jar by its code
///
/// As it was scanned or typed: with capitals, spaces or dashes, it is the same code. Answers what `/v1/jars/{id}` answers.
#[utoipa::path(get, path = "/v1/jar-codes/{code}",
    tag = "batches", params(("code" = String, Path, description = "The code on the jar",
        example = "4t6qk0x9w2m8n5c7r3h1vjzb0e")),
    responses((status = 200, body = JarSheet)))]
async fn jar_scan(request: HttpRequest, state: Data<ApiState>, caller: Caller, code: Path<String>) -> Answer {
    answer::read(&request, &jars::sheet_of_code(&state.clinic, &caller.0, &code.0).await?)
}

/// Read a jar
///
/// With the cautions that are told when it is handed out, why it is not, and where it went. For instructors of its library, and
/// for its API clients with the scope `jars:read`, who are not told where it went.
#[utoipa::path(get, path = "/v1/jars/{id}",
    tag = "batches", params(("id" = JarId, Path, description = "The jar")),
    responses((status = 200, body = JarSheet)))]
async fn jar_view(request: HttpRequest, state: Data<ApiState>, caller: Caller, id: Path<JarId>) -> Answer {
    answer::read(&request, &jars::sheet(&state.clinic, &caller.0, id.0).await?)
}

/// Hand a jar out
///
/// To a reference of the clinic's own, never to a name. It is released and in date; it was asked whether it suits, and the
/// answer is stored nowhere; its cautions and how long it keeps once opened were told. Once a jar.
#[utoipa::path(post, path = "/v1/jars/{id}/handing",
    tag = "batches", params(("id" = JarId, Path, description = "The jar")),
    request_body = NewHanding, responses((status = 201, body = JarSheet)))]
async fn jar_hand(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<JarId>,
    create: Create<NewHanding>,
) -> Answer {
    let handed = jars::hand(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/jars/{}", id.0), &handed)
}

/// Take a jar back
///
/// Full or not, it is never handed out again.
#[utoipa::path(post, path = "/v1/jars/{id}/return",
    tag = "batches", params(("id" = JarId, Path, description = "The jar")),
    request_body = NewJarReturn, responses((status = 201, body = JarSheet)))]
async fn jar_return(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<JarId>,
    create: Create<NewJarReturn>,
) -> Answer {
    let back = jars::take_back(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/jars/{}", id.0), &back)
}

/// Decant a jar
///
/// What a jar on the shelf holds is filled into smaller ones of its batch, with numbers, codes and pages of their own. They keep
/// as long as the jar did, and hold no more together; what is missing was lost. The jar is empty then. Never of a jar that was
/// handed out, whether or not it came back, of a sample, or of what was recalled.
#[utoipa::path(post, path = "/v1/jars/{id}/decanting",
    tag = "batches", params(("id" = JarId, Path, description = "The jar")),
    request_body = NewDecanting, responses((status = 201, body = Jars)))]
async fn jar_decant(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<JarId>,
    create: Create<NewDecanting>,
) -> Answer {
    let after = jars::decant(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/jars", after.batch), &after)
}

/// Keep a jar as a sample
///
/// One that was filled before and stands on the shelf, with the reason. It is looked at on its days, and never handed out.
#[utoipa::path(post, path = "/v1/jars/{id}/sample",
    tag = "batches", params(("id" = JarId, Path, description = "The jar")),
    request_body = NewSample, responses((status = 201, body = Jars)))]
async fn jar_keep(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<JarId>,
    create: Create<NewSample>,
) -> Answer {
    let kept = jars::keep_as_sample(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/jars", kept.batch), &kept)
}
