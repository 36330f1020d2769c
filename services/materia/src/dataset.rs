//! The data set, and looking things up in it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::caution::Caution;
use crate::dating::DatingSet;
use crate::limit::{Allergen, Limit, Regime};
use crate::material::{AllergyGroup, Material, Species};
use crate::preparation::{Preparation, Route, TradeStop};
use crate::read::of_kinds::Rules;
use crate::rule::{CautionRule, JointCaution, Threshold};
use crate::substance::Substance;

/// Which edition of the data set this is.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Version {
    /// Rises with every published change.
    pub number: u32,
    /// Day of that change.
    pub date: String,
    /// Fingerprint of the files, so that an unpublished change shows too.
    pub fingerprint: String,
}

/// The whole data set, read and checked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Materia {
    /// Which edition.
    pub version: Version,
    /// What a preparation may be made as.
    pub regimes: Vec<Regime>,
    /// Groups that an allergy is about.
    pub allergy_groups: Vec<AllergyGroup>,
    /// Substances that limits, allergens and cautions are about.
    pub substances: Vec<Substance>,
    /// Botanical species.
    pub species: Vec<Species>,
    /// Kinds of preparation.
    pub preparations: Vec<Preparation>,
    /// Routes of use.
    pub routes: Vec<Route>,
    /// Everything that can stand in a line of a formula.
    pub materials: Vec<Material>,
    /// Cautions that nothing carries by itself: the calculations raise them, by key.
    pub raised: Vec<Caution>,
    /// Cautions that say several others at once.
    pub joint: Vec<JointCaution>,
    /// When each caution is raised, where it is read and what it replaces, by its key.
    pub caution_rules: BTreeMap<String, CautionRule>,
    /// Amounts above which cautions are raised.
    pub thresholds: Vec<Threshold>,
    /// What the trade does not do.
    pub stops: Vec<TradeStop>,
    /// Maxima and prohibitions.
    pub limits: Vec<Limit>,
    /// Fragrance allergens to declare.
    pub allergens: Vec<Allergen>,
    /// Rule sets that date a preparation.
    pub dating: Vec<DatingSet>,
    #[serde(skip)]
    pub(crate) rules: Rules,
}

impl Materia {
    /// The material with this key.
    #[must_use]
    pub fn material(&self, key: &str) -> Option<&Material> {
        self.materials.iter().find(|material| material.key == key)
    }

    /// Every material that is called so, by name, key, synonym or INCI name, whatever the case. One whose name or
    /// key it is comes alone, since those are unique.
    #[must_use]
    pub fn materials_called(&self, text: &str) -> Vec<&Material> {
        let wanted = text.trim().to_lowercase();
        let own = |material: &&Material| material.key == wanted || material.name.to_lowercase() == wanted;
        match self.materials.iter().find(own) {
            Some(material) => vec![material],
            None => self.materials.iter().filter(|material| material.is_called(&wanted)).collect(),
        }
    }

    /// The kind of preparation that is called so, by key, name or synonym, whatever the case.
    #[must_use]
    pub fn preparation(&self, text: &str) -> Option<&Preparation> {
        self.preparations.iter().find(|kind| called(text, &kind.key, &kind.name, &kind.synonyms))
    }

    /// The route that is called so, by key, name or synonym, whatever the case.
    #[must_use]
    pub fn route(&self, text: &str) -> Option<&Route> {
        self.routes.iter().find(|route| called(text, &route.key, &route.name, &route.synonyms))
    }

    /// The regime with this key or name.
    #[must_use]
    pub fn regime(&self, text: &str) -> Option<&Regime> {
        self.regimes.iter().find(|regime| called(text, &regime.key, &regime.name, &[]))
    }

    /// The substance with this key.
    #[must_use]
    pub fn substance(&self, key: &str) -> Option<&Substance> {
        self.substances.iter().find(|substance| substance.key == key)
    }

    /// The caution with this key that the calculations raise, such as `unpreserved-watery`.
    #[must_use]
    pub fn raised(&self, key: &str) -> Option<&Caution> {
        self.raised.iter().find(|caution| caution.key == key)
    }

    /// The allergy group with this key.
    #[must_use]
    pub fn allergy_group(&self, key: &str) -> Option<&AllergyGroup> {
        self.allergy_groups.iter().find(|group| group.key == key)
    }
}

fn called(text: &str, key: &str, name: &str, synonyms: &[String]) -> bool {
    let wanted = text.trim().to_lowercase();
    [key, name]
        .into_iter()
        .chain(synonyms.iter().map(String::as_str))
        .any(|held| held.to_lowercase() == wanted)
}
