//! The state that all workers share, and the settings that it is built from.

use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::Arc;
use std::time::Duration;

use clinic::Clinic;

use crate::key_gate::KeyGate;
use crate::metrics::Metrics;
use crate::rate::Rate;
use crate::reports::Reports;
use crate::spans::Spans;
use crate::token::{SigningKeys, Tokens};

/// Settings of the API.
pub struct ApiSettings {
    /// The keys that access tokens are signed with; the first signs, all verify.
    pub keys: SigningKeys,
    /// The address the service is known by: the issuer of its tokens.
    pub issuer: String,
    /// Proxies whose `X-Forwarded-For` is believed.
    pub trusted_proxies: Vec<IpAddr>,
    /// How many requests a second one caller may make on average; `None` for no limit.
    pub requests_per_second: Option<NonZeroU32>,
    /// How long a request's body may take to arrive before it is answered 408.
    pub body_time: Duration,
    /// Whether requests are counted for `/metrics`.
    pub metrics: bool,
    /// Where the spans of requests go; `None` if they are not exported.
    pub spans: Option<Spans>,
}

/// The state shared by all workers.
pub struct ApiState {
    /// The clinic.
    pub clinic: Arc<Clinic>,
    pub(crate) tokens: Tokens,
    pub(crate) trusted_proxies: Vec<IpAddr>,
    pub(crate) keys: KeyGate,
    pub(crate) body_time: Duration,
    pub(crate) rate: Option<Rate>,
    pub(crate) reports: Reports,
    pub(crate) metrics: Option<Metrics>,
    pub(crate) spans: Option<Spans>,
}

impl ApiState {
    /// Sets the API up on a clinic.
    #[must_use]
    pub fn new(clinic: Arc<Clinic>, settings: ApiSettings) -> Self {
        Self {
            clinic,
            tokens: Tokens::new(settings.keys, settings.issuer),
            trusted_proxies: settings.trusted_proxies,
            keys: KeyGate::default(),
            body_time: settings.body_time,
            rate: settings.requests_per_second.map(Rate::new),
            reports: Reports::default(),
            metrics: settings.metrics.then(Metrics::default),
            spans: settings.spans,
        }
    }

    /// Drops the counters of callers that are within their rate limit again. The server calls it once a minute.
    pub fn tidy(&self) {
        if let Some(rate) = &self.rate {
            rate.tidy();
        }
        self.reports.tidy();
        self.keys.tidy();
    }
}
