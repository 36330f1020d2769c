//! A computed figure that explains itself.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A figure: its value or what is unknown, the rule that made it, what went in and where the rule comes from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Figure {
    /// What the figure is, in a few words.
    #[schema(example = "total mass")]
    pub name: String,
    /// The value as a decimal string; absent when it is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "1000.0")]
    pub value: Option<String>,
    /// The unit of the value; empty for a pure number.
    #[schema(example = "g")]
    pub unit: String,
    /// What is missing, when the value is unknown: never a guess.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "unknown: density of honey")]
    pub unknown: Option<String>,
    /// The rule that made it.
    #[schema(example = "sum of the masses of all lines")]
    pub rule: String,
    /// One sentence for a person.
    pub sentence: String,
    /// The source of the rule or constant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// The figures it was made from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(no_recursion)]
    pub inputs: Vec<Figure>,
}
