//! The outermost layer: a request's id, its one log line, and the headers that every answer has.

use std::time::Instant;

use actix_web::ResponseError;
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::middleware::Next;
use actix_web::web::Data;
use tracing::Instrument;

use crate::params;
use crate::request_id;
use crate::state::ApiState;

static ID: HeaderName = HeaderName::from_static("x-request-id");

/// What every answer says; documentation pages set their own content security policy.
const HEADERS: [(HeaderName, &str); 7] = [
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::STRICT_TRANSPORT_SECURITY, "max-age=31536000"),
    (header::CACHE_CONTROL, "no-store"),
    (header::CONTENT_SECURITY_POLICY, "default-src 'none'; frame-ancestors 'none'"),
    (header::CROSS_ORIGIN_RESOURCE_POLICY, "same-origin"),
];

/// The interactive documentation runs its own scripts, styles itself in place, and draws with data images.
const DOCUMENTATION: &str = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
                             frame-ancestors 'none'";

/// Gives a request its id and its log line, and its answer the headers that every answer has.
///
/// # Errors
/// What the services within answer.
pub async fn boundary(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let id = match request.app_data::<Data<ApiState>>() {
        Some(state) => state.clinic.source.id(state.clinic.clock.now()).to_string(),
        None => String::new(),
    };
    let span = tracing::info_span!("request", request_id = %id);
    let begun = Instant::now();
    let method = request.method().clone();
    if method == Method::HEAD {
        // Answered as a GET through the very same proofs; the connection leaves the body out.
        request.head_mut().method = Method::GET;
    }
    let value = HeaderValue::from_str(&id);
    // What fails in a handler or an extractor is a response by the time it gets here.
    let answer = async {
        match params::unwanted(&request).or_else(|| params::unwanted_body(&request)) {
            Some(refusal) => Ok(request.into_response(refusal.error_response()).map_into_right_body()),
            None => next.call(request).await.map(ServiceResponse::map_into_left_body),
        }
    };
    let answered = request_id::scope(id, answer).instrument(span.clone()).await;
    let mut response = answered?;
    let documentation = response.request().path().starts_with("/docs/");
    let headers = response.headers_mut();
    if documentation {
        headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(DOCUMENTATION));
    }
    for (name, text) in HEADERS {
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(text));
        }
    }
    if let Ok(value) = value {
        headers.insert(ID.clone(), value);
    }
    let status = response.status().as_u16();
    let micros = begun.elapsed().as_micros();
    span.in_scope(|| {
        // The pattern that was matched, never the path; looked up only for a line that is written.
        tracing::info!(%method, route = response.request().match_pattern().unwrap_or_default(), status, micros, "answered");
    });
    Ok(response)
}
