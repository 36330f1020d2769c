//! Counts for `/metrics`, in the OpenMetrics text format, which Prometheus reads.
//!
//! Labels are the route's template, the method and the class of the status, so that the number of series is bounded by
//! the routes. Never here: an ID, a path as it was sent, a name or an amount.

use std::time::Duration;

use actix_web::http::{Method, StatusCode};
use clinic::Connections;
use prometheus_client::encoding::{EncodeLabelSet, text};
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::ConstGauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::Registry;

use crate::spans::{SpanCounts, known_method};

/// Upper bounds of the latencies in seconds: reads take a fraction of a millisecond, a statement ten seconds at most.
const BOUNDS: [f64; 14] =
    [0.000_25, 0.000_5, 0.001, 0.002_5, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0];

#[derive(Clone, Debug, Hash, PartialEq, Eq, EncodeLabelSet)]
struct Answered {
    route: String,
    method: &'static str,
    status: &'static str,
}

#[derive(Clone, Debug, Hash, PartialEq, Eq, EncodeLabelSet)]
struct Route {
    route: String,
    method: &'static str,
}

/// What is counted of requests.
pub(crate) struct Metrics {
    requests: Family<Answered, Counter>,
    seconds: Family<Route, Histogram, fn() -> Histogram>,
}

impl Default for Metrics {
    fn default() -> Self {
        Self { requests: Family::default(), seconds: Family::new_with_constructor(|| Histogram::new(BOUNDS)) }
    }
}

impl Metrics {
    /// Counts a response. A request that no route took has none in its labels.
    pub(crate) fn count(&self, route: Option<&str>, method: &Method, status: StatusCode, took: Duration) {
        let route = route.unwrap_or("none").to_owned();
        let method = known_method(method).unwrap_or("other");
        self.seconds.get_or_create(&Route { route: route.clone(), method }).observe(took.as_secs_f64());
        self.requests.get_or_create(&Answered { route, method, status: class(status) }).inc();
    }

    /// All counts and the state of the pool, as text.
    ///
    /// # Errors
    /// Returns an error if a value cannot be written, which a text never refuses.
    pub(crate) fn text(
        &self,
        connections: Connections,
        spans: Option<&SpanCounts>,
    ) -> Result<String, std::fmt::Error> {
        let mut registry = Registry::with_prefix("stillroom");
        registry.register("build", "The version", Info::new([("version", env!("CARGO_PKG_VERSION"))]));
        registry.register("requests", "Requests answered", self.requests.clone());
        registry.register("request_seconds", "Time to answer, in seconds", self.seconds.clone());
        let Connections { limit, open, idle, waiting } = connections;
        for (name, help, value) in [
            ("connections_limit", "Database connections that the pool may open", limit),
            ("connections_open", "Database connections that the pool holds", open),
            ("connections_idle", "Database connections that no request uses", idle),
            ("connections_waiting", "Requests that wait for a database connection", waiting),
        ] {
            registry.register(name, help, ConstGauge::new(i64::try_from(value).unwrap_or(i64::MAX)));
        }
        if let Some(spans) = spans {
            spans.register(&mut registry);
        }
        let mut out = String::new();
        text::encode(&mut out, &registry)?;
        Ok(out)
    }
}

fn class(status: StatusCode) -> &'static str {
    match status.as_u16() / 100 {
        1 => "1xx",
        2 => "2xx",
        3 => "3xx",
        4 => "4xx",
        _ => "5xx",
    }
}
