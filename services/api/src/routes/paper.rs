//! Documents on paper: labels and leaflets, the sheet for the bench, and the record for the file.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use wire::filed::FiledRecord;
use wire::ids::BatchId;
use wire::label::{JarLabelImageQuery, JarLabelQuery, LabelImageQuery, LabelPrintQuery};

use crate::answer::{self, Answer};
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        label_pdf,
        label_png,
        leaflet_pdf,
        jar_labels_pdf,
        jar_label_png,
        jar_leaflet_pdf,
        sheet_pdf,
        record_pdf,
        filed_record
    );
}

/// Print the labels of a batch
///
/// A PDF (PDF/A-2a, tagged) of labels of a stated size, on sheets or on a roll, in the largest letters from nine points down
/// to five that find room. A part without room is named; nothing is cut or left out, but what the layout of the label moves
/// to the leaflet. For readers of the label; an API client needs `labels:read`.
#[utoipa::path(get, path = "/v1/batches/{id}/label.pdf",
    tag = "labels", params(("id" = BatchId, Path, description = "The batch"), LabelPrintQuery),
    responses((status = 200, description = "The labels", content_type = "application/pdf")))]
async fn label_pdf(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    query: Query<LabelPrintQuery>,
) -> Answer {
    Ok(answer::pdf("labels.pdf", print::batch_labels(&state.clinic, &caller.0, id.0, &query.0).await?))
}

/// Draw one label of a batch
///
/// A PNG of one label at the printer's own dots per inch. As the PDF of labels.
#[utoipa::path(get, path = "/v1/batches/{id}/label.png",
    tag = "labels", params(("id" = BatchId, Path, description = "The batch"), LabelImageQuery),
    responses((status = 200, description = "The label", content_type = "image/png")))]
async fn label_png(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    query: Query<LabelImageQuery>,
) -> Answer {
    Ok(answer::png(print::batch_label_image(&state.clinic, &caller.0, id.0, &query.0).await?))
}

/// Print the leaflet of a batch
///
/// A PDF of half a sheet, folded once: in full what a label of the stated size shortens or cannot hold. 409 where the label
/// holds everything.
#[utoipa::path(get, path = "/v1/batches/{id}/leaflet.pdf",
    tag = "labels", params(("id" = BatchId, Path, description = "The batch"), LabelImageQuery),
    responses((status = 200, description = "The leaflet", content_type = "application/pdf")))]
async fn leaflet_pdf(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    query: Query<LabelImageQuery>,
) -> Answer {
    Ok(answer::pdf("leaflet.pdf", print::batch_leaflet(&state.clinic, &caller.0, id.0, &query.0).await?))
}

/// Print the labels of the jars of a batch
///
/// A PDF of one label for each jar, with what it holds, its last day, its number, its code, and a QR code (ISO/IEC 18004) of
/// the address of its page, in modules of at least 0.33 mm with a quiet zone. Without `STILLROOM_PUBLIC_URL` there is no QR
/// code: `no_scan` of the jars says so. For readers of the label of the batch; an API client needs `labels:read`, and prints
/// the codes of the jars with it.
#[utoipa::path(get, path = "/v1/batches/{id}/jars/labels.pdf",
    tag = "labels", params(("id" = BatchId, Path, description = "The batch"), JarLabelQuery),
    responses((status = 200, description = "The labels", content_type = "application/pdf")))]
async fn jar_labels_pdf(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    query: Query<JarLabelQuery>,
) -> Answer {
    let printed = print::jar_labels(&state.clinic, &caller.0, id.0, &query.0).await?;
    Ok(answer::pdf("jars.pdf", printed))
}

/// Draw the label of a jar
///
/// A PNG at the printer's own dots per inch; the modules of its QR code are whole dots. As the PDF of labels of jars.
#[utoipa::path(get, path = "/v1/batches/{id}/jars/{number}/label.png",
    tag = "labels", params(("id" = BatchId, Path, description = "The batch"),
    ("number" = u32, Path, description = "The number of the jar"), JarLabelImageQuery),
    responses((status = 200, description = "The label", content_type = "image/png")))]
async fn jar_label_png(
    state: Data<ApiState>,
    caller: Caller,
    path: Path<(BatchId, u32)>,
    query: Query<JarLabelImageQuery>,
) -> Answer {
    let (id, number) = path.0;
    Ok(answer::png(print::jar_label_image(&state.clinic, &caller.0, id, number, &query.0).await?))
}

/// Print the leaflet of the jars of a batch
///
/// A PDF of half a sheet, folded once: in full what labels of jars of the stated size, beside their QR code, shorten or cannot
/// hold. 409 where they hold everything.
#[utoipa::path(get, path = "/v1/batches/{id}/jars/leaflet.pdf",
    tag = "labels", params(("id" = BatchId, Path, description = "The batch"), JarLabelImageQuery),
    responses((status = 200, description = "The leaflet", content_type = "application/pdf")))]
async fn jar_leaflet_pdf(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    query: Query<JarLabelImageQuery>,
) -> Answer {
    Ok(answer::pdf("leaflet.pdf", print::jar_leaflet(&state.clinic, &caller.0, id.0, &query.0).await?))
}

/// Print the sheet of a batch for the bench
///
/// A PDF of what to weigh and do, with the cautions before it and room to write. What is written by hand counts once it is
/// entered. For readers of the record.
#[utoipa::path(get, path = "/v1/batches/{id}/sheet.pdf",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, description = "The sheet", content_type = "application/pdf")))]
async fn sheet_pdf(state: Data<ApiState>, caller: Caller, id: Path<BatchId>) -> Answer {
    Ok(answer::pdf("sheet.pdf", print::batch_sheet(&state.clinic, &caller.0, id.0).await?))
}

/// Print the record of a batch
///
/// A PDF for the file (PDF/A-2a, tagged): asked beside weighed, checks, findings, what happened in order of time with who did it
/// and when, who had the batch, which of its jars were filled into others, submissions and reviews; the digest of the formula's
/// revision, and the SHA-256 of the response of `GET /v1/batches/{id}/record` that it was set from. For readers of the record.
#[utoipa::path(get, path = "/v1/batches/{id}/record.pdf",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, description = "The record", content_type = "application/pdf")))]
async fn record_pdf(state: Data<ApiState>, caller: Caller, id: Path<BatchId>) -> Answer {
    Ok(answer::pdf("record.pdf", print::batch_record(&state.clinic, &caller.0, id.0).await?))
}

/// Read the record of a batch for the file
///
/// What a printed record is set from: the record in brief, who had the batch and from when to when, the plans by which it was
/// looked at, its photographs by their SHA-256, and which of its jars were filled into others. The SHA-256 on the paper is that
/// of this response. For readers of the record.
#[utoipa::path(get, path = "/v1/batches/{id}/record",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, description = "The record", body = FiledRecord)))]
async fn filed_record(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
) -> Answer {
    answer::read(&request, &clinic::bench::filed(&state.clinic, &caller.0, id.0).await?)
}
