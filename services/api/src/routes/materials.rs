//! The materia medica.

use actix_web::web::Data;
use actix_web::{HttpRequest, get};
use clinic::materials;
use utoipa_actix_web::service_config::ServiceConfig;
use wire::ids::MaterialId;
use wire::materials::{Material, MaterialSummary};
use wire::page::{Page, PageQuery};

use crate::answer::{self, Answer};
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut ServiceConfig<'_>) {
    config.service(material_list).service(material_view);
}

/// List materials
///
/// By name.
#[utoipa::path(tag = "materials", params(PageQuery), responses((status = 200, body = Page<MaterialSummary>)))]
#[get("/v1/materials")]
async fn material_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Answer {
    answer::page(&request, &materials::materials(&state.clinic, &caller.0, &query.0).await?)
}

/// Look at a material
///
/// Its facts, each with a source and whether it was verified.
#[utoipa::path(tag = "materials", params(("id" = MaterialId, Path, description = "The material")),
    responses((status = 200, body = Material)))]
#[get("/v1/materials/{id}")]
async fn material_view(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<MaterialId>,
) -> Answer {
    answer::read(&request, &materials::material(&state.clinic, &caller.0, id.0).await?)
}
