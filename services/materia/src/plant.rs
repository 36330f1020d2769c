//! Plants as people name them: botanical names, trade names and common names, and what a rule on plants is about.
//!
//! A poisonous genus must be recognised whoever wrote the entry, so names are compared by their words: case, hyphens,
//! the hybrid sign, ranks and authors make no difference.

use crate::botany::{holds_phrase, words_of};
use crate::material::{Material, MaterialKind};
use serde::{Deserialize, Serialize};

/// The plants, and products of plants, that a rule is about. A rule that names none is about every material.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Plants {
    /// Botanical genera, older names of the same genus among them: `thevetia`, `cascabela`. These and all names are in
    /// small letters and plain words.
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

    /// Whether a material of this kind that is called so comes from one of these plants.
    #[must_use]
    pub fn include(&self, kind: MaterialKind, called: &Called) -> bool {
        (self.kinds.is_empty() || self.kinds.contains(&kind))
            && !self.except_kinds.contains(&kind)
            && called.0.iter().any(|words| self.are_named_in(words))
    }

    fn are_named_in(&self, words: &str) -> bool {
        let mut meant = self.genera.iter().chain(&self.species).chain(&self.names);
        if !meant.any(|phrase| holds_phrase(words, phrase)) {
            return false;
        }
        let only_alike = self.unless.iter().filter(|phrase| holds_phrase(words, phrase));
        let rest =
            only_alike.fold(words.to_owned(), |rest, phrase| rest.replace(&format!(" {phrase} "), " "));
        let mut meant = self.genera.iter().chain(&self.species).chain(&self.names);
        rest == words || meant.any(|phrase| holds_phrase(&rest, phrase))
    }
}

/// Every name that a material has, botanical names among them, as words.
///
/// Many rules are held against one material: its names are put into words once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Called(Vec<String>);

impl Called {
    /// The names of a material.
    #[must_use]
    pub fn of(material: &Material) -> Self {
        let names = [&material.name].into_iter().chain(&material.synonyms).chain(&material.inci);
        let botanical = material.botanical.iter().flat_map(|botanical| botanical.species.names());
        Self(names.map(String::as_str).chain(botanical).map(words_of).collect())
    }
}
