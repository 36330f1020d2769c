//! When a refused call may be repeated: only if the service asks for it.

use std::time::Duration;

use chrono::DateTime;
use reqwest::StatusCode;
use reqwest::header::{DATE, HeaderMap, RETRY_AFTER};

/// How long the service asks to wait before a retry; `None` if it asks for none.
///
/// Only 429 (too many requests) and 503 (unavailable) ask for a retry, and only with `Retry-After` (RFC 9110, section
/// 10.2.3: seconds, or a date). A date is compared with the response's own `Date`, so that the clocks of client and
/// service need not agree.
pub(crate) fn wait(status: StatusCode, headers: &HeaderMap) -> Option<Duration> {
    if !matches!(status, StatusCode::TOO_MANY_REQUESTS | StatusCode::SERVICE_UNAVAILABLE) {
        return None;
    }
    let text = |name| headers.get(name)?.to_str().ok().map(str::trim);
    let after = text(RETRY_AFTER)?;
    if after.bytes().all(|byte| byte.is_ascii_digit()) {
        return after.parse().ok().map(Duration::from_secs);
    }
    let until = DateTime::parse_from_rfc2822(after).ok()?;
    let now = DateTime::parse_from_rfc2822(text(DATE)?).ok()?;
    Some((until - now).to_std().unwrap_or(Duration::ZERO))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(status: u16, headers: &[(&'static str, &'static str)]) -> Option<u64> {
        let headers = headers.iter().map(|(name, value)| (name.parse().unwrap(), value.parse().unwrap()));
        wait(StatusCode::from_u16(status).unwrap(), &headers.collect()).map(|wait| wait.as_secs())
    }

    #[test]
    fn seconds_are_waited_for_when_busy_or_away() {
        assert_eq!(asked(429, &[("retry-after", "7")]), Some(7));
        assert_eq!(asked(503, &[("retry-after", "0")]), Some(0));
        assert_eq!(asked(429, &[]), None);
        assert_eq!(asked(500, &[("retry-after", "7")]), None);
        assert_eq!(asked(403, &[("retry-after", "7")]), None);
    }

    /// The dates are the example of RFC 9110, section 5.6.7, and one 37 seconds before it.
    #[test]
    fn a_date_counts_from_the_date_of_the_answer() {
        let until = ("retry-after", "Sun, 06 Nov 1994 08:49:37 GMT");
        assert_eq!(asked(503, &[until, ("date", "Sun, 06 Nov 1994 08:49:00 GMT")]), Some(37));
        assert_eq!(asked(503, &[until, ("date", "Sun, 06 Nov 1994 08:50:00 GMT")]), Some(0));
        assert_eq!(asked(503, &[until]), None);
    }

    #[test]
    fn nonsense_invites_nothing() {
        for text in ["", "-1", "soon", "1.5", "99999999999999999999999"] {
            let headers = HeaderMap::from_iter([(RETRY_AFTER, text.parse().unwrap())]);
            assert_eq!(wait(StatusCode::TOO_MANY_REQUESTS, &headers), None, "{text:?}");
        }
    }
}
