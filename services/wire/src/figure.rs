//! A computed figure that explains itself.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Where a rule or a constant comes from, and how far it can be trusted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FigureSource {
    /// The standard, law, table or handbook.
    #[schema(example = "USP 29, Almond Oil")]
    pub text: String,
    /// `verified`, `secondary`, `from memory`, `common practice`, `definition` or `entered by the clinic`.
    #[schema(example = "verified")]
    pub status: String,
}

/// A figure: its value or what is unknown. With `explain=true` also the rule that made it, a sentence that says how,
/// what went in, and where the rule comes from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Figure {
    /// The name of the figure.
    #[schema(example = "total mass")]
    pub name: String,
    /// The value as it is read: a number of no more than four significant digits unless more stand before the point, a
    /// date, or a word where the question is not one of quantity. Absent when unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "168.6")]
    pub value: Option<String>,
    /// The unit of the value; empty for a pure number. A share is in `%`, as it is typed.
    #[schema(example = "g")]
    pub unit: String,
    /// The value to twelve significant digits in the same unit, for tools; absent where `value` is exact.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "168.5975")]
    pub exact: Option<String>,
    /// The missing data, if the value is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "unknown: density of honey")]
    pub unknown: Option<String>,
    /// The stable name of the rule that made it. Only with `explain=true`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "gross_from_net")]
    pub rule: Option<String>,
    /// One sentence for a person. Without `explain=true` only where the value is a word.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "amount before losses of 4 %, for 360 g: 375 g")]
    pub sentence: Option<String>,
    /// Where the rule comes from; absent for plain arithmetic. Only with `explain=true`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<FigureSource>,
    /// The inputs. Only with `explain=true`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(no_recursion)]
    pub inputs: Vec<FigureInput>,
}

/// Something that a figure was made from: a plain number or word, a constant with its source, or another figure.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(example = json!({ "name": "net", "value": "360", "unit": "g" }))]
pub struct FigureInput {
    /// The name by which the rule calls it.
    #[schema(example = "net")]
    pub name: String,
    /// The value as it is read: a number or a word.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "360")]
    pub value: Option<String>,
    /// The value to twelve significant digits, sixteen of a constant; absent where `value` is exact.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub exact: Option<String>,
    /// The unit of the value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "g")]
    pub unit: Option<String>,
    /// Where a constant comes from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<FigureSource>,
    /// Set when it is itself a computed figure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(no_recursion)]
    pub figure: Option<Box<Figure>>,
}
