//! What stands on the label of a batch, as it is stored for whoever holds one of its jars.
//!
//! Types of their own, apart from `wire`. Never here: an amount, a word of the method, or a person.

use judgement::format::Format;
use recipes::stored::{Caution, Turn};
use recipes::stored_structs;
use serde::{Deserialize, Serialize};
use store::{Error, Result};
use wire::jars::JarFacts;
use wire::label::{Label, LabelFact};

stored_structs! {
    /// An ingredient.
    Ingredient as wire::label::LabelIngredient {
        /// Its common name.
        name: String,
        /// Its name on a cosmetic's list.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        inci: Option<String>,
        /// Whether it was drawn out and strained off.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        drawn_out: bool,
        /// Whether its place says nothing.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        place_unknown: bool,
    }

    /// What stands on the label.
    Facts as wire::jars::JarFacts {
        /// Its name.
        title: String,
        /// What kind of preparation it is.
        preparation: String,
        /// What it is made as.
        regime: String,
        /// Its alcohol and ratio.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        strength: Vec<String>,
        /// Where and how it is used.
        route: String,
        /// For which part of the body and from which age on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        meant_for: Option<String>,
        /// How it is used.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        directions: Option<String>,
        /// What it is made of.
        ingredients: Vec<Ingredient>,
        /// Fragrance allergens.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        allergens: Vec<String>,
        /// The day of making.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        made_on: Option<chrono::NaiveDate>,
        /// For how long once it was opened.
        after_opening: String,
        /// How it is kept.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        storage: Vec<String>,
        /// Keeping it from children.
        children: String,
    }
}

/// The label of a batch, as it stood once.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct StoredLabel {
    /// The number of the form that this is written in.
    format: Format,
    /// The facts.
    facts: Facts,
    /// The cautions that stood on it.
    cautions: Vec<Caution>,
}

impl StoredLabel {
    /// A label with its cautions.
    pub(crate) fn of(label: &Label, cautions: Vec<wire::safety::Caution>) -> Self {
        Self { format: Format::Two, facts: facts(label).turn(), cautions: cautions.turn() }
    }

    /// # Errors
    /// Returns [`Error::Internal`] if it cannot be read.
    pub(crate) fn read(text: &str) -> Result<Self> {
        serde_json::from_str(text).map_err(|error| Error::internal(format!("a stored label: {error}")))
    }

    /// # Errors
    /// Returns [`Error::Internal`] if it cannot be written.
    pub(crate) fn written(&self) -> Result<String> {
        serde_json::to_string(self).map_err(|error| Error::internal(format!("a stored label: {error}")))
    }

    /// What it says, and the cautions that stood on it.
    pub(crate) fn into_parts(self) -> (JarFacts, Vec<wire::safety::Caution>) {
        (self.facts.turn(), self.cautions.turn())
    }
}

fn facts(label: &Label) -> JarFacts {
    let text = |fact: &LabelFact| fact.text.clone();
    let texts = |facts: &[LabelFact]| facts.iter().map(text).collect();
    let named = label.allergens.iter().filter(|allergen| allergen.unknown.is_none());
    JarFacts {
        title: text(&label.name),
        preparation: text(&label.preparation),
        regime: text(&label.regime),
        strength: texts(&label.strength),
        route: text(&label.route),
        meant_for: label.meant_for.as_ref().map(text),
        directions: label.directions.as_ref().map(text),
        ingredients: label.ingredients.items.clone(),
        allergens: named.map(|allergen| allergen.label_name.clone()).collect(),
        made_on: label.made_on.as_ref().map(|made| made.day),
        after_opening: text(&label.after_opening),
        storage: texts(&label.storage),
        children: text(&label.children),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_is_read_as_it_was_written_and_another_format_is_refused() {
        let facts = JarFacts {
            title: "Calendula cream".into(),
            ingredients: vec![wire::label::LabelIngredient {
                name: "olive oil".into(),
                inci: Some("Olea Europaea Fruit Oil".into()),
                drawn_out: false,
                place_unknown: true,
            }],
            made_on: "2026-11-28".parse().ok(),
            ..JarFacts::default()
        };
        let stored = StoredLabel { format: Format::Two, facts: facts.clone().turn(), cautions: Vec::new() };
        let text = stored.written().unwrap();
        assert_eq!(StoredLabel::read(&text).unwrap().into_parts(), (facts, Vec::new()));
        let other = text.replacen("\"format\":2", "\"format\":99", 1);
        assert_ne!(other, text);
        assert!(StoredLabel::read(&other).is_err());
    }
}
