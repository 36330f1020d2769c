//! How a calculator refuses: the field, why, and what would be accepted or possible.

use serde::Serialize;
use thiserror::Error;

use crate::{Unknown, words::words};

words! {
    /// Why a calculation was refused.
    Reason, "reason" {
        /// A value lies outside what is accepted.
        OutOfRange = "out of range",
        /// The values are each acceptable, but what is asked for cannot be had from them.
        Impossible = "impossible",
        /// Something that is needed is not known.
        Unknown = "unknown",
    }
}

/// A calculation that was refused.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("{says}")]
pub struct Refusal {
    /// The field of the request, in snake case.
    pub field: &'static str,
    /// Why, as a word.
    pub reason: Reason,
    /// Why, as a sentence that says what would be accepted or possible.
    pub says: String,
}

impl Refusal {
    /// A value outside what is accepted.
    pub fn out_of_range(field: &'static str, says: impl Into<String>) -> Self {
        Self { field, reason: Reason::OutOfRange, says: says.into() }
    }

    /// Values from which what is asked for cannot be had.
    pub fn impossible(field: &'static str, says: impl Into<String>) -> Self {
        Self { field, reason: Reason::Impossible, says: says.into() }
    }

    /// Something that is needed is not known.
    #[must_use]
    pub fn unknown(field: &'static str, unknown: &Unknown) -> Self {
        Self { field, reason: Reason::Unknown, says: unknown.to_string() }
    }

    /// Amounts beyond the range of a decimal.
    pub(crate) fn too_large(field: &'static str) -> Self {
        Self::out_of_range(field, "The amounts are too large or too far apart to calculate. Reduce them.")
    }
}
