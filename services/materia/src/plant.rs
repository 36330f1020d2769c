//! Plants as people name them: botanical names, trade names and common names, and what a rule on plants is about.
//!
//! A poisonous genus must be recognised whoever wrote the entry, so names are compared by their words: case, hyphens,
//! the hybrid sign, ranks and authors make no difference.

use crate::botany::{binomial_of, genus_of, words_of};
use crate::material::{Material, MaterialKind};
use serde::{Deserialize, Serialize};

/// The plants, and products of plants, that a rule is about. A rule that names none is about every material.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Plants {
    /// Botanical genera, older names of the same genus among them: `Thevetia`, `Cascabela`.
    pub genera: Vec<String>,
    /// Botanical species, synonyms among them, where only some species of a genus are meant.
    pub species: Vec<String>,
    /// Names of the trade and of the people, in whole words.
    pub names: Vec<String>,
    /// Names that only look like one of `names`: `hemlock spruce`.
    pub unless: Vec<String>,
    /// Kinds of material that are meant; empty means all.
    pub kinds: Vec<MaterialKind>,
    /// Kinds of material that are not meant, such as the pressed oil of a seed.
    pub except_kinds: Vec<MaterialKind>,
}

impl Plants {
    /// Whether no plant is named.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.genera.is_empty() && self.species.is_empty() && self.names.is_empty()
    }

    /// Whether the material comes from one of these plants, by its botanical name or by any name that it has.
    #[must_use]
    pub fn include(&self, material: &Material) -> bool {
        let of_kind = (self.kinds.is_empty() || self.kinds.contains(&material.kind))
            && !self.except_kinds.contains(&material.kind);
        of_kind && (self.by_botanical_name(material) || self.by_any_name(material))
    }

    fn by_botanical_name(&self, material: &Material) -> bool {
        let Some(species) = material.botanical.as_ref().map(|botanical| &botanical.species) else {
            return false;
        };
        species.names().any(|name| {
            self.genera.iter().any(|genus| genus_of(name) == genus_of(genus))
                || self.species.iter().any(|one| binomial_of(name) == binomial_of(one))
        })
    }

    fn by_any_name(&self, material: &Material) -> bool {
        let called = [&material.name].into_iter().chain(&material.synonyms).chain(&material.inci);
        called.into_iter().any(|called| {
            let mut called = words_of(called);
            for other in &self.unless {
                called = called.replace(&words_of(other), " ");
            }
            let mut meant = self.genera.iter().chain(&self.species).chain(&self.names);
            meant.any(|name| called.contains(&words_of(name)))
        })
    }
}
