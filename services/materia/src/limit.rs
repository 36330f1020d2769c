//! Regimes, limits and the allergens that a label declares.

use crate::binding::{Basis, Exposure, Force, Purpose, Site};
use crate::caution::Audience;
use crate::material::{Material, MaterialKind};
use crate::source::{Source, Status};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// What a preparation is made as; decides which limits, prohibitions and dating rules bind.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Regime {
    /// Stable key: `cosmetic`, `herbal-medicine`, `food`, `teaching-only`.
    pub key: String,
    /// English name.
    pub name: String,
    /// What it means for the clinic, in a sentence or two.
    pub text: String,
    /// Where the rule comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// What a limit is about.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "kind", content = "key", rename_all = "snake_case")]
pub enum Subject {
    /// A substance, summed over all materials that hold it.
    Substance(String),
    /// One material.
    Material(String),
    /// Every material of this botanical species, by the species' key.
    Species(String),
    /// Every material of this botanical genus.
    Genus(String),
}

/// What a limit allows.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Bound {
    /// Nothing at all.
    Prohibited,
    /// At most this share of the finished product, per cent by mass; the limit itself is still allowed.
    MaximumPercent {
        /// Per cent by mass.
        percent: Decimal,
    },
    /// Less than this share of the finished product, per cent by mass; the limit itself is too much.
    BelowPercent {
        /// Per cent by mass.
        percent: Decimal,
    },
    /// At most this much a day.
    MaximumDaily {
        /// Micrograms a day.
        micrograms: Decimal,
    },
    /// At most this much a day for each kilogram of the person's body.
    MaximumDailyPerKilogram {
        /// Micrograms a day and kilogram.
        micrograms: Decimal,
    },
}

/// One row of the limit set.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Limit {
    /// Stable key.
    pub key: String,
    /// Key of the regime under which it binds.
    pub regime: String,
    /// Where it binds: `EU`, `DE`, `CA`, `CH`, `AU`, or `any` for a convention.
    pub jurisdiction: String,
    /// How binding it is there.
    pub force: Force,
    /// What it is about.
    pub subject: Subject,
    /// Kinds of material that are meant, where not all of the subject are: the oil of a plant, not its herb.
    pub kinds: Vec<MaterialKind>,
    /// The kind of product.
    pub exposure: Exposure,
    /// The part of the body.
    pub site: Site,
    /// What the substance is put in for.
    pub purpose: Purpose,
    /// Whom it protects.
    pub audience: Audience,
    /// What is allowed.
    pub bound: Bound,
    /// What the bound counts.
    pub basis: Basis,
    /// Limits of one group share an effect: the sum of their used fractions may not pass one.
    pub group: Option<String>,
    /// What else the rule says, in our words.
    pub note: Option<String>,
    /// The rule, with its entry.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

impl Limit {
    /// Whether it is about this material as such, by key, species or genus, and its kind is one of those meant. A limit
    /// on a substance is about no material as such.
    #[must_use]
    pub fn is_about(&self, material: &Material) -> bool {
        self.is_of_kind(material)
            && match &self.subject {
                Subject::Substance(_) => false,
                Subject::Material(key) => material.key == *key,
                Subject::Species(key) => material.is_of_species(key),
                Subject::Genus(genus) => material.is_of_genus(genus),
            }
    }

    /// Whether the material is of a kind that is meant.
    #[must_use]
    pub fn is_of_kind(&self, material: &Material) -> bool {
        self.kinds.is_empty() || self.kinds.contains(&material.kind)
    }
}

/// A fragrance allergen that a cosmetic's label must name above a threshold.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Allergen {
    /// What must be declared: a substance summed over all materials, or a material or species as a whole.
    pub subject: Subject,
    /// Key of the regime.
    pub regime: String,
    /// The name to print.
    pub label_name: String,
    /// Parts of the plant whose extracts bear this name too; a herb of such a part that is drawn out counts.
    pub extract_of: Vec<String>,
    /// Declared when the share in a leave-on product is more than this, per cent by mass.
    pub leave_on_above_percent: Decimal,
    /// Declared when the share in a rinse-off product is more than this, per cent by mass.
    pub rinse_off_above_percent: Decimal,
    /// The rule, with its entry.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}
