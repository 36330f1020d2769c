//! Problem details (RFC 9457): the body of every refused request.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::safety::CautionSet;

pub use crate::words::UnknownWord;

/// An invalid field.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FieldError {
    /// JSON pointer (RFC 6901) to the field in the request body, or `?name` for a query parameter.
    #[schema(example = "/content/phases/0/lines/1/amount")]
    pub pointer: String,
    /// The fault, and the values accepted.
    pub detail: String,
    /// What would be accepted there instead, the likeliest first. Absent where nothing in particular can be meant.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!(["30.0 g"]))]
    pub instead: Vec<String>,
}

impl FieldError {
    /// A field error at a JSON pointer.
    pub fn new(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), detail: detail.into(), instead: Vec::new() }
    }

    /// The same with what would be accepted there.
    #[must_use]
    pub fn or(mut self, instead: impl IntoIterator<Item = String>) -> Self {
        self.instead.extend(instead);
        self
    }
}

/// The cautions to acknowledge before the recipe is released.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Outstanding {
    /// The current caution set.
    pub caution_set: CautionSet,
    /// The address to send the acknowledgement to (`POST`).
    #[schema(example = "/v1/revisions/0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80/acknowledgements")]
    pub acknowledge: String,
    /// Why the recipe is not released, in one sentence.
    pub reason: String,
}

/// The response to a refused request (`application/problem+json`).
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Problem {
    /// The kind of problem: a stable address of a page that explains it.
    #[serde(rename = "type")]
    #[schema(example = "/problems/invalid-request")]
    pub kind: String,
    /// The kind of problem in a few words.
    pub title: String,
    /// The HTTP status.
    pub status: u16,
    /// The fault of this request, and the remedy.
    pub detail: String,
    /// The request ID. Quote it when you ask for help.
    pub request_id: String,
    /// The invalid fields.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<FieldError>,
    /// Set for `gate-closed`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outstanding: Option<Box<Outstanding>>,
    /// Set for `wrong-state`: the current state.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<String>,
}
