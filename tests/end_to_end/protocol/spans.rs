//! Spans, as a collector receives them.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use opentelemetry_proto::tonic::collector::trace::v1::ExportTraceServiceRequest;
use opentelemetry_proto::tonic::common::v1::any_value::Value;
use opentelemetry_proto::tonic::trace::v1::{Span, span::SpanKind, status::StatusCode};
use prost::Message;
use reqwest::Method;
use stillroom_tests::clinic::PASSWORD;
use stillroom_tests::{Answer, Caller, TeachingClinic, TestClinic};
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};

use crate::formulas::infused_oil;

/// A collector: takes what is exported to it, answering each request on a connection of its own.
#[derive(Clone)]
struct Collector {
    address: String,
    bodies: Arc<Mutex<Vec<Vec<u8>>>>,
}

impl Collector {
    async fn start() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = format!("http://{}", listener.local_addr().unwrap());
        let bodies = Arc::new(Mutex::new(Vec::new()));
        let kept = Arc::clone(&bodies);
        tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                let body = take(stream).await;
                kept.lock().unwrap().push(body);
            }
        });
        Self { address, bodies }
    }

    fn bytes(&self) -> Vec<u8> {
        self.bodies.lock().unwrap().concat()
    }

    fn spans(&self) -> Vec<Span> {
        let bodies = self.bodies.lock().unwrap();
        bodies
            .iter()
            .map(|body| ExportTraceServiceRequest::decode(body.as_slice()).unwrap())
            .flat_map(|request| request.resource_spans)
            .flat_map(|resource| resource.scope_spans)
            .flat_map(|scope| scope.spans)
            .collect()
    }
}

/// Reads one request, fails unless it is an export as protobuf, and takes it.
async fn take(stream: TcpStream) -> Vec<u8> {
    let mut stream = BufReader::new(stream);
    let (mut head, mut length) = (String::new(), 0);
    loop {
        let begins = head.len();
        stream.read_line(&mut head).await.unwrap();
        let line = head[begins..].trim_end().to_ascii_lowercase();
        if line.is_empty() {
            break;
        }
        if let Some(text) = line.strip_prefix("content-length: ") {
            length = text.parse().unwrap();
        }
    }
    assert!(head.starts_with("POST /v1/traces HTTP/1.1\r\n"), "{head}");
    assert!(head.to_ascii_lowercase().contains("content-type: application/x-protobuf\r\n"), "{head}");
    let mut body = vec![0; length];
    stream.read_exact(&mut body).await.unwrap();
    let answer = b"HTTP/1.1 200 OK\r\ncontent-type: application/x-protobuf\r\ncontent-length: 0\r\nconnection: close\r\n\r\n";
    stream.write_all(answer).await.unwrap();
    body
}

fn attributes(span: &Span) -> BTreeMap<String, String> {
    let text = |value: Value| match value {
        Value::StringValue(text) => text,
        Value::IntValue(number) => number.to_string(),
        other => panic!("{other:?}"),
    };
    span.attributes
        .iter()
        .map(|one| (one.key.clone(), text(one.value.clone().unwrap().value.unwrap())))
        .collect()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

async fn traced(caller: &Caller, path: &str, traceparent: &str) -> Answer {
    caller.send(Method::GET, path, &[("traceparent", traceparent)], None).await
}

const TRACE: &str = "4bf92f3577b34da6a3ce929d0e0e4736";
const UNSAMPLED: &str = "11111111111111111111111111111111";
const PARENT: &str = "00f067aa0ba902b7";

#[tokio::test(flavor = "multi_thread")]
async fn the_span_of_a_request_is_exported_under_the_trace_of_its_caller() {
    let collector = Collector::start().await;
    let settings = [("STILLROOM_OTLP_ENDPOINT", collector.address.as_str())];
    let room = TeachingClinic::start_with(&settings).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let recipe = format!("/v1/revisions/{revision}/recipe?mass=123.5%20g");
    let answered = traced(&room.noor, &recipe, &format!("00-{TRACE}-{PARENT}-01")).await.expect(200);
    traced(&room.noor, "/v1/me", &format!("00-{UNSAMPLED}-{PARENT}-00")).await.expect(200);
    let lost = traced(&room.noor, "/secret-path", &format!("00-{TRACE}-{PARENT}-01")).await.expect(404);
    let new = room.noor.get("/v1/me").await.expect(200);
    let (library, noor) = (room.library.clone(), room.noor.clone());
    room.stop().await;

    let spans = collector.spans();
    let of = |trace: &str| spans.iter().filter(|span| hex(&span.trace_id) == trace).collect::<Vec<_>>();
    let [read, missed] = of(TRACE)[..] else { panic!("two spans in {spans:?}") };
    for span in [read, missed] {
        assert_eq!(hex(&span.parent_span_id), PARENT);
        assert_eq!(span.kind(), SpanKind::Server);
        assert!(span.span_id != [0; 8] && hex(&span.span_id) != PARENT);
        assert!(span.start_time_unix_nano <= span.end_time_unix_nano && span.start_time_unix_nano > 0);
        assert!(span.events.is_empty() && span.links.is_empty());
        assert_ne!(span.status.as_ref().map_or(StatusCode::Unset, |status| status.code()), StatusCode::Error);
    }
    assert_eq!(read.name, "GET /v1/revisions/{id}/recipe");
    let expected = [
        ("http.request.method", "GET"),
        ("http.response.status_code", "200"),
        ("http.route", "/v1/revisions/{id}/recipe"),
        ("stillroom.request_id", answered.header("x-request-id")),
    ];
    assert_eq!(attributes(read), expected.map(|(key, value)| (key.to_owned(), value.to_owned())).into());
    assert_eq!(missed.name, "GET");
    let expected = [
        ("http.request.method", "GET"),
        ("http.response.status_code", "404"),
        ("stillroom.request_id", lost.header("x-request-id")),
    ];
    assert_eq!(attributes(missed), expected.map(|(key, value)| (key.to_owned(), value.to_owned())).into());

    // A caller that has its trace recorded nowhere is left in peace; a request without a trace begins one.
    assert!(of(UNSAMPLED).is_empty());
    let own =
        spans.iter().find(|span| attributes(span)["stillroom.request_id"] == new.header("x-request-id"));
    assert!(own.unwrap().parent_span_id.is_empty());

    let exported = String::from_utf8_lossy(&collector.bytes()).into_owned();
    assert!(exported.contains("stillroom"), "the service is named");
    for secret in [
        &*revision,
        &*library,
        &*noor.id,
        noor.token.as_deref().unwrap(),
        PASSWORD,
        "noor",
        "123.5",
        "secret",
    ] {
        assert!(!exported.contains(secret), "{secret} was exported");
    }
}

/// A count in `/metrics`.
async fn counted(metrics: &Caller, name: &str) -> u64 {
    let answer = metrics.get("/metrics").await.expect(200);
    let line = answer.text.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
    line.map_or(0, |number| number.parse().unwrap())
}

#[tokio::test(flavor = "multi_thread")]
async fn a_dead_collector_changes_nothing_but_the_count_of_dropped_spans() {
    let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("http://{}", free.local_addr().unwrap());
    drop(free);
    let settings =
        [("STILLROOM_OTLP_ENDPOINT", address.as_str()), ("STILLROOM_METRICS_LISTEN", "127.0.0.1:0")];
    let room = TeachingClinic::start_with(&settings).await;
    let metrics = Caller::nobody(&format!("http://{}", room.clinic.service.metrics.unwrap()));
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let refused = "stillroom_spans_dropped_total{reason=\"export_failed\"}";
    let dropped = tokio::time::timeout(Duration::from_secs(60), async {
        while counted(&metrics, refused).await == 0 {
            room.noor.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);
        }
    });
    dropped.await.expect("what the collector does not take is counted");
    assert_eq!(counted(&metrics, "stillroom_spans_exported_total").await, 0);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_collector_that_never_answers_holds_up_neither_requests_nor_the_end() {
    // Connections are accepted by the system, and nobody reads from them.
    let silent = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", silent.local_addr().unwrap());
    let clinic = TestClinic::start_with(&[("STILLROOM_OTLP_ENDPOINT", &address)]).await;
    for _ in 0..50 {
        clinic.administrator.get("/v1/me").await.expect(200);
    }
    let (_connection, _) = silent.accept().await.expect("spans are being sent");
    for _ in 0..50 {
        clinic.administrator.get("/v1/me").await.expect(200);
    }
    tokio::time::timeout(Duration::from_secs(30), clinic.stop())
        .await
        .expect("it ends without the collector");
    drop(silent);
}

#[tokio::test(flavor = "multi_thread")]
async fn metrics_know_no_spans_when_none_are_exported() {
    let clinic = TestClinic::start_with(&[("STILLROOM_METRICS_LISTEN", "127.0.0.1:0")]).await;
    let metrics = Caller::nobody(&format!("http://{}", clinic.service.metrics.unwrap()));
    assert!(!metrics.get("/metrics").await.expect(200).text.contains("spans"));
    clinic.stop().await;
}
