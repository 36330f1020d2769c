//! The trace that calls belong to: W3C Trace Context, Recommendation of 23 November 2021, section 3.2.

use std::str::FromStr;

use reqwest::header::HeaderValue;

use crate::error::SetupError;

/// A `traceparent` of version 00, such as `00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01`: the trace that the
/// caller of this client is in, the caller's own span, and whether it is recorded. The service's span of a call then hangs
/// below that span.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TraceParent(HeaderValue);

impl TraceParent {
    pub(crate) const fn header(&self) -> &HeaderValue {
        &self.0
    }
}

impl FromStr for TraceParent {
    type Err = SetupError;

    /// # Errors
    /// Returns [`SetupError::TraceParent`] unless `text` is four fields of lower-case hexadecimal digits, joined by dashes:
    /// `00`, a trace ID of 32 and a parent ID of 16 digits, neither of them all zeros, and two digits of flags.
    fn from_str(text: &str) -> Result<Self, SetupError> {
        let fields: Vec<&str> = text.split('-').collect();
        let valid = match *fields {
            ["00", trace, parent, flags] => id(trace, 32) && id(parent, 16) && hexadecimal(flags, 2),
            _ => false,
        };
        if !valid {
            return Err(SetupError::TraceParent);
        }
        HeaderValue::from_str(text).map(Self).map_err(|_| SetupError::TraceParent)
    }
}

fn id(digits: &str, length: usize) -> bool {
    hexadecimal(digits, length) && digits.bytes().any(|digit| digit != b'0')
}

fn hexadecimal(digits: &str, length: usize) -> bool {
    digits.len() == length && digits.bytes().all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn traceparent_is_refused_when_a_field_is_invalid() {
        let valid = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01";
        assert_eq!(valid.parse::<TraceParent>().unwrap().header(), valid);
        for invalid in [
            "",
            "01-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "00-00000000000000000000000000000000-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-0000000000000000-01",
            "00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e473-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-1",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01-more",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01\r\n",
        ] {
            assert!(invalid.parse::<TraceParent>().is_err(), "{invalid:?}");
        }
    }
}
