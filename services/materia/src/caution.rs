//! Cautions: what the maker and the user must know, for whom, and why.
//!
//! A caution text never holds a figure computed from a formula, since texts are open to readers who have not
//! been shown the formula's amounts.

use crate::source::{Source, Status};
use crate::words::words;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use std::str::FromStr;

/// How the keys of cautions that an entry of a clinic has of its own begin.
pub(crate) const OWN: &str = "own-";

words! {
    /// How much a caution demands of whoever opens a recipe, from least to most.
    pub enum Level {
        /// Shown.
        Note = "note",
        /// Acknowledged together with the rest of the set.
        Caution = "caution",
        /// Acknowledged on its own.
        Contraindication = "contraindication",
        /// Blocks approval until it is resolved.
        Stop = "stop",
    }
}

words! {
    /// A state of health, a treatment or a circumstance that a caution is about.
    pub enum Condition {
        /// Damaged, weeping or open skin.
        BrokenSkin = "broken-skin",
        /// Large areas of skin, or under a tight dressing.
        LargeAreas = "large-areas",
        /// Time in the sun or under ultraviolet lamps.
        Sun = "sun",
        /// Any other medicine being taken.
        Medicines = "medicines",
        /// Medicines or illness that hinder the clotting of blood, and the days before an operation.
        Bleeding = "bleeding",
        /// Epilepsy or fits in the past.
        Epilepsy = "epilepsy",
        /// Asthma or another sensitive airway.
        Asthma = "asthma",
        /// Disease of the liver.
        Liver = "liver",
        /// Disease of the kidney, or fluid restriction.
        Kidney = "kidney",
        /// Disease of the heart or of the circulation.
        Heart = "heart",
        /// Raised blood pressure.
        BloodPressure = "blood-pressure",
        /// Diabetes.
        Diabetes = "diabetes",
        /// Gallstones or a blocked bile duct.
        Gallstones = "gallstones",
        /// Inflammation, ulcer or reflux of stomach or gut.
        Stomach = "stomach",
        /// Disease of the thyroid.
        Thyroid = "thyroid",
        /// A growth that depends on hormones.
        Hormones = "hormones",
        /// Abstaining from alcohol for any reason.
        AvoidsAlcohol = "avoids-alcohol",
        /// Lack of the enzyme glucose-6-phosphate dehydrogenase.
        G6pd = "g6pd",
        /// Medicines that hinder the clotting of blood.
        Anticoagulants = "anticoagulants",
        /// Medicines against depression.
        Antidepressants = "antidepressants",
        /// Medicines against migraine, such as triptans.
        MigraineMedicines = "migraine-medicines",
        /// Medicines that hold the immune system down.
        Immunosuppressants = "immunosuppressants",
        /// Medicines that calm or bring sleep.
        Sedatives = "sedatives",
        /// Hormonal contraceptives.
        Contraceptives = "contraceptives",
        /// Medicines for the heart, such as digoxin.
        HeartMedicines = "heart-medicines",
        /// Medicines that drive out water.
        Diuretics = "diuretics",
        /// Medicines against diabetes.
        DiabetesMedicines = "diabetes-medicines",
        /// Medicines against epilepsy.
        EpilepsyMedicines = "epilepsy-medicines",
        /// Medicines against HIV.
        HivMedicines = "hiv-medicines",
        /// Medicines against cancer.
        CancerMedicines = "cancer-medicines",
        /// An illness in which the immune system attacks the body.
        Autoimmune = "autoimmune",
        /// An operation soon.
        Surgery = "surgery",
        /// Too little potassium in the blood.
        LowPotassium = "low-potassium",
        /// A blocked or narrowed gut.
        GutBlockage = "gut-blockage",
    }
}

impl Condition {
    /// The wider condition that this one belongs to: whoever takes an anticoagulant takes a medicine.
    #[must_use]
    pub const fn wider(self) -> &'static [Self] {
        match self {
            Self::Anticoagulants => &[Self::Medicines, Self::Bleeding],
            Self::Antidepressants
            | Self::MigraineMedicines
            | Self::Immunosuppressants
            | Self::Sedatives
            | Self::Contraceptives
            | Self::HeartMedicines
            | Self::Diuretics
            | Self::DiabetesMedicines
            | Self::EpilepsyMedicines
            | Self::HivMedicines
            | Self::CancerMedicines => &[Self::Medicines],
            Self::Surgery => &[Self::Bleeding],
            _ => &[],
        }
    }

    /// Whether a caution about `self` is about somebody in the condition `asked`, in either direction: a question about
    /// medicines hears of every medicine, and a question about one hears what is said of all.
    #[must_use]
    pub fn concerns(self, asked: Self) -> bool {
        self == asked || self.wider().contains(&asked) || asked.wider().contains(&self)
    }
}

/// Whom a caution is for. Written `everyone`, `pregnant`, `breast-feeding`, `under:6y`, `under:12m`,
/// `allergy:asteraceae` or `condition:epilepsy`, in the data files and in JSON alike.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Audience {
    /// Whoever makes or uses the preparation.
    Everyone,
    /// Pregnant people.
    Pregnant,
    /// People who breast-feed.
    BreastFeeding,
    /// Anyone younger than this many completed months.
    UnderMonths(u32),
    /// People with this allergy, by the key of the allergy group.
    Allergy(String),
    /// People in this state or circumstance.
    Condition(Condition),
}

impl Audience {
    /// Whether a child of so many completed months belongs to this audience by age.
    ///
    /// An age belongs when it is below the limit: a child of exactly six years is not `under:6y`.
    #[must_use]
    pub fn includes_age(&self, months: u32) -> bool {
        matches!(self, Self::UnderMonths(limit) if months < *limit)
    }
}

impl fmt::Display for Audience {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Everyone => out.write_str("everyone"),
            Self::Pregnant => out.write_str("pregnant"),
            Self::BreastFeeding => out.write_str("breast-feeding"),
            Self::UnderMonths(months) if months % 12 == 0 && *months > 12 => {
                write!(out, "under:{}y", months / 12)
            }
            Self::UnderMonths(months) => write!(out, "under:{months}m"),
            Self::Allergy(group) => write!(out, "allergy:{group}"),
            Self::Condition(condition) => write!(out, "condition:{condition}"),
        }
    }
}

/// An audience that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{0:?} names no audience; write everyone, pregnant, breast-feeding, under:6y, under:12m, \
     allergy:GROUP or condition:WORD"
)]
pub struct UnknownAudience(pub String);

impl FromStr for Audience {
    type Err = UnknownAudience;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let unknown = || UnknownAudience(text.to_owned());
        match text.split_once(':') {
            None => match text {
                "everyone" => Ok(Self::Everyone),
                "pregnant" => Ok(Self::Pregnant),
                "breast-feeding" => Ok(Self::BreastFeeding),
                _ => Err(unknown()),
            },
            Some(("under", age)) => months(age).map(Self::UnderMonths).ok_or_else(unknown),
            Some(("allergy", group)) if !group.is_empty() => Ok(Self::Allergy(group.to_owned())),
            Some(("condition", word)) => word.parse().map(Self::Condition).map_err(|_unknown_word| unknown()),
            Some(_) => Err(unknown()),
        }
    }
}

fn months(age: &str) -> Option<u32> {
    let (number, per_unit) = match (age.strip_suffix('y'), age.strip_suffix('m')) {
        (Some(years), _) => (years, 12),
        (None, Some(months)) => (months, 1),
        (None, None) => return None,
    };
    let months = number.parse::<u32>().ok()?.checked_mul(per_unit)?;
    (1..=1200).contains(&months).then_some(months)
}

impl Serialize for Audience {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Audience {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        String::deserialize(from)?.parse().map_err(serde::de::Error::custom)
    }
}

/// Why a material carries a caution or belongs to an allergy group: the last step of the path shown to a reader.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "by", content = "name", rename_all = "snake_case")]
pub enum Origin {
    /// The entry itself says so.
    Itself,
    /// Every material of this botanical species.
    Species(String),
    /// Every herb and essential oil of this botanical family.
    Family(String),
    /// Every material of this kind.
    Kind(String),
    /// It contains this substance.
    Constituent(String),
    /// It belongs to this allergy group.
    AllergyGroup(String),
}

impl fmt::Display for Origin {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Itself => out.write_str("the entry itself"),
            Self::Species(name) => out.write_str(name),
            Self::Family(name) => write!(out, "family {name}"),
            Self::Kind(name) => write!(out, "every {name}"),
            Self::Constituent(name) => write!(out, "contains {name}"),
            Self::AllergyGroup(name) => write!(out, "allergy group {name}"),
        }
    }
}

/// One caution as a material, preparation kind or route carries it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Caution {
    /// Stable key of the text; the same text reached by two ways has the same key.
    pub key: String,
    /// What it demands.
    pub level: Level,
    /// Whom it is for; never empty.
    pub audiences: Vec<Audience>,
    /// Keys of the routes that it applies to; empty means every route.
    pub routes: Vec<String>,
    /// The text to show, without any figure computed from a formula.
    pub text: String,
    /// How the carrier came by it.
    pub origin: Origin,
    /// Where the fact comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

impl Caution {
    /// Whether the caution applies when the preparation is used by the route with this key.
    #[must_use]
    pub fn applies_to_route(&self, route: &str) -> bool {
        self.routes.is_empty() || self.routes.iter().any(|key| key == route)
    }
}

words! {
    /// What is known of harm in pregnancy or while breast-feeding.
    pub enum Finding {
        /// Harm is known or strongly suspected: do not use.
        KnownHarm = "known-harm",
        /// Nothing sufficient is known: safety not established; not recommended.
        NoData = "no-data",
        /// It is eaten as ordinary food; little is known beyond that.
        FoodUse = "food-use",
        /// Long ordinary use in the amounts of the trade has raised no concern; no caution of its own.
        OrdinaryUse = "ordinary-use",
    }
}

/// What is known about one material in pregnancy or while breast-feeding.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Evidence {
    /// `Pregnant` or `BreastFeeding`.
    pub audience: Audience,
    /// What is known.
    pub finding: Finding,
    /// Keys of the routes that the finding is about; empty means every route not named elsewhere.
    pub routes: Vec<String>,
    /// Where the fact comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}
