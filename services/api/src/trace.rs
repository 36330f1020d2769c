//! The trace that a request belongs to: W3C Trace Context, Recommendation of 23 November 2021, section 3.2.
//!
//! A file of our own, since the libraries that read the header are more lenient than the Recommendation. `tracestate` is accepted and never read: only its vendors can read it, it has to be handed on with
//! outgoing requests alone, and a request that is answered here causes none. Nothing of a trace is answered: the
//! Recommendation has no header for it, and `X-Request-Id` names the same log line.

use std::fmt;

use actix_web::http::header::{HeaderMap, HeaderName};
use uuid::Uuid;

static TRACEPARENT: HeaderName = HeaderName::from_static("traceparent");

/// Version, trace ID, parent ID and flags, with the dashes between.
const LENGTH: usize = 55;

/// The part of a trace that goes into the log and into the span of a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Trace {
    pub(crate) id: TraceId,
    /// The caller's own span; `None` if the trace begins here.
    pub(crate) parent: Option<Parent>,
}

/// The caller's span.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Parent {
    pub(crate) span: SpanId,
    /// Whether the caller has its trace recorded: the lowest bit of the flags. The others are for versions to come.
    pub(crate) sampled: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct TraceId(u128);

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct SpanId(u64);

impl From<u128> for TraceId {
    fn from(id: u128) -> Self {
        Self(id)
    }
}

impl From<TraceId> for u128 {
    fn from(TraceId(id): TraceId) -> Self {
        id
    }
}

impl From<u64> for SpanId {
    fn from(id: u64) -> Self {
        Self(id)
    }
}

impl From<SpanId> for u64 {
    fn from(SpanId(id): SpanId) -> Self {
        id
    }
}

impl fmt::Display for TraceId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:032x}", self.0)
    }
}

impl fmt::Display for SpanId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:016x}", self.0)
    }
}

impl Trace {
    /// The caller's trace; a new one if the request names none, names one that is invalid, or names several. A new
    /// trace takes the request's ID, a UUIDv7: unique, never zero, and random in its last seven bytes.
    pub(crate) fn of(headers: &HeaderMap, request: Uuid) -> Self {
        let mut sent = headers.get_all(&TRACEPARENT);
        let one = sent.next().filter(|_| sent.next().is_none());
        one.and_then(|value| parse(value.as_bytes()))
            .unwrap_or(Self { id: TraceId(request.as_u128()), parent: None })
    }
}

/// `00-TRACE_ID-PARENT_ID-FLAGS`. Versions to come may add fields after these, behind a dash.
fn parse(value: &[u8]) -> Option<Trace> {
    let (known, more) = value.split_at_checked(LENGTH)?;
    let mut fields = known.split(|byte| *byte == b'-');
    let version = hex(fields.next()?, 2)?;
    let id = hex(fields.next()?, 32).filter(|id| *id != 0)?;
    let parent = hex(fields.next()?, 16).filter(|id| *id != 0)?;
    let sampled = hex(fields.next()?, 2)? & 1 == 1;
    let ends_well = match version {
        0 => more.is_empty(),
        0xff => false,
        _ => matches!(more.first(), None | Some(b'-')),
    };
    let span = SpanId(u64::try_from(parent).ok()?);
    ends_well.then_some(Trace { id: TraceId(id), parent: Some(Parent { span, sampled }) })
}

/// Exactly so many digits, in lower case.
fn hex(digits: &[u8], length: usize) -> Option<u128> {
    let valid =
        digits.len() == length && digits.iter().all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'));
    u128::from_str_radix(std::str::from_utf8(digits).ok().filter(|_| valid)?, 16).ok()
}

#[cfg(test)]
mod tests {
    use actix_web::http::header::HeaderValue;

    use super::*;

    /// The first example under "Examples of HTTP traceparent Headers".
    const EXAMPLE: &str = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01";

    fn ids(value: &str) -> Option<(String, String)> {
        parse(value.as_bytes()).map(|trace| (trace.id.to_string(), trace.parent.unwrap().span.to_string()))
    }

    fn example() -> Option<(String, String)> {
        Some(("4bf92f3577b34da6a3ce929d0e0e4736".into(), "00f067aa0ba902b7".into()))
    }

    #[test]
    fn traceparent_of_version_00_is_read_with_any_flags() {
        assert_eq!(ids(EXAMPLE), example());
        for (flags, sampled) in [("00", false), ("01", true), ("02", false), ("fe", false), ("ff", true)] {
            let value = format!("{}{flags}", &EXAMPLE[..53]);
            assert_eq!(ids(&value), example(), "{flags}");
            assert_eq!(parse(value.as_bytes()).unwrap().parent.unwrap().sampled, sampled, "{flags}");
        }
    }

    #[test]
    fn traceparent_is_refused_when_it_breaks_a_rule() {
        for value in [
            // An ID that is all zeros.
            "00-00000000000000000000000000000000-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-0000000000000000-01",
            // Upper case.
            "00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00F067AA0BA902B7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-0A",
            "0A-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            // Version ff, no version, other than hexadecimal digits.
            "ff-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "0x-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "+0-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e473g-00f067aa0ba902b7-01",
            // Fields of other lengths, other separators, more or less than version 00 has.
            "00-4bf92f3577b34da6a3ce929d0e0e47360-0f067aa0ba902b7-01",
            "000-4bf92f3577b34da6a3ce929d0e0e473-00f067aa0ba902b7-01",
            "00_4bf92f3577b34da6a3ce929d0e0e4736_00f067aa0ba902b7_01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-0",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01-",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01-more",
            " 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "",
        ] {
            assert_eq!(ids(value), None, "{value:?}");
        }
    }

    /// "Versioning of traceparent": by length, then field by field; after the flags comes a dash or the end.
    #[test]
    fn traceparent_of_a_later_version_is_read_by_its_first_fields() {
        for value in [
            "01-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "cc-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01-what-the-future-will-be-like",
            "fe-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01-",
        ] {
            assert_eq!(ids(value), example(), "{value}");
        }
        for value in [
            "cc-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01.what",
            "cc-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-011",
            "cc-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7",
        ] {
            assert_eq!(ids(value), None, "{value}");
        }
    }

    #[test]
    fn trace_begins_with_the_request_id_when_none_or_several_are_sent() {
        let request = Uuid::from_u128(0x0192_d5c8_6f3a_7c41_9a3e_5b1d_2f4c_6e80);
        let new = Trace { id: TraceId(request.as_u128()), parent: None };
        let mut headers = HeaderMap::new();
        assert_eq!(Trace::of(&headers, request), new);
        assert_eq!(new.id.to_string(), "0192d5c86f3a7c419a3e5b1d2f4c6e80");
        headers.append(TRACEPARENT.clone(), HeaderValue::from_static(EXAMPLE));
        assert_eq!(Some(Trace::of(&headers, request)), parse(EXAMPLE.as_bytes()));
        headers.append(TRACEPARENT.clone(), HeaderValue::from_static(EXAMPLE));
        assert_eq!(Trace::of(&headers, request), new);
    }
}
