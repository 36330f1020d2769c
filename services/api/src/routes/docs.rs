//! Published keys and health.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer::{self, Answer};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, health_live, health_ready, published_keys);
}

/// The health of the service.
#[derive(Serialize, ToSchema)]
struct Health {
    /// `ok`.
    #[schema(example = "ok")]
    status: &'static str,
}

/// Check that the process runs
#[utoipa::path(get, path = "/health/live",
    tag = "service", responses((status = 200, body = Health)), security(()))]
async fn health_live(request: HttpRequest) -> Answer {
    answer::read(&request, &Health { status: "ok" })
}

/// Check that the service can answer
///
/// Answers 503 while the database is unavailable.
#[utoipa::path(get, path = "/health/ready",
    tag = "service", responses((status = 200, body = Health)), security(()))]
async fn health_ready(request: HttpRequest, state: Data<ApiState>) -> Answer {
    state.clinic.ready().await?;
    answer::read(&request, &Health { status: "ok" })
}

/// Read the public keys of access tokens (RFC 7517)
#[utoipa::path(get, path = "/.well-known/jwks.json",
    tag = "service", responses((status = 200, body = serde_json::Value)), security(()))]
async fn published_keys(request: HttpRequest, state: Data<ApiState>) -> Answer {
    answer::read(&request, &serde_json::json!({ "keys": state.tokens.published() }))
}
