//! The request rate of a caller, counted in the process, since a write for each read would cost more than the read; and
//! the fields that tell of it.
//!
//! IETF draft "RateLimit header fields for HTTP", draft-ietf-httpapi-ratelimit-headers-10: `RateLimit-Policy` states the
//! quota `q` and its window `w` in seconds, `RateLimit` what remains, `r`, and after how many seconds the quota is whole
//! again, `t`; with a refusal, after how many seconds one more request is taken. Both are lists of structured fields (RFC
//! 9651): a second limiter adds a member.

use std::num::NonZeroU32;

use actix_web::HttpMessage;
use actix_web::HttpRequest;
use actix_web::http::header::{HeaderMap, HeaderName, HeaderValue};
use governor::clock::{Clock, DefaultClock};
use governor::middleware::StateInformationMiddleware;
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};

static POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");
pub(crate) static LIMIT: HeaderName = HeaderName::from_static("ratelimit");

/// Seconds' worth of requests that may arrive at once, so that a page that loads twenty resources is not delayed.
const WINDOW: u32 = 10;

/// The limiter of all callers.
pub(crate) struct Rate {
    limiter: DefaultKeyedRateLimiter<[u8; 16], StateInformationMiddleware>,
    per_second: NonZeroU32,
    policy: HeaderValue,
}

/// What a caller may still send, kept with the request until its response is made.
struct Remaining {
    policy: HeaderValue,
    remaining: u32,
    seconds: u64,
}

impl Rate {
    pub(crate) fn new(per_second: NonZeroU32) -> Self {
        let quota = per_second.saturating_mul(NonZeroU32::MIN.saturating_add(WINDOW - 1));
        let policy = HeaderValue::from_str(&format!("\"requests\";q={quota};w={WINDOW}"))
            .unwrap_or_else(|_| HeaderValue::from_static(""));
        let limiter = RateLimiter::keyed(Quota::per_second(per_second).allow_burst(quota))
            .with_middleware::<StateInformationMiddleware>();
        Self { limiter, per_second, policy }
    }

    /// Counts a request of the caller with this key.
    ///
    /// # Errors
    /// Returns the seconds to wait if the caller has no request left.
    pub(crate) fn count(&self, request: &HttpRequest, key: &[u8; 16]) -> Result<(), u64> {
        let (remaining, seconds, answer) = match self.limiter.check_key(key) {
            Ok(state) => {
                let remaining = state.remaining_burst_capacity();
                let used = state.quota().burst_size().get().saturating_sub(remaining);
                (remaining, u64::from(used.div_ceil(self.per_second.get())), Ok(()))
            }
            Err(until) => {
                let wait = until.wait_time_from(DefaultClock::default().now()).as_secs() + 1;
                (0, wait, Err(wait))
            }
        };
        request.extensions_mut().insert(Remaining { policy: self.policy.clone(), remaining, seconds });
        answer
    }

    /// Drops the counters of callers that are within their rate again.
    pub(crate) fn tidy(&self) {
        self.limiter.retain_recent();
    }
}

/// The member of `RateLimit` for attempts to guess a password or a code, with a refusal.
pub(crate) fn of_attempts(retry_after: u64) -> String {
    format!("\"attempts\";r=0;t={retry_after}")
}

/// Adds the fields to a response whose request was counted.
pub(crate) fn tell(request: &HttpRequest, headers: &mut HeaderMap) {
    let extensions = request.extensions();
    let Some(Remaining { policy, remaining, seconds }) = extensions.get() else { return };
    if let Ok(value) = HeaderValue::from_str(&format!("\"requests\";r={remaining};t={seconds}")) {
        headers.insert(POLICY.clone(), policy.clone());
        headers.append(LIMIT.clone(), value);
    }
}
