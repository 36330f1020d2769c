//! What an evaluation gives: the figures of the whole, of every phase and line, and what is in it.

use std::sync::Arc;

use rust_decimal::Decimal;
use serde::{Serialize, Serializer, ser::SerializeStruct};

use super::written::Written;
use crate::{Figure, MaterialFacts, Nested, Preparation, Text};

/// What a formula comes to, with what each formula that it nests comes to.
#[derive(Debug, Clone)]
pub struct Evaluated {
    /// The formula itself.
    pub whole: Evaluation,
    /// Everything nested at any level, each once, after what it nests itself.
    pub nested: Vec<(Nested, Evaluation)>,
}

/// What a formula comes to.
#[derive(Debug, Clone, Serialize)]
pub struct Evaluation {
    /// The formula's id.
    pub id: Text,
    /// The formula's title.
    pub title: Text,
    /// The kind of preparation.
    pub preparation: Preparation,
    /// All that is put in, in g.
    pub charged: Figure,
    /// What is made, in g: all that stays, or the stated yield of a strained preparation.
    pub product: Figure,
    /// What is made against the yield that the formula states, as a fraction of it; `None` where none is stated.
    pub against_stated_yield: Option<Figure>,
    /// Of a pressed maceration, what is likely to come out, in g; `None` of all else, and of results kept in format 1.
    #[serde(skip)]
    pub expected_yield: Option<Figure>,
    /// The volume of what is made, in mL.
    pub volume: Figure,
    /// The density of what is made, in g/mL: measured, or from its parts.
    pub density: Figure,
    /// The phases with their lines.
    pub phases: Vec<PhaseTotal>,
    /// The materials in what is made, through every nested level, as shares of its mass that add up to one.
    pub composition: Vec<Leaf>,
    /// The dried herb behind what is made.
    pub herbs: Vec<HerbEquivalent>,
    /// The share of oil.
    pub oil: Figure,
    /// The share of water.
    pub water: Figure,
    /// The share of emulsifiers.
    pub emulsifier: Figure,
    /// The part of the oil that is itself an emulsifier by function, as beeswax with borax is.
    #[serde(skip)]
    pub(crate) emulsifying_oil: Figure,
    /// Oil over water.
    pub oil_to_water: Figure,
    /// Emulsifier over the oil beside it.
    pub emulsifier_to_oil: Figure,
    /// Every material that went in at any level, also what left with the marc.
    pub contains: Vec<Contained>,
    /// What a decoction lost by being boiled down to its yield, in g.
    #[serde(skip)]
    pub boiled_off: Option<Figure>,
    /// What is known of spirit and water where something evaporated.
    #[serde(skip)]
    pub(crate) evaporated: Option<Evaporated>,
    /// What the q.s. line makes up to, where there is one.
    #[serde(skip)]
    pub(crate) make_up: Option<MakeUp>,
    /// Every formula in it with the titles on the way to it, itself first.
    #[serde(skip)]
    pub(crate) formulas: Vec<(Text, Vec<Text>)>,
    /// All that is missing for the masses, shares and equivalents that are unknown. Volume and density of the
    /// whole say by themselves what they miss: few formulas need them.
    pub unknown: Vec<Text>,
}

/// Bounds of spirit and water after evaporation, as shares of what is left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Evaporated {
    /// Whether there was spirit that could leave.
    pub(crate) of_spirit: bool,
    /// The ethanol that is shown to remain.
    pub(crate) ethanol_at_least: Decimal,
    /// The water that may have remained beside it.
    pub(crate) water_at_most: Decimal,
}

/// A phase with its lines.
#[derive(Debug, Clone, Serialize)]
pub struct PhaseTotal {
    /// Its name.
    pub name: Text,
    /// All its lines, in g.
    pub mass: Figure,
    /// Its share of all that is put in.
    pub share: Figure,
    /// Its lines.
    pub lines: Vec<LineFigures>,
}

/// A line worked out.
#[derive(Debug, Clone, Serialize)]
pub struct LineFigures {
    /// The material or nested formula.
    pub name: Text,
    /// In g.
    pub mass: Figure,
    /// Its share of all that is put in.
    pub share: Figure,
    /// In mL, where it is measured by volume.
    pub volume: Option<Figure>,
    /// Whether it stays in what is made.
    pub stays: bool,
    /// The line as the formula has it, for scaling.
    #[serde(skip)]
    pub(crate) written: Written,
}

impl LineFigures {
    /// Drops in a millilitre of what the line puts in, as known when it was evaluated; `line` is the line of the formula.
    #[must_use]
    pub fn drops_per_ml(&self, line: &crate::Line) -> Option<Decimal> {
        self.written.of(line).drops_per_ml
    }
}

/// What a q.s. line makes up to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct MakeUp {
    /// The phase, counted from 0.
    pub(crate) phase: usize,
    /// The line, counted from 0.
    pub(crate) line: usize,
    /// So much.
    pub(crate) value: Decimal,
    /// g or mL.
    pub(crate) unit: &'static str,
}

/// A material's share of what is made.
#[derive(Debug, Clone)]
pub struct Leaf {
    /// The material.
    pub material: Arc<MaterialFacts>,
    /// Its share of the mass of what is made.
    pub share: Figure,
}

impl Serialize for Leaf {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut out = serializer.serialize_struct("Leaf", 4)?;
        out.serialize_field("id", &self.material.id)?;
        out.serialize_field("name", &self.material.name)?;
        out.serialize_field("kind", &self.material.kind)?;
        out.serialize_field("share", &self.share)?;
        out.end()
    }
}

/// The dried herb behind what is made.
#[derive(Debug, Clone)]
pub struct HerbEquivalent {
    /// The herb.
    pub material: Arc<MaterialFacts>,
    /// mg of dried herb behind one g of what is made.
    pub per_gram: Figure,
}

impl Serialize for HerbEquivalent {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut out = serializer.serialize_struct("HerbEquivalent", 3)?;
        out.serialize_field("id", &self.material.id)?;
        out.serialize_field("name", &self.material.name)?;
        out.serialize_field("per_gram", &self.per_gram)?;
        out.end()
    }
}

/// A material that went in.
#[derive(Debug, Clone)]
pub struct Contained {
    /// The material.
    pub material: Arc<MaterialFacts>,
    /// The titles of the nested formulas on the way to it; none where a line of the formula itself puts it in.
    pub through: Vec<Text>,
    /// Whether it left with the marc.
    pub left_with_marc: bool,
}

impl Serialize for Contained {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut out = serializer.serialize_struct("Contained", 5)?;
        out.serialize_field("id", &self.material.id)?;
        out.serialize_field("name", &self.material.name)?;
        out.serialize_field("kind", &self.material.kind)?;
        out.serialize_field("through", &self.through)?;
        out.serialize_field("left_with_marc", &self.left_with_marc)?;
        out.end()
    }
}
