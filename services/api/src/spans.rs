//! The span of a request, as it is exported to a collector of traces, and the counts of what became of spans.
//!
//! A span is made here from a closed list: method, route, status and request ID, all of which stand in the log too. So no
//! path as it was sent, name, amount, token or error text can get into one, whatever is logged elsewhere.

use actix_web::http::{Method, StatusCode};
use opentelemetry::global::{BoxedSpan, BoxedTracer, ObjectSafeTracer};
use opentelemetry::trace::{
    self, SpanBuilder, SpanContext, SpanKind, Status, TraceContextExt, TraceFlags, TraceState, Tracer,
};
use opentelemetry::{Context, KeyValue};
use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;

use crate::trace::{Parent, SpanId, Trace, TraceId};

/// Why a span was dropped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dropped {
    /// As many spans were waiting as may wait.
    QueueFull,
    /// The collector was not reached, or refused the spans.
    ExportFailed,
}

#[derive(Clone, Debug, Hash, PartialEq, Eq, EncodeLabelSet)]
struct Reason {
    reason: &'static str,
}

impl From<Dropped> for Reason {
    fn from(dropped: Dropped) -> Self {
        let reason = match dropped {
            Dropped::QueueFull => "queue_full",
            Dropped::ExportFailed => "export_failed",
        };
        Self { reason }
    }
}

/// How many spans were exported and dropped. Clones count together.
#[derive(Clone, Debug, Default)]
pub struct SpanCounts {
    exported: Counter,
    dropped: Family<Reason, Counter>,
}

impl SpanCounts {
    /// Counts spans that a collector took.
    pub fn exported(&self, spans: usize) {
        self.exported.inc_by(whole(spans));
    }

    /// Counts spans that no collector got.
    pub fn dropped(&self, spans: usize, reason: Dropped) {
        self.dropped.get_or_create(&reason.into()).inc_by(whole(spans));
    }

    /// How many spans a collector took.
    #[must_use]
    pub fn count_exported(&self) -> u64 {
        self.exported.get()
    }

    /// How many spans were dropped for a reason.
    #[must_use]
    pub fn count_dropped(&self, reason: Dropped) -> u64 {
        self.dropped.get_or_create(&reason.into()).get()
    }

    pub(crate) fn register(&self, registry: &mut prometheus_client::registry::Registry) {
        registry.register("spans_exported", "Spans that the collector took", self.exported.clone());
        registry.register("spans_dropped", "Spans that the collector did not get", self.dropped.clone());
    }
}

fn whole(number: usize) -> u64 {
    u64::try_from(number).unwrap_or(u64::MAX)
}

/// A method as HTTP knows it; `None` for any other word, since a caller may send any.
pub(crate) fn known_method(method: &Method) -> Option<&'static str> {
    let known = ["GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"];
    known.into_iter().find(|known| method.as_str() == *known)
}

/// Where the spans of requests go.
pub struct Spans {
    tracer: BoxedTracer,
    pub(crate) counts: SpanCounts,
}

impl Spans {
    /// Spans that `tracer` exports; `counts` says what became of them.
    #[must_use]
    pub fn new(tracer: Box<dyn ObjectSafeTracer + Send + Sync>, counts: SpanCounts) -> Self {
        Self { tracer: BoxedTracer::new(tracer), counts }
    }

    /// Begins the span of a request; `None` if its caller does not have this trace recorded.
    pub(crate) fn begin(&self, trace: &Trace, request: &str, method: &Method) -> Option<RequestSpan> {
        let method = known_method(method);
        let builder =
            SpanBuilder::from_name(method.unwrap_or("HTTP")).with_kind(SpanKind::Server).with_attributes([
                KeyValue::new("http.request.method", method.unwrap_or("_OTHER")),
                KeyValue::new("stillroom.request_id", request.to_owned()),
            ]);
        let span = self.tracer.build_with_context(builder, &context(trace));
        trace::Span::is_recording(&span).then_some(RequestSpan { span, method: method.unwrap_or("HTTP") })
    }
}

/// The caller's span as parent; none if the trace begins here.
fn context(trace: &Trace) -> Context {
    let Some(Parent { span, sampled }) = trace.parent else { return Context::new() };
    let flags = if sampled { TraceFlags::SAMPLED } else { TraceFlags::default() };
    Context::new().with_remote_span_context(SpanContext::new(
        trace::TraceId::from(u128::from(trace.id)),
        trace::SpanId::from(u64::from(span)),
        flags,
        true,
        TraceState::NONE,
    ))
}

/// The span of a request that is being answered. One that is dropped, because its caller hung up, ends without a status.
pub(crate) struct RequestSpan {
    span: BoxedSpan,
    method: &'static str,
}

impl RequestSpan {
    /// The trace that the span belongs to, and the span's own ID.
    pub(crate) fn ids(&self) -> (TraceId, SpanId) {
        let context = trace::Span::span_context(&self.span);
        let trace = u128::from_be_bytes(context.trace_id().to_bytes());
        let span = u64::from_be_bytes(context.span_id().to_bytes());
        (trace.into(), span.into())
    }

    /// Ends the span with what became of the request. `route` is the pattern; `None` if no route took the request.
    pub(crate) fn end(mut self, route: Option<&str>, status: StatusCode) {
        use trace::Span as _;
        if let Some(route) = route {
            self.span.update_name(format!("{} {route}", self.method));
            self.span.set_attribute(KeyValue::new("http.route", route.to_owned()));
        }
        self.span.set_attribute(KeyValue::new("http.response.status_code", i64::from(status.as_u16())));
        if status.is_server_error() {
            self.span.set_attribute(KeyValue::new("error.type", status.as_str().to_owned()));
            self.span.set_status(Status::error(""));
        }
        self.span.end();
    }
}
