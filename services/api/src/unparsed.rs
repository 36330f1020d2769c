//! The answers to requests that cannot be parsed as HTTP: they reach no route, so the server library refuses them itself,
//! with a status and nothing else.

use std::fmt::Write;

use actix_web::ResponseError;
use actix_web::http::{Method, StatusCode};

use crate::boundary;
use crate::problem::Refusal;
use crate::request_id;
use crate::state::ApiState;

/// The response that takes the place of a bare one with this status, as the bytes to send; `None` for a status that the
/// server library gives no request of its own accord. Logs the refusal: a caller's fault, so no error.
#[must_use]
pub fn unparsed(state: &ApiState, status: u16) -> Option<Vec<u8>> {
    let refusal = match status {
        400 => Refusal::Malformed(
            "The request line or a header cannot be parsed. Send HTTP/1.1 with one `Host`, one whole number as \
             `Content-Length`, and no control characters in headers."
                .into(),
        ),
        408 => Refusal::HeadTooSlow,
        431 => Refusal::HeadTooLarge,
        _ => return None,
    };
    let id = state.clinic.rng().id(state.clinic.clock().now()).to_string();
    let body = request_id::as_request(id.clone(), || refusal.body());
    if let Some(metrics) = &state.metrics {
        let took = std::time::Duration::ZERO;
        metrics.count(None, &Method::CONNECT, refusal.status_code(), took);
    }
    tracing::info!(request_id = %id, status, "refused before any route");
    let reason = StatusCode::from_u16(status).ok().and_then(|status| status.canonical_reason());
    let mut head = format!(
        "HTTP/1.1 {status} {}\r\ncontent-length: {}\r\nconnection: close\r\ncontent-type: \
         application/problem+json\r\n{}: {id}\r\n",
        reason.unwrap_or_default(),
        body.len(),
        boundary::ID
    );
    for (name, value) in boundary::HEADERS {
        // Writing into a text cannot fail.
        let _ = write!(head, "{name}: {value}\r\n");
    }
    Some(format!("{head}\r\n{body}").into_bytes())
}
