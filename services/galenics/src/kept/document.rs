//! The kept result as it is stored: tables of sources, rules, materials and figures, and what refers to them
//! by number. A figure refers only to figures before it, so that a figure on which many others rest is written
//! once and no circle can be read.

use std::fmt;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};

use super::version::{FORMAT, OLDEST_FORMAT};
use crate::{Fate, MaterialKind, Preparation, Source, Text};

/// A decimal as text with every digit that it has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Exact(pub(super) Decimal);

impl Serialize for Exact {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for Exact {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Digits;

        impl serde::de::Visitor<'_> for Digits {
            type Value = Exact;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a decimal as text")
            }

            fn visit_str<E: serde::de::Error>(self, digits: &str) -> Result<Exact, E> {
                Decimal::from_str_exact(digits).map(Exact).map_err(|_| E::custom("not an exact decimal"))
            }
        }

        deserializer.deserialize_str(Digits)
    }
}

/// The number of the format. Reading any other fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub(super) struct Format(pub(super) u32);

impl<'de> Deserialize<'de> for Format {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match u32::deserialize(deserializer)? {
            known @ OLDEST_FORMAT..=FORMAT => Ok(Self(known)),
            other => Err(D::Error::custom(format!(
                "format {other} is not known; this program reads {OLDEST_FORMAT} to {FORMAT}"
            ))),
        }
    }
}

/// A result of [`crate::evaluate`] as it is stored, with everything that later work is derived from.
///
/// It is made with [`KeptEvaluation::of`], stored as the text of [`KeptEvaluation::to_json`], read with
/// [`KeptEvaluation::from_json`], and turned back into an evaluation with [`KeptEvaluation::restore`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptEvaluation {
    pub(super) format: Format,
    pub(super) engine: u32,
    pub(super) id: Text,
    pub(super) title: Text,
    pub(super) preparation: Preparation,
    pub(super) sources: Vec<Source>,
    pub(super) rules: Vec<RuleEntry>,
    pub(super) materials: Vec<MaterialEntry>,
    pub(super) figures: Vec<FigureEntry>,
    pub(super) charged: usize,
    pub(super) product: usize,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) against_stated_yield: Option<usize>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) expected_yield: Option<usize>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) boiled_off: Option<usize>,
    /// Where something evaporated: whether spirit did, the ethanol that is shown to remain, and the water at most.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) evaporated: Option<(bool, Exact, Exact)>,
    pub(super) volume: usize,
    pub(super) density: usize,
    pub(super) oil: usize,
    pub(super) water: usize,
    pub(super) emulsifier: usize,
    pub(super) emulsifying_oil: usize,
    pub(super) oil_to_water: usize,
    pub(super) emulsifier_to_oil: usize,
    pub(super) phases: Vec<PhaseEntry>,
    pub(super) composition: Vec<Share>,
    pub(super) herbs: Vec<Herb>,
    pub(super) contains: Vec<ContainedEntry>,
    /// What the q.s. line makes up to: its phase, its line, the number and the unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) make_up: Option<(usize, usize, Exact, Text)>,
    /// Every formula in it, as its id and the titles on the way to it.
    pub(super) formulas: Vec<(Text, Vec<Text>)>,
    pub(super) unknown: Vec<Text>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RuleEntry {
    pub(super) key: Text,
    pub(super) says: Text,
    pub(super) source: usize,
}

/// A material with the facts that were worked with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct MaterialEntry {
    pub(super) id: Text,
    pub(super) name: Text,
    pub(super) kind: MaterialKind,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) density: Option<DensityEntry>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) drops_per_ml: Option<Fact>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) herb: Option<HerbEntry>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) ethanol_by_volume: Option<Fact>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) water: Option<Fact>,
}

/// A number with the number of its source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Fact(pub(super) Exact, pub(super) usize);

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct DensityEntry {
    pub(super) g_per_ml: Exact,
    pub(super) celsius: Exact,
    pub(super) source: usize,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum HerbEntry {
    Dried,
    Fresh { water: Option<Fact>, dried_water: Option<Fact> },
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FigureEntry {
    pub(super) value: Answer,
    pub(super) unit: Text,
    pub(super) rule: usize,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) inputs: Vec<InputEntry>,
}

/// What a figure answers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Answer {
    Number(Exact),
    Words(Text),
    Day(NaiveDate),
    Unknown(Vec<Text>),
}

/// An input: its name, and its value with unit and source, its words, or the number of a figure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum InputEntry {
    Number(Text, Exact, Text),
    Words(Text, Text),
    Constant(Text, Exact, Text, usize),
    Figure(Text, usize),
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PhaseEntry {
    pub(super) name: Text,
    pub(super) mass: usize,
    pub(super) share: usize,
    pub(super) lines: Vec<LineEntry>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LineEntry {
    pub(super) name: Text,
    /// As typed.
    pub(super) amount: Text,
    pub(super) fate: Fate,
    pub(super) mass: usize,
    pub(super) share: usize,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) volume: Option<usize>,
    /// The number and unit of a single amount.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) number: Option<(Exact, Text)>,
    /// g/mL.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) density: Option<Exact>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) density_misses: Option<Vec<Text>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) drops_per_ml: Option<Exact>,
}

/// A material's share of what is made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Share {
    pub(super) material: usize,
    pub(super) share: usize,
}

/// The dried herb behind a gram of what is made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Herb {
    pub(super) material: usize,
    pub(super) per_gram: usize,
}

/// A material that went in at any level.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ContainedEntry {
    pub(super) material: usize,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) through: Vec<Text>,
    pub(super) fate: Fate,
}
