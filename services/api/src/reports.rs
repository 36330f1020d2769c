//! How fast strangers may report reactions from one address. Counted in memory only, so that no address is stored with a report
//! or beside one.

use std::num::NonZeroU32;

use governor::clock::{Clock, DefaultClock};
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};

/// Reports an hour from one address, and as many at once: a family that shares one. Common practice, no source.
const AN_HOUR: NonZeroU32 = NonZeroU32::MIN.saturating_add(4);

/// The limiter of all addresses.
pub(crate) struct Reports(DefaultKeyedRateLimiter<[u8; 16]>);

impl Default for Reports {
    fn default() -> Self {
        Self(RateLimiter::keyed(Quota::per_hour(AN_HOUR)))
    }
}

impl Reports {
    /// Counts a report.
    ///
    /// # Errors
    /// Returns the seconds to wait if none is left.
    pub(crate) fn count(&self, key: &[u8; 16]) -> Result<(), u64> {
        let now = DefaultClock::default().now();
        self.0.check_key(key).map_err(|until| until.wait_time_from(now).as_secs() + 1)
    }

    /// Drops the counters of addresses that may report as much as any again.
    pub(crate) fn tidy(&self) {
        self.0.retain_recent();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_is_stopped_and_others_are_not() {
        let reports = Reports::default();
        for _ in 0..5 {
            assert_eq!(reports.count(&[1; 16]), Ok(()));
        }
        let wait = reports.count(&[1; 16]).unwrap_err();
        assert!((600..=721).contains(&wait), "{wait}");
        assert_eq!(reports.count(&[2; 16]), Ok(()));
    }
}
