//! `/metrics`, for a listener of its own: what monitoring reads.

use actix_web::HttpResponse;
use actix_web::web::{Data, ServiceConfig, get};

use crate::answer::Answer;
use crate::problem::Refusal;
use crate::state::ApiState;

/// Mounts `/metrics` and nothing else.
pub fn configure(config: &mut ServiceConfig, state: Data<ApiState>) {
    config.app_data(state).route("/metrics", get().to(metrics));
}

async fn metrics(state: Data<ApiState>) -> Answer {
    let counted = state.metrics.as_ref().ok_or(Refusal::NoRoute)?;
    let text = counted
        .text(state.clinic.connections())
        .map_err(|error| clinic::Error::internal(error.to_string()))?;
    Ok(HttpResponse::Ok()
        .content_type("application/openmetrics-text; version=1.0.0; charset=utf-8")
        .body(text))
}
