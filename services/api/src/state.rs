//! What every handler works with.

use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::Arc;

use clinic::Clinic;
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};

use crate::token::{SigningKeys, Tokens};

/// How the API is set up.
pub struct ApiSettings {
    /// The keys that access tokens are signed with; the first signs, all verify.
    pub keys: SigningKeys,
    /// The address the service is known by: the issuer of its tokens.
    pub issuer: String,
    /// Proxies whose `X-Forwarded-For` is believed.
    pub trusted_proxies: Vec<IpAddr>,
    /// How many requests a second one caller may make on average; `None` for no limit.
    pub requests_per_second: Option<NonZeroU32>,
}

/// The state shared by all workers.
pub struct ApiState {
    /// The clinic.
    pub clinic: Arc<Clinic>,
    pub(crate) tokens: Tokens,
    pub(crate) trusted_proxies: Vec<IpAddr>,
    pub(crate) limiter: Option<DefaultKeyedRateLimiter<[u8; 16]>>,
}

impl ApiState {
    /// Sets the API up on a clinic.
    #[must_use]
    pub fn new(clinic: Arc<Clinic>, settings: ApiSettings) -> Self {
        let limiter = settings.requests_per_second.map(|rate| {
            // A page that opens twenty things at once must not be slowed: ten seconds' worth may come at once.
            let burst = rate.saturating_mul(NonZeroU32::MIN.saturating_add(9));
            RateLimiter::keyed(Quota::per_second(rate).allow_burst(burst))
        });
        Self {
            clinic,
            tokens: Tokens::new(settings.keys, settings.issuer),
            trusted_proxies: settings.trusted_proxies,
            limiter,
        }
    }

    /// Forgets callers whose limits have filled up again; called now and then by the server.
    pub fn tidy(&self) {
        if let Some(limiter) = &self.limiter {
            limiter.retain_recent();
        }
    }
}
