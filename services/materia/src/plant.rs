//! Plants as people name them: botanical names, trade names and common names, and what a rule on plants is about.
//!
//! A poisonous genus must be recognised whoever wrote the entry, so names are compared by their words: case, hyphens,
//! the hybrid sign, ranks and authors make no difference.

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

/// The words of a text in small letters, with one space before, between and after them.
fn words_of(text: &str) -> String {
    let plain = text.to_lowercase().replace(['\'', '\u{2019}'], "");
    let words =
        plain.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty() && !is_hybrid(word));
    let mut out = String::from(" ");
    for word in words {
        out.push_str(word);
        out.push(' ');
    }
    out
}

fn is_hybrid(word: &str) -> bool {
    matches!(word, "x" | "\u{d7}")
}

fn parts(name: &str) -> impl Iterator<Item = String> {
    name.split_whitespace()
        .map(|word| word.trim_matches(['\u{d7}', ',', '.']).to_lowercase())
        .filter(|word| !word.is_empty() && !is_hybrid(word))
}

/// The genus of a botanical name, in small letters.
#[must_use]
pub(crate) fn genus_of(name: &str) -> String {
    parts(name).next().unwrap_or_default()
}

/// Genus and species of a botanical name, in small letters, without hybrid sign, rank or author.
#[must_use]
pub(crate) fn binomial_of(name: &str) -> String {
    parts(name).take(2).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::{binomial_of, genus_of, words_of};

    #[test]
    fn hybrids_ranks_and_authors_make_no_difference() {
        for name in ["Digitalis x mertonensis", "Digitalis \u{d7}mertonensis", "DIGITALIS mertonensis Buxton"]
        {
            assert_eq!(
                (genus_of(name), binomial_of(name)),
                ("digitalis".into(), "digitalis mertonensis".into())
            );
        }
        assert_eq!(binomial_of("Juniperus sabina var. tamariscifolia"), "juniperus sabina");
    }

    #[test]
    fn names_are_compared_by_whole_words() {
        assert_eq!(words_of("Lily-of-the-Valley"), " lily of the valley ");
        assert!(!words_of("yewberry jam").contains(&words_of("yew")));
        assert_eq!(words_of("angel\u{2019}s trumpet"), words_of("angels' trumpet"));
    }
}
