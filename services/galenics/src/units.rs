//! The units in which figures are given, as constants, so that no two figures spell one unit in two ways.

/// Grams.
pub const GRAM: &str = "g";
/// Milligrams.
pub const MILLIGRAM: &str = "mg";
/// Millilitres at 20 °C.
pub const MILLILITRE: &str = "mL";
/// Grams in a millilitre.
pub const GRAM_PER_ML: &str = "g/mL";
/// Milligrams in a gram.
pub const MILLIGRAM_PER_GRAM: &str = "mg/g";
/// Milligrams in a millilitre.
pub const MILLIGRAM_PER_ML: &str = "mg/mL";
/// Grams in a gram.
pub const GRAM_PER_GRAM: &str = "g/g";
/// A share of one, without a basis.
pub const SHARE: &str = "fraction";
/// A share of the mass.
pub const SHARE_OF_MASS: &str = "fraction w/w";
/// A share of the volume.
pub const SHARE_OF_VOLUME: &str = "fraction v/v";
/// Grams in a hundred millilitres, as a fraction of one gram in one millilitre.
pub const MASS_IN_VOLUME: &str = "g/mL w/v";
/// A ratio or factor without a unit.
pub const RATIO: &str = "";
/// Degrees Celsius.
pub const CELSIUS: &str = "C";
/// Days.
pub const DAY: &str = "d";
/// Money, in the currency that the result names beside it.
pub const MONEY: &str = "money";
