//! The materia medica.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::materials;
use wire::ids::MaterialId;
use wire::materials::{EntryVersion, Material, MaterialQuery, MaterialSummary};
use wire::page::Page;

use crate::answer::{self, Answer};
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, material_list, material_table, material_view, entry_view);
}

/// List materials
///
/// By name, or by a search in English, botanical and INCI names that tolerates misspelling.
#[utoipa::path(get, path = "/v1/materials",
    tag = "materials", params(MaterialQuery), responses((status = 200, body = Page<MaterialSummary>)))]
async fn material_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<MaterialQuery>,
) -> Answer {
    answer::page(&request, &materials::materials(&state.clinic, &caller.0, &query.0).await?)
}

/// Read a material
///
/// Its facts, each with a source and whether it was verified.
#[utoipa::path(get, path = "/v1/materials/{id}",
    tag = "materials", params(("id" = MaterialId, Path, description = "The material")),
    responses((status = 200, body = Material)))]
async fn material_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<MaterialId>,
) -> Answer {
    answer::read(&request, &materials::material(&state.clinic, &caller.0, id.0).await?)
}

/// Read a material for revision
///
/// For instructors and administrators. Send the changed entry in an amendment.
#[utoipa::path(get, path = "/v1/materials/{id}/entry",
    tag = "materials", params(("id" = MaterialId, Path, description = "The material")),
    responses((status = 200, body = EntryVersion)))]
async fn entry_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<MaterialId>,
) -> Answer {
    answer::read(&request, &materials::entry(&state.clinic, &caller.0, id.0).await?)
}

/// Export the materials as a table
///
/// CSV (RFC 4180), one material in each row. For instructors and administrators. An amendment imports the table. A cell
/// that a spreadsheet would take for a formula starts with an apostrophe.
#[utoipa::path(get, path = "/v1/materials.csv",
    tag = "materials",
    responses((status = 200, content_type = "text/csv", body = String, example = "name,kind,synonyms\r\n")))]
async fn material_table(state: Data<ApiState>, caller: Caller) -> Answer {
    Ok(answer::table("materials.csv", materials::export(&state.clinic, &caller.0).await?))
}
