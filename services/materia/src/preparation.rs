//! The kinds of preparation and the routes by which they are used, each with cautions of its own.

use crate::binding::Exposure;
use crate::caution::{Caution, Level};
use crate::material::Material;
use crate::plant::{Called, Plants};
use crate::source::{Source, Status};
use crate::words::words;
use serde::{Deserialize, Serialize};

words! {
    /// Whether something holds of every preparation of a kind.
    pub enum Holds {
        /// Of every one.
        Always = "always",
        /// Of none.
        Never = "never",
        /// It depends on the formula.
        Depends = "depends",
    }
}

/// A kind of preparation.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Preparation {
    /// Stable key: `infused-oil`.
    pub key: String,
    /// The trade's word: `infused oil`.
    pub name: String,
    /// Other words for it.
    pub synonyms: Vec<String>,
    /// What it is, in a sentence.
    pub text: String,
    /// Whether it holds water in which microbes can grow unless something prevents them.
    pub aqueous: Holds,
    /// Whether it is an emulsion.
    pub emulsion: Holds,
    /// Whether it holds alcohol.
    pub alcoholic: Holds,
    /// Cautions that every preparation of the kind carries.
    pub cautions: Vec<Caution>,
    /// Where the definition comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// A route by which a preparation is used.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Route {
    /// Stable key: `intact-skin-leave-on`.
    pub key: String,
    /// As a formula names it: `on intact skin, leave-on`.
    pub name: String,
    /// Other words for it.
    pub synonyms: Vec<String>,
    /// The kind of product, as limits distinguish it.
    pub exposure: Exposure,
    /// Cautions that every preparation for the route carries.
    pub cautions: Vec<Caution>,
    /// Where the definition comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// Something the trade does not do: where every stated condition meets, approval stops.
///
/// The conditions are held against one preparation, nested or not, one material in it, the route of the finished
/// formula and the youngest age that it is meant for. An empty condition is met by everything.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct TradeStop {
    /// Stable key.
    pub key: String,
    /// Keys of preparation kinds.
    pub preparations: Vec<String>,
    /// Keys of routes.
    pub routes: Vec<String>,
    /// Keys of materials. A material is meant when it stands here or comes from one of `plants`.
    pub materials: Vec<String>,
    /// The plants that are meant, whoever entered the material.
    pub plants: Plants,
    /// States of the herb.
    pub states: Vec<crate::material::State>,
    /// Met when the formula is meant for someone younger than this many months.
    pub meant_for_under_months: Option<u32>,
    /// Always `stop`.
    pub level: Level,
    /// The text to show.
    pub text: String,
    /// Where the rule comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// One place in a formula that a [`TradeStop`] is held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Situation<'f> {
    /// Key of the kind of the preparation, or nested preparation, that holds the material.
    pub preparation: &'f str,
    /// Key of the finished formula's route.
    pub route: &'f str,
    /// The material; absent when only preparation and route are judged.
    pub material: Option<&'f Material>,
    /// The youngest age, in completed months, that the formula is meant for; absent when no child is meant.
    pub youngest_months: Option<u32>,
}

impl TradeStop {
    /// Whether it is about some materials, and not about every one.
    #[must_use]
    pub fn is_of_materials(&self) -> bool {
        !(self.materials.is_empty() && self.plants.is_empty())
    }

    /// Whether the material is one of those that it is about.
    #[must_use]
    pub fn concerns(&self, material: &Material) -> bool {
        self.concerns_called(material, &Called::of(material))
    }

    fn concerns_called(&self, material: &Material, called: &Called) -> bool {
        !self.is_of_materials()
            || self.materials.contains(&material.key)
            || self.plants.include(material.kind, called)
    }

    /// Whether every stated condition is met.
    #[must_use]
    pub fn applies(&self, at: &Situation<'_>) -> bool {
        self.applies_to(at, at.material.map(Called::of).as_ref())
    }

    /// As [`applies`](Self::applies), with the names of the material in `at`, which many stops are held against.
    #[must_use]
    pub fn applies_to(&self, at: &Situation<'_>, called: Option<&Called>) -> bool {
        let listed = |keys: &[String], key: Option<&str>| {
            keys.is_empty() || key.is_some_and(|key| keys.iter().any(|listed| listed == key))
        };
        listed(&self.preparations, Some(at.preparation))
            && listed(&self.routes, Some(at.route))
            && at
                .material
                .zip(called)
                .map_or(!self.is_of_materials(), |(material, called)| self.concerns_called(material, called))
            && (self.states.is_empty()
                || at
                    .material
                    .and_then(|material| material.botanical.as_ref())
                    .and_then(|botanical| botanical.state)
                    .is_some_and(|state| self.states.contains(&state)))
            && self
                .meant_for_under_months
                .is_none_or(|limit| at.youngest_months.is_some_and(|youngest| youngest < limit))
    }
}
