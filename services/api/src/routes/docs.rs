//! Published keys and health.

use crate::mount::Mount;
use actix_web::web::Data;
use actix_web::{HttpRequest, get};
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer::{self, Answer};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    config.service(health_live).service(health_ready).service(published_keys);
}

/// The health of the service.
#[derive(Serialize, ToSchema)]
struct Health {
    /// `ok`.
    #[schema(example = "ok")]
    status: &'static str,
}

/// Check that the process runs
#[utoipa::path(tag = "service", responses((status = 200, body = Health)), security(()))]
#[get("/health/live")]
async fn health_live(request: HttpRequest) -> Answer {
    answer::read(&request, &Health { status: "ok" })
}

/// Check that the service can answer
///
/// Answers 503 while the database is unavailable.
#[utoipa::path(tag = "service", responses((status = 200, body = Health)), security(()))]
#[get("/health/ready")]
async fn health_ready(request: HttpRequest, state: Data<ApiState>) -> Answer {
    state.clinic.ready().await?;
    answer::read(&request, &Health { status: "ok" })
}

/// Read the public keys of access tokens (RFC 7517)
#[utoipa::path(tag = "service", responses((status = 200, body = serde_json::Value)), security(()))]
#[get("/.well-known/jwks.json")]
async fn published_keys(request: HttpRequest, state: Data<ApiState>) -> Answer {
    answer::read(&request, &serde_json::json!({ "keys": state.tokens.published() }))
}
