//! The state that all workers share, and the settings that it is built from.

use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::Arc;
use std::time::Duration;

use clinic::Clinic;
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};

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
}

/// The state shared by all workers.
pub struct ApiState {
    /// The clinic.
    pub clinic: Arc<Clinic>,
    pub(crate) tokens: Tokens,
    pub(crate) trusted_proxies: Vec<IpAddr>,
    pub(crate) body_time: Duration,
    pub(crate) limiter: Option<DefaultKeyedRateLimiter<[u8; 16]>>,
}

impl ApiState {
    /// Sets the API up on a clinic.
    #[must_use]
    pub fn new(clinic: Arc<Clinic>, settings: ApiSettings) -> Self {
        let limiter = settings.requests_per_second.map(|rate| {
            // Ten seconds' worth of requests may arrive at once, so that a page that loads twenty resources is not
            // delayed.
            let burst = rate.saturating_mul(NonZeroU32::MIN.saturating_add(9));
            RateLimiter::keyed(Quota::per_second(rate).allow_burst(burst))
        });
        Self {
            clinic,
            tokens: Tokens::new(settings.keys, settings.issuer),
            trusted_proxies: settings.trusted_proxies,
            body_time: settings.body_time,
            limiter,
        }
    }

    /// Drops the counters of callers that are within their rate limit again. The server calls it once a minute.
    pub fn tidy(&self) {
        if let Some(limiter) = &self.limiter {
            limiter.retain_recent();
        }
    }
}
