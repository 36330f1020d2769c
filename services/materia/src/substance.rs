//! Single chemical substances: what materials consist of, and what the limits of the law are about.

use crate::source::{Source, Status};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// A chemical substance, or a defined group of them that a limit counts together.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Substance {
    /// Stable key: `sorbic-acid`.
    pub key: String,
    /// English name.
    pub name: String,
    /// Name on a cosmetic's list of ingredients.
    pub inci: Option<String>,
    /// CAS registry number; absent for a group of substances.
    pub cas: Option<String>,
    /// Molar mass in g/mol; absent for a group of substances.
    pub molar_mass: Option<Decimal>,
    /// Negative logarithm of the acid's dissociation constant in water at 25 °C.
    pub pka: Option<Decimal>,
    /// The acid that this substance is counted as, for a salt or an acid whose limit is stated "as acid".
    pub as_acid: Option<AsAcid>,
    /// Where name, number and mass come from.
    pub source: Source,
    /// How far they were checked.
    pub status: Status,
}

/// How a salt is counted as its acid.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct AsAcid {
    /// Key of the acid.
    pub acid: String,
    /// Grams of acid per gram of this substance: the quotient of the molar masses, one acid to one salt.
    pub factor: Decimal,
}

/// How much of a substance a material holds.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Constituent {
    /// Key of the substance.
    pub substance: String,
    /// Lower end of the range, per cent by mass.
    pub low_percent: Decimal,
    /// Upper end of the range, per cent by mass. A limit is judged on this end unless an analysis of the lot is
    /// at hand.
    pub high_percent: Decimal,
    /// Where the range comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}
