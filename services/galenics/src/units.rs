//! The units in which figures are given, as constants, so that no two figures spell one unit in two ways.
//!
//! A unit is never removed and never spelt anew: kept results of earlier versions name it.

macro_rules! units {
    ($($(#[$doc:meta])* $name:ident = $sign:literal;)+) => {
        $($(#[$doc])* pub const $name: &str = $sign;)+

        /// Every unit of this list.
        pub const ALL: &[&str] = &[$($name),+];
    };
}

units! {
    /// Grams.
    GRAM = "g";
    /// Milligrams.
    MILLIGRAM = "mg";
    /// Millilitres at 20 °C.
    MILLILITRE = "mL";
    /// Grams in a millilitre.
    GRAM_PER_ML = "g/mL";
    /// Grams in a litre.
    GRAM_PER_LITRE = "g/L";
    /// Milligrams in a gram.
    MILLIGRAM_PER_GRAM = "mg/g";
    /// Milligrams in a millilitre.
    MILLIGRAM_PER_ML = "mg/mL";
    /// Millilitres to a gram.
    ML_PER_GRAM = "mL/g";
    /// Grams in a gram.
    GRAM_PER_GRAM = "g/g";
    /// A share of one, without a basis.
    SHARE = "fraction";
    /// A share of the mass.
    SHARE_OF_MASS = "fraction w/w";
    /// A share of the volume.
    SHARE_OF_VOLUME = "fraction v/v";
    /// Grams in a hundred millilitres, as a fraction of one gram in one millilitre.
    MASS_IN_VOLUME = "g/mL w/v";
    /// A ratio or factor without a unit.
    RATIO = "";
    /// Degrees Celsius.
    CELSIUS = "C";
    /// Days.
    DAY = "d";
    /// Money, in the currency that the result names beside it.
    MONEY = "money";
}
