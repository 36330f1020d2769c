//! The outermost layer: a request's ID and trace, its one log line, and the headers that every answer has.

use std::time::Instant;

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::http::{ConnectionType, Method};
use actix_web::middleware::Next;
use actix_web::web::Data;
use actix_web::{HttpRequest, ResponseError};
use tracing::field::display;
use tracing::{Instrument, Span};
use uuid::Uuid;

use crate::coding::{self, Coding};
use crate::ending::Ending;
use crate::params;
use crate::rate;
use crate::request_id;
use crate::spans::RequestSpan;
use crate::state::ApiState;
use crate::trace::Trace;
use crate::watch;

pub(crate) static ID: HeaderName = HeaderName::from_static("x-request-id");

/// On every response that does not set its own.
pub(crate) const HEADERS: [(HeaderName, &str); 9] = [
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::STRICT_TRANSPORT_SECURITY, "max-age=31536000"),
    (header::CACHE_CONTROL, "no-store"),
    (header::CONTENT_SECURITY_POLICY, "default-src 'none'; base-uri 'none'; frame-ancestors 'none'"),
    (header::CROSS_ORIGIN_OPENER_POLICY, "same-origin"),
    (header::CROSS_ORIGIN_RESOURCE_POLICY, "same-origin"),
    (header::VARY, "Accept-Encoding"),
];

/// The interactive documentation runs its own scripts, which style it through the object model, and draws with data images.
const DOCUMENTATION: &str = "default-src 'self'; style-src 'self'; img-src 'self' data:; \
                             base-uri 'none'; frame-ancestors 'none'";

/// Gives a request its ID and its log line, and its answer the headers that every answer has.
///
/// # Errors
/// Returns the errors of the inner services.
pub async fn boundary(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let state = request.app_data::<Data<ApiState>>();
    let id = match state {
        Some(state) => state.clinic.rng().id(state.clinic.clock().now()),
        None => Uuid::nil(),
    };
    let trace = Trace::of(request.headers(), id);
    let id = id.to_string();
    let begun = Instant::now();
    let method = request.method().clone();
    let spans = state.and_then(|state| state.spans.as_ref());
    let exported = spans.and_then(|spans| spans.begin(&trace, &id, &method));
    let span = log_span(&id, trace, exported.as_ref());
    if method == Method::HEAD {
        // Served as GET, with the same checks; the connection drops the body.
        request.head_mut().method = Method::GET;
    }
    let value = HeaderValue::from_str(&id);
    let coding = Coding::accepted(&request);
    // Errors of handlers and extractors are responses by the time they get here.
    let answer = async {
        match params::unwanted(&request).or_else(|| params::unwanted_body(&request)) {
            Some(refusal) => Ok(request.into_response(refusal.error_response()).map_into_right_body()),
            None => next.call(request).await.map(ServiceResponse::map_into_left_body),
        }
    };
    let answered = request_id::scope(id, answer).instrument(span.clone()).await;
    let mut response = match coding {
        None => answered?.map_into_left_body(),
        Some(coding) => coding::encode(answered?, coding).await,
    };
    watch::watch(&response);
    let documentation = response.request().path().starts_with("/docs/");
    let counted = response.request().clone();
    end_unread(&counted, &mut response);
    let headers = response.headers_mut();
    rate::tell(&counted, headers);
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
    let took = begun.elapsed();
    if let Some(metrics) = counted.app_data::<Data<ApiState>>().and_then(|state| state.metrics.as_ref()) {
        metrics.count(routing::pattern(&counted), &method, response.status(), took);
    }
    if let Some(exported) = exported {
        exported.end(routing::pattern(&counted), response.status());
    }
    let status = response.status().as_u16();
    let micros = took.as_micros();
    span.in_scope(|| {
        // The pattern, never the path, which may hold personal data. Looked up only if the line is written.
        tracing::info!(%method, route = routing::pattern(response.request()).unwrap_or_default(), status, micros, "answered");
    });
    Ok(response)
}

/// What the log says of a request besides what happened. A trace that begins here has the ID that it is exported under.
fn log_span(request: &str, trace: Trace, exported: Option<&RequestSpan>) -> Span {
    let ids = exported.map(RequestSpan::ids);
    let trace_id = ids.map_or(trace.id, |(trace, _)| trace);
    let parent_id = trace.parent.map(|parent| display(parent.span));
    let span_id = ids.map(|(_, span)| display(span));
    tracing::info_span!("request", request_id = %request, %trace_id, parent_id, span_id)
}

/// Ends the connection of a request that was refused while its chunked body may still be on its way.
fn end_unread<B>(request: &HttpRequest, response: &mut ServiceResponse<B>) {
    if !response.status().is_success() && request.headers().contains_key(header::TRANSFER_ENCODING) {
        response.response_mut().head_mut().set_connection_type(ConnectionType::Close);
        if let Some(ending) = request.conn_data::<Ending>() {
            ending.end();
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Write;
    use std::sync::{Arc, Mutex};

    use actix_web::middleware::from_fn;
    use actix_web::{App, test};

    use super::*;

    #[derive(Clone, Default)]
    struct Log(Arc<Mutex<Vec<u8>>>);

    impl Write for Log {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    /// The log line of one request that carries these headers.
    async fn line(headers: &[(&'static str, &'static str)]) -> serde_json::Value {
        let log = Log::default();
        let writer = log.clone();
        let subscriber = tracing_subscriber::fmt().json().with_writer(move || writer.clone()).finish();
        let _listening = tracing::subscriber::set_default(subscriber);
        let app = test::init_service(App::new().wrap(from_fn(boundary))).await;
        let mut request = test::TestRequest::get();
        for header in headers {
            request = request.append_header(*header);
        }
        test::call_service(&app, request.to_request()).await;
        let written = log.0.lock().unwrap();
        serde_json::from_slice(&written).unwrap()
    }

    #[actix_web::test]
    async fn log_line_carries_the_trace_of_the_caller() {
        let trace = ("traceparent", "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01");
        let line = line(&[trace, ("tracestate", "vendor=opaque")]).await;
        assert_eq!(line["span"]["trace_id"], "4bf92f3577b34da6a3ce929d0e0e4736");
        assert_eq!(line["span"]["parent_id"], "00f067aa0ba902b7");
        assert!(!line.to_string().contains("opaque"));
    }

    #[actix_web::test]
    async fn log_line_carries_a_new_trace_when_the_callers_is_invalid() {
        let line = line(&[("traceparent", "00-nonsense")]).await;
        assert_eq!(line["span"]["trace_id"].as_str().unwrap().len(), 32);
        assert!(line["span"]["parent_id"].is_null());
        assert!(!line.to_string().contains("nonsense"));
    }
}
