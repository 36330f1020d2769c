//! `/metrics`, for a listener of its own: what monitoring reads.

use actix_web::HttpResponse;
use actix_web::guard::Get;
use actix_web::web::{self, Data, ServiceConfig};

use crate::answer::Answer;
use crate::problem::Refusal;
use crate::state::ApiState;

/// Where they are, on the other listener.
const METRICS: &str = "/metrics";

/// Mounts `/metrics` and nothing else.
pub fn configure(config: &mut ServiceConfig, state: Data<ApiState>) {
    config.app_data(state);
    config.service(web::resource(METRICS).guard(Get()).to(metrics));
}

async fn metrics(state: Data<ApiState>) -> Answer {
    let counted = state.metrics.as_ref().ok_or(Refusal::NoRoute)?;
    let text = counted
        .text(state.clinic.connections(), state.spans.as_ref().map(|spans| &spans.counts))
        .map_err(|error| clinic::Error::internal(error.to_string()))?;
    Ok(HttpResponse::Ok()
        .content_type("application/openmetrics-text; version=1.0.0; charset=utf-8")
        .body(text))
}
