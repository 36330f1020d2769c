//! API keys on their way to the database: made-up ones are stopped before it.
//!
//! A key that was proved lately goes straight on. Any other is let through at a bounded rate for each network that sends
//! it, so that trying keys costs the database next to nothing, and the clients with keys that work do not notice. Only
//! the database says whether a key is good.

use std::num::NonZeroU32;
use std::time::Duration;

use actix_web::dev::ServiceResponse;
use actix_web::{HttpMessage, HttpRequest};
use governor::clock::{Clock, DefaultClock};
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};
use quick_cache::sync::Cache;

/// How many keys are remembered as proved.
const CAPACITY: usize = 10_000;

/// How many unknown keys a network may send at once: a service with several clients behind one address that restarts.
const BURST: NonZeroU32 = NonZeroU32::MIN.saturating_add(19);

/// How long until a network may send one more.
const EVERY: Duration = Duration::from_secs(10);

/// The random part of a key: 32 bytes in base64url.
const RANDOM: usize = 43;

/// A key whose proof is still out, noted with the request.
struct Unproved([u8; 32]);

/// Which keys were proved, and how many others came from where.
pub(crate) struct KeyGate {
    proved: Cache<[u8; 32], ()>,
    unknown: Option<DefaultKeyedRateLimiter<String>>,
}

impl Default for KeyGate {
    fn default() -> Self {
        let unknown = Quota::with_period(EVERY).map(|quota| RateLimiter::keyed(quota.allow_burst(BURST)));
        Self { proved: Cache::new(CAPACITY), unknown }
    }
}

impl KeyGate {
    /// Whether this looks like a key of ours at all.
    pub(crate) fn well_formed(key: &str) -> bool {
        key.strip_prefix("sk_").is_some_and(|random| {
            random.len() == RANDOM
                && random.bytes().all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_'))
        })
    }

    /// Lets a key through to the database, or says how many seconds its network must wait.
    pub(crate) fn admit(&self, request: &HttpRequest, hash: [u8; 32], network: &str) -> Result<(), u64> {
        if self.is_proved(&hash) {
            return Ok(());
        }
        let Some(unknown) = &self.unknown else { return Ok(()) };
        unknown.check_key(&network.to_owned()).map_err(|until| {
            until.wait_time_from(DefaultClock::default().now()).as_secs().saturating_add(1)
        })?;
        request.extensions_mut().insert(Unproved(hash));
        Ok(())
    }

    /// Whether a key was proved lately.
    pub(crate) fn is_proved(&self, hash: &[u8; 32]) -> bool {
        self.proved.get(hash).is_some()
    }

    /// Forgets a key that the database refused.
    pub(crate) fn refused(&self, hash: &[u8; 32]) {
        self.proved.remove(hash);
    }

    /// Remembers the key of a request whose answer says that the database knows it.
    pub(crate) fn answered<B>(&self, response: &ServiceResponse<B>) {
        let status = response.status();
        // Neither a key that was stopped before the database nor a failure of the database says anything of the key.
        if !(status.is_success() || matches!(status.as_u16(), 304 | 403 | 404 | 409 | 412)) {
            return;
        }
        let unproved = response.request().extensions().get::<Unproved>().map(|unproved| unproved.0);
        if let Some(hash) = unproved {
            self.proved.insert(hash, ());
        }
    }

    /// Forgets networks that may send at their full rate again.
    pub(crate) fn tidy(&self) {
        if let Some(unknown) = &self.unknown {
            unknown.retain_recent();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_has_the_form_that_keys_are_made_in() {
        assert!(KeyGate::well_formed(&format!("sk_{}", "aZ9-_".repeat(9).get(..43).unwrap())));
        for wrong in
            ["", "sk_", "sk_wrong", &format!("sk_{}", "a".repeat(44)), &format!("sk_{}", "ä".repeat(43))]
        {
            assert!(!KeyGate::well_formed(wrong), "{wrong}");
        }
    }
}
