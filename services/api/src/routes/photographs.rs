//! Photographs of batches at the bench.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::photographs::{self, PhotographSize};
use wire::ids::{BatchId, PhotographId};
use wire::photographs::{NewPhotographQuery, Photograph, PhotographBytes, Photographs, WithdrawPhotograph};

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::picture::Picture;
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        photograph_list,
        photograph_create,
        photograph_read,
        photograph_preview,
        photograph_withdraw
    );
}

/// List the photographs of a batch
///
/// For readers of the record, in the order in which they came; withdrawn ones with by whom and why. While the record is closed
/// to the caller as a second marker, so are its photographs, since they may show whose it is.
#[utoipa::path(get, path = "/v1/batches/{id}/photographs",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = Photographs)))]
async fn photograph_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
) -> Answer {
    answer::read(&request, &photographs::of_batch(&state.clinic, &caller.0, id.0).await?)
}

/// Add a photograph to a batch
///
/// By its maker, while the batch is planned, making or returned. The body is a still picture: JPEG, PNG or WebP, at most 10 MB
/// and 40 megapixels, which may take six times as long to arrive as any other body. It is turned upright, made smaller where a
/// side is longer than 2560 pixels, and drawn anew as JPEG: of the file that was sent nothing else is kept, such as where it
/// was taken. A batch has at most 100. The next submission of the record freezes it.
#[utoipa::path(post, path = "/v1/batches/{id}/photographs",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch"), NewPhotographQuery),
    request_body(description = "The picture", content(
        (PhotographBytes = "image/jpeg"), (PhotographBytes = "image/png"), (PhotographBytes = "image/webp"))),
    responses((status = 201, body = Photograph)))]
async fn photograph_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    query: Query<NewPhotographQuery>,
    picture: Picture,
) -> Answer {
    photographs::may_come(&state.clinic, &caller.0, id.0).await?;
    let brought = picture.read(&state.clinic).await?;
    let ready = photographs::develop(&state.clinic, brought.place, brought.bytes).await?;
    let kept = photographs::keep(&state.clinic, &caller.0, &brought.once, id.0, (&ready, &query.0)).await?;
    answer::created(&kept.picture.address, &kept)
}

/// Read a photograph
///
/// For readers of the record. 410 where it was withdrawn, and where its file is missing or is not what was kept.
#[utoipa::path(get, path = "/v1/batches/{id}/photographs/{photograph}",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch"),
    ("photograph" = PhotographId, Path, description = "The photograph")),
    responses((status = 200, description = "The photograph", content_type = "image/jpeg")))]
async fn photograph_read(
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(BatchId, PhotographId)>,
) -> Answer {
    let bytes = photographs::file(&state.clinic, &caller.0, path.0, PhotographSize::Whole).await?;
    Ok(answer::jpeg("photograph.jpg", bytes))
}

/// Read the preview of a photograph
///
/// The same with its longest side at most 480 pixels.
#[utoipa::path(get, path = "/v1/batches/{id}/photographs/{photograph}/preview",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch"),
    ("photograph" = PhotographId, Path, description = "The photograph")),
    responses((status = 200, description = "The preview", content_type = "image/jpeg")))]
async fn photograph_preview(
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(BatchId, PhotographId)>,
) -> Answer {
    let bytes = photographs::file(&state.clinic, &caller.0, path.0, PhotographSize::Preview).await?;
    Ok(answer::jpeg("preview.jpg", bytes))
}

/// Withdraw a photograph
///
/// By its maker until it is handed in, and by an instructor who reads the record at any time, with the reason. That it was
/// there stays; its files are removed, and are left in backups from before.
#[utoipa::path(post, path = "/v1/batches/{id}/photographs/{photograph}/withdrawal",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch"),
    ("photograph" = PhotographId, Path, description = "The photograph")),
    request_body = WithdrawPhotograph, responses((status = 201, body = Photograph)))]
async fn photograph_withdraw(
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(BatchId, PhotographId)>,
    create: Create<WithdrawPhotograph>,
) -> Answer {
    let withdrawn =
        photographs::withdraw(&state.clinic, &caller.0, &create.once, path.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/photographs", path.0.0), &withdrawn)
}
