//! Export of spans to a collector by OpenTelemetry's protocol, as protobuf over HTTP.
//!
//! What a span holds is decided in `api::spans`. Here: a queue of bounded length, a thread that sends what waits in it, and
//! the counts. A request hands its span over and goes on, whatever becomes of the collector.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use api::{Dropped, SpanCounts, Spans};
use async_trait::async_trait;
use opentelemetry::trace::TracerProvider;
use opentelemetry::{Context, InstrumentationScope, KeyValue};
use opentelemetry_http::{Bytes, HttpClient, HttpError, Request, Response};
use opentelemetry_otlp::{SpanExporter as OtlpExporter, WithExportConfig, WithHttpConfig};
use opentelemetry_sdk::Resource;
use opentelemetry_sdk::error::OTelSdkResult;
use opentelemetry_sdk::trace::{
    BatchConfigBuilder, BatchSpanProcessor, Sampler, SdkTracerProvider, Span, SpanData, SpanExporter,
    SpanProcessor,
};
use tokio::runtime::Handle;
use url::Url;

use crate::error::StartError;

/// How many spans may wait or be on their way. A span has about half a kilobyte.
const MOST_WAITING: usize = 4096;

/// How many are sent together.
const TOGETHER: usize = 512;

/// How long a span waits at most before it is sent.
const EVERY: Duration = Duration::from_secs(1);

/// How long the collector has to take what is sent together, repetitions included.
const PATIENCE: Duration = Duration::from_secs(5);

/// How long the collector has at the end for what still waits.
const AT_THE_END: Duration = Duration::from_secs(3);

/// How many bytes of the collector's answer are read: it says which spans it refused, or nothing.
const LONGEST_ANSWER: usize = 64 * 1024;

/// An export that has begun.
pub(crate) struct Export {
    provider: SdkTracerProvider,
    counts: SpanCounts,
}

impl Export {
    /// Begins exporting to the collector at `base`. Nothing is sent yet, so that a collector that is away stops nobody.
    pub(crate) fn begin(base: &Url) -> Result<Self, StartError> {
        let cannot = |error: &dyn std::fmt::Display| StartError::Export(error.to_string());
        let exporter = OtlpExporter::builder()
            .with_http()
            .with_endpoint(format!("{}/v1/traces", base.as_str().trim_end_matches('/')))
            .with_timeout(PATIENCE)
            .with_http_client(Sender::to(base).map_err(|error| cannot(&error))?)
            .build()
            .map_err(|error| cannot(&error))?;
        let counts = SpanCounts::default();
        let processor = bounded(exporter, MOST_WAITING, &counts);
        let provider = SdkTracerProvider::builder()
            .with_span_processor(processor)
            .with_sampler(Sampler::ParentBased(Box::new(Sampler::AlwaysOn)))
            .with_resource(
                Resource::builder()
                    .with_service_name("stillroom")
                    .with_attribute(KeyValue::new("service.version", env!("CARGO_PKG_VERSION")))
                    .build(),
            )
            .build();
        Ok(Self { provider, counts })
    }

    /// Where the spans of requests go.
    pub(crate) fn spans(&self) -> Spans {
        let scope = InstrumentationScope::builder("stillroom").build();
        Spans::new(Box::new(self.provider.tracer_with_scope(scope)), self.counts.clone())
    }

    /// Sends what still waits, as far as the collector takes it in time.
    pub(crate) async fn end(self) {
        // The sending thread sends through this runtime, so it must not be waited for on one of its workers.
        let ended =
            tokio::task::spawn_blocking(move || self.provider.shutdown_with_timeout(AT_THE_END)).await;
        if let Ok(Err(error)) = ended {
            tracing::warn!(%error, "the last spans could not be exported");
        }
    }
}

/// The library's queue and thread, with our bound and counts on both of their sides.
fn bounded<E: SpanExporter + 'static>(exporter: E, most: usize, counts: &SpanCounts) -> Bounded {
    let waiting = Arc::new(AtomicUsize::new(0));
    let counted = Counted {
        exporter,
        waiting: Arc::clone(&waiting),
        counts: counts.clone(),
        failing: AtomicBool::new(false),
    };
    let config = BatchConfigBuilder::default()
        .with_max_queue_size(most)
        .with_max_export_batch_size(TOGETHER.min(most))
        .with_scheduled_delay(EVERY)
        .build();
    let queue = BatchSpanProcessor::builder(counted).with_batch_config(config).build();
    Bounded { queue, most, waiting, counts: counts.clone() }
}

/// Takes spans while fewer than `most` wait. The library would drop them too, but tells nobody how many.
#[derive(Debug)]
struct Bounded {
    queue: BatchSpanProcessor,
    most: usize,
    waiting: Arc<AtomicUsize>,
    counts: SpanCounts,
}

impl SpanProcessor for Bounded {
    fn on_start(&self, span: &mut Span, context: &Context) {
        self.queue.on_start(span, context);
    }

    fn on_end(&self, span: SpanData) {
        if self.waiting.fetch_add(1, Ordering::AcqRel) < self.most {
            self.queue.on_end(span);
        } else {
            self.waiting.fetch_sub(1, Ordering::AcqRel);
            self.counts.dropped(1, Dropped::QueueFull);
        }
    }

    fn force_flush(&self) -> OTelSdkResult {
        self.queue.force_flush()
    }

    fn shutdown_with_timeout(&self, timeout: Duration) -> OTelSdkResult {
        self.queue.shutdown_with_timeout(timeout)
    }

    fn set_resource(&mut self, resource: &Resource) {
        self.queue.set_resource(resource);
    }
}

/// Counts what an exporter exports, and says in the log when it begins to fail and when it works again.
#[derive(Debug)]
struct Counted<E> {
    exporter: E,
    waiting: Arc<AtomicUsize>,
    counts: SpanCounts,
    failing: AtomicBool,
}

impl<E: SpanExporter> SpanExporter for Counted<E> {
    async fn export(&self, batch: Vec<SpanData>) -> OTelSdkResult {
        let spans = batch.len();
        let exported = self.exporter.export(batch).await;
        self.waiting.fetch_sub(spans, Ordering::AcqRel);
        let failed_before = self.failing.swap(exported.is_err(), Ordering::AcqRel);
        match &exported {
            Ok(()) => {
                self.counts.exported(spans);
                if failed_before {
                    tracing::info!("spans are exported again");
                }
            }
            Err(error) => {
                self.counts.dropped(spans, Dropped::ExportFailed);
                if !failed_before {
                    tracing::warn!(%error, "spans cannot be exported; they are dropped until the collector takes them");
                }
            }
        }
        exported
    }

    fn shutdown_with_timeout(&self, timeout: Duration) -> OTelSdkResult {
        self.exporter.shutdown_with_timeout(timeout)
    }

    fn shutdown(&self) -> OTelSdkResult {
        self.exporter.shutdown()
    }

    fn force_flush(&self) -> OTelSdkResult {
        self.exporter.force_flush()
    }

    fn set_resource(&mut self, resource: &Resource) {
        self.exporter.set_resource(resource);
    }
}

/// The HTTP client of the exporter, whose thread has no runtime of its own.
#[derive(Debug)]
struct Sender {
    http: reqwest::Client,
    runtime: Handle,
}

impl Sender {
    fn to(base: &Url) -> reqwest::Result<Self> {
        if rustls::crypto::CryptoProvider::get_default().is_none() {
            // Fails only if another thread was faster, and then that one serves.
            rustls::crypto::ring::default_provider().install_default().ok();
        }
        let builder =
            reqwest::Client::builder().redirect(reqwest::redirect::Policy::none()).timeout(PATIENCE);
        let builder = if base.scheme() == "https" {
            builder.https_only(true)
        } else {
            // No certificate is looked at, so that a machine without any can still export.
            builder.no_proxy().tls_certs_only([])
        };
        Ok(Self { http: builder.build()?, runtime: Handle::current() })
    }
}

#[async_trait]
impl HttpClient for Sender {
    async fn send_bytes(&self, request: Request<Bytes>) -> Result<Response<Bytes>, HttpError> {
        let request = reqwest::Request::try_from(request)?;
        let http = self.http.clone();
        self.runtime.spawn(async move { receive(http.execute(request).await?).await }).await?
    }
}

async fn receive(mut answer: reqwest::Response) -> Result<Response<Bytes>, HttpError> {
    let mut body = Vec::new();
    while let Some(more) = answer.chunk().await? {
        body.extend_from_slice(&more);
        if body.len() > LONGEST_ANSWER {
            return Err("the collector's answer is too long".into());
        }
    }
    let mut received = Response::new(Bytes::from(body));
    *received.status_mut() = answer.status();
    *received.headers_mut() = answer.headers().clone();
    Ok(received)
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;
    use std::sync::mpsc::{Receiver, Sender, channel};

    use opentelemetry::trace::Tracer;

    use super::*;

    /// Takes a batch when the test lets it, and answers as the test says.
    #[derive(Debug)]
    struct Collector {
        answers: Mutex<Receiver<OTelSdkResult>>,
        begun: Sender<usize>,
    }

    impl SpanExporter for Collector {
        async fn export(&self, batch: Vec<SpanData>) -> OTelSdkResult {
            self.begun.send(batch.len()).unwrap();
            self.answers.lock().unwrap().recv().unwrap()
        }
    }

    fn refused() -> OTelSdkResult {
        Err(opentelemetry_sdk::error::OTelSdkError::InternalFailure("refused".into()))
    }

    #[test]
    fn spans_beyond_the_bound_are_dropped_and_counted_while_the_collector_hangs() {
        let (answer, answers) = channel();
        let (begun, has_begun) = channel();
        let counts = SpanCounts::default();
        let processor = bounded(Collector { answers: Mutex::new(answers), begun }, 3, &counts);
        let provider = SdkTracerProvider::builder().with_span_processor(processor).build();
        let tracer = provider.tracer("test");
        let requests = |number: usize| (0..number).for_each(|_| drop(tracer.start("request")));
        requests(3);
        let sending: usize = has_begun.recv().unwrap();
        // The collector holds the first ones, so that none of the next seven but those that fit find room.
        requests(7);
        assert_eq!(counts.count_dropped(Dropped::QueueFull), 7);
        // What hangs was refused in the end; whatever waited behind it goes as well.
        answer.send(refused()).unwrap();
        let mut sent = sending;
        while sent < 3 {
            sent += has_begun.recv().unwrap();
            answer.send(refused()).unwrap();
        }
        provider.force_flush().unwrap_or_default();
        assert_eq!(counts.count_dropped(Dropped::ExportFailed), 3);
        // There is room again, and the collector takes it.
        requests(2);
        answer.send(Ok(())).unwrap();
        answer.send(Ok(())).unwrap();
        provider.shutdown().unwrap();
        assert_eq!(counts.count_exported(), 2);
        assert_eq!(counts.count_dropped(Dropped::QueueFull), 7);
    }
}
