//! What a refused request is answered with: problem details as of RFC 9457.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::safety::CautionSet;

/// A word that is not one of the accepted ones.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownWord {
    /// The word as it was sent.
    pub word: String,
    /// The accepted words, separated by commas.
    pub accepted: String,
}

impl std::fmt::Display for UnknownWord {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:?} is not one of: {}", self.word, self.accepted)
    }
}

impl std::error::Error for UnknownWord {}

/// One field that was not accepted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FieldError {
    /// JSON pointer (RFC 6901) to the field in the request body, or `?name` for a query parameter.
    #[schema(example = "/content/phases/0/lines/1/amount")]
    pub pointer: String,
    /// What is wrong, and what would be accepted.
    pub detail: String,
}

impl FieldError {
    /// A field error at a JSON pointer.
    pub fn new(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), detail: detail.into() }
    }
}

/// The cautions that stand before a closed gate, and where they are acknowledged.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Outstanding {
    /// The current caution set.
    pub caution_set: CautionSet,
    /// Where to send the acknowledgement (`POST`).
    #[schema(example = "/v1/revisions/0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80/acknowledgements")]
    pub acknowledge: String,
    /// Why the gate is closed, in a sentence.
    pub reason: String,
}

/// A refused request (`application/problem+json`).
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Problem {
    /// Which kind of problem: a stable address that resolves to a page explaining it.
    #[serde(rename = "type")]
    #[schema(example = "/problems/invalid-request")]
    pub kind: String,
    /// The kind of problem in a few words.
    pub title: String,
    /// The HTTP status.
    pub status: u16,
    /// What happened this time, and the cure.
    pub detail: String,
    /// The request's id, to be quoted when asking for help.
    pub request_id: String,
    /// The fields that were not accepted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<FieldError>,
    /// Set when a gate is closed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outstanding: Option<Box<Outstanding>>,
    /// Set when the thing is in the wrong state: the state it is in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<String>,
}
