//! What an author wrote, as it is kept.
//!
//! The JSON of these types is what digests of frozen revisions were taken over: a field is never renamed, reordered or
//! written where it was left out before. A field that is added is optional and is not written where it is absent.

use serde::{Deserialize, Serialize};

use super::words::{Level, Regime};

/// A formula as its author wrote it. Every text is in Unicode normalisation form C.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Content {
    /// Its title.
    pub title: String,
    /// The kind of preparation, as written; its key stands beside the content.
    pub preparation: String,
    /// Where and how it is used, as written; its key stands beside the content.
    pub route: String,
    /// What it is made as.
    pub regime: Regime,
    /// The part of the body that it is meant for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<String>,
    /// The youngest person that it is meant for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub youngest: Option<String>,
    /// The most of it that is used in a day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used_daily: Option<String>,
    /// Evidence on file that it keeps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stability: Option<Stability>,
    /// What it yields.
    #[serde(rename = "yield", default, skip_serializing_if = "Option::is_none")]
    pub yield_: Option<String>,
    /// The phases, in the order they are weighed.
    pub phases: Vec<Phase>,
    /// The method, step by step.
    pub method: Vec<Step>,
    /// The author's own cautions.
    #[serde(default)]
    pub cautions: Vec<OwnCaution>,
    /// What the label says.
    #[serde(default)]
    pub label: LabelText,
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
    /// The amount, as the trade writes it.
    pub amount: String,
    /// What it is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub function: Option<String>,
}

/// A step of the method.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// What is done.
    #[serde(rename = "do")]
    pub do_: String,
    /// The phase that it is done to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phase: Option<String>,
    /// The temperature, as the trade writes it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<String>,
    /// Whether the maker confirms before going on.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub hold: bool,
}

/// A caution that the author set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnCaution {
    /// How strongly it binds.
    pub level: Level,
    /// What it says.
    pub text: String,
}

/// What the label says besides what is computed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LabelText {
    /// How it is used.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub directions: String,
    /// How it is kept.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub storage: String,
    /// The container.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub container: String,
    /// For how long it is good once it was opened.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub after_opening: String,
}

/// Evidence of stability.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stability {
    /// For how long.
    pub period: String,
    /// Where it is filed.
    pub source: String,
}
