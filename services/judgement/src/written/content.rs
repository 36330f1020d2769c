//! The author's content of a formula, as it is stored.
//!
//! Digests of frozen revisions cover the JSON of these types: a field is never renamed or reordered, and an absent
//! field is never written. A new field must be optional.

use serde::{Deserialize, Serialize};

use super::words::{Level, Regime, Stage};

/// A formula as its author wrote it. Every text is in Unicode normalisation form C.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Content {
    /// Its title.
    pub title: String,
    /// The kind of preparation, as entered; its key is stored beside the content.
    pub preparation: String,
    /// The route of use, as entered; its key is stored beside the content.
    pub route: String,
    /// The regime it is made under.
    pub regime: Regime,
    /// The intended part of the body.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<String>,
    /// The lowest intended age.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub youngest: Option<String>,
    /// The largest mass used in a day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used_daily: Option<String>,
    /// The intended quantity at once, and what it is put into.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serving: Option<Serving>,
    /// The pH that the product is to have.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_ph: Option<String>,
    /// Stability evidence on file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stability: Option<Stability>,
    /// The measured water activity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_activity: Option<WaterActivity>,
    /// The stated yield.
    #[serde(rename = "yield", default, skip_serializing_if = "Option::is_none")]
    pub yield_: Option<String>,
    /// The phases, in the order they are weighed.
    pub phases: Vec<Phase>,
    /// The method, step by step.
    pub method: Vec<Step>,
    /// The author's own cautions.
    #[serde(default)]
    pub cautions: Vec<OwnCaution>,
    /// Texts of the label.
    #[serde(default)]
    pub label: LabelText,
}

/// How much is used at once, and what it is put into.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Serving {
    /// How much of the product.
    pub amount: String,
    /// The volume that it is put into.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// How often in a day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub a_day: Option<u8>,
}

/// A phase.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Phase {
    /// Its name.
    pub name: String,
    /// Its lines, in the order they are weighed.
    pub lines: Vec<Line>,
}

/// A line of a phase, with the name that its author wrote.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// The name of a material. Either this or `formula`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub material: Option<String>,
    /// The title or id of a formula. Either this or `material`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub formula: Option<String>,
    /// The amount, as entered.
    pub amount: String,
    /// The function of the ingredient.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub function: Option<String>,
}

/// A step of the method.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// The instruction.
    #[serde(rename = "do")]
    pub do_: String,
    /// The phase that the step concerns.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phase: Option<String>,
    /// The temperature, as entered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<String>,
    /// Whether the maker must confirm the step before the next one.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub hold: bool,
    /// Whether the step may be finished before the steps above it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub any_order: bool,
    /// Whether the step is done only where something goes wrong.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub rescue: bool,
}

/// A caution that the author set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnCaution {
    /// Its level.
    pub level: Level,
    /// Its text.
    pub text: String,
    /// What it is about. A caution without it is about the use.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<Stage>,
    /// For whom it is meant; everyone where nothing is given.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub audiences: Vec<String>,
}

/// Texts of the label that are not calculated.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LabelText {
    /// Directions for use.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub directions: String,
    /// Storage conditions.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub storage: String,
    /// The container.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub container: String,
    /// Period of use after opening.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub after_opening: String,
}

/// Evidence of stability.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stability {
    /// The period that the evidence supports.
    pub period: String,
    /// Where it is filed.
    pub source: String,
}

/// A measured water activity.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WaterActivity {
    /// The value, as entered.
    pub value: String,
    /// Where the measurement is filed.
    pub source: String,
}
