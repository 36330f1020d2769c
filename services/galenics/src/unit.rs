//! Units of mass and volume with their exact factors, each with its source.
//!
//! Factors are exact: a numerator and a denominator of decimals, so that even the imperial minim, which has
//! no finite decimal in millilitres, converts there and back without loss beyond the 28th digit.

use rust_decimal::Decimal;
use serde::{Serialize, Serializer};

use crate::{
    explain::{Source, Status},
    number::dec,
    words::words,
};

/// Mass or volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// Weighed, in grams.
    Mass,
    /// Measured, in millilitres at 20 °C.
    Volume,
    /// Counted in drops, which are a volume only through a stated number of drops in a millilitre.
    Drops,
}

words! {
    /// Which family of household measures a bare cup, spoon, pint or fluid ounce means.
    #[derive(Default)]
    Customary, "customary measure" {
        /// US customary measures.
        #[default]
        Us = "US",
        /// Imperial measures.
        Imperial = "imperial",
        /// Metric household measures.
        Metric = "metric",
    }
}

macro_rules! units {
    ($($(#[$doc:meta])* $variant:ident : $dimension:ident, $symbol:literal, $name:literal, $times:expr, $per:expr, $source:expr;)+) => {
        /// A unit in which an amount can be entered.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Unit { $(#[doc = $name] $(#[$doc])* $variant),+ }

        impl Unit {
            /// Every unit.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// Whether it weighs, measures or counts.
            #[must_use]
            pub const fn dimension(self) -> Dimension {
                match self { $(Self::$variant => Dimension::$dimension),+ }
            }

            /// The short sign.
            #[must_use]
            pub const fn symbol(self) -> &'static str {
                match self { $(Self::$variant => $symbol),+ }
            }

            /// The full name, which says the family.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name),+ }
            }

            /// The exact factor to grams or millilitres.
            #[must_use]
            pub const fn factor(self) -> Factor {
                match self { $(Self::$variant => Factor { times: $times, per: $per }),+ }
            }

            /// Where the factor stands.
            #[must_use]
            pub const fn source(self) -> &'static Source {
                match self { $(Self::$variant => &$source),+ }
            }
        }
    };
}

/// An exact factor: a value in the unit times `times` over `per` is grams or millilitres.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Factor {
    /// Above the line.
    pub times: Decimal,
    /// Below the line.
    pub per: Decimal,
}

impl Factor {
    /// The value in the base unit, `None` beyond the range of a decimal.
    #[must_use]
    pub fn to_base(self, value: Decimal) -> Option<Decimal> {
        let above = value.checked_mul(self.times)?;
        if self.per == Decimal::ONE { Some(above) } else { above.checked_div(self.per) }
    }

    /// A value of the base unit in this unit, `None` beyond the range of a decimal.
    #[must_use]
    pub fn from_base(self, value: Decimal) -> Option<Decimal> {
        value.checked_mul(self.per)?.checked_div(self.times)
    }
}

static SI: Source = Source::fixed("SI Brochure, prefixes; 1 L = 1000 mL", Status::Verified);
static AVOIRDUPOIS: Source = Source::fixed(
    "international avoirdupois pound, 453.59237 g exactly; 1 lb = 7000 grains (NIST unit tables)",
    Status::Verified,
);
static APOTHECARY: Source = Source::fixed(
    "apothecaries' weight: 1 grain = 64.79891 mg exactly; scruple 20, drachm 60, ounce 480 grains",
    Status::Verified,
);
static US: Source = Source::fixed(
    "US gallon, 231 cubic inches = 3785.411784 mL exactly, and its divisions (NIST unit tables)",
    Status::Verified,
);
static IMPERIAL: Source = Source::fixed(
    "imperial gallon, 4.54609 L exactly, and its divisions (Weights and Measures Act)",
    Status::Verified,
);
static KITCHEN: Source =
    Source::fixed("metric kitchen measures: teaspoon 5 mL, tablespoon 15 mL (NIST SP 430)", Status::Verified);
static METRIC_CUP: Source = Source::fixed("metric cup, 250 mL", Status::FromMemory);
static AUSTRALIAN: Source = Source::fixed("Australian tablespoon, 20 mL", Status::FromMemory);
static COUNTED: Source = Source::fixed(
    "drops are counted; only a stated number of drops in a mL makes a volume",
    Status::CommonPractice,
);

units! {
    Microgram: Mass, "ug", "microgram", dec("0.000001"), dec("1"), SI;
    Milligram: Mass, "mg", "milligram", dec("0.001"), dec("1"), SI;
    Gram: Mass, "g", "gram", dec("1"), dec("1"), SI;
    Kilogram: Mass, "kg", "kilogram", dec("1000"), dec("1"), SI;
    Grain: Mass, "gr", "grain", dec("0.06479891"), dec("1"), AVOIRDUPOIS;
    DramAvoirdupois: Mass, "dr av.", "avoirdupois dram", dec("28.349523125"), dec("16"), AVOIRDUPOIS;
    OunceAvoirdupois: Mass, "oz", "avoirdupois ounce", dec("28.349523125"), dec("1"), AVOIRDUPOIS;
    PoundAvoirdupois: Mass, "lb", "avoirdupois pound", dec("453.59237"), dec("1"), AVOIRDUPOIS;
    Scruple: Mass, "s ap.", "apothecaries' scruple", dec("1.2959782"), dec("1"), APOTHECARY;
    DrachmApothecaries: Mass, "dr ap.", "apothecaries' drachm", dec("3.8879346"), dec("1"), APOTHECARY;
    OunceApothecaries: Mass, "oz ap.", "apothecaries' ounce", dec("31.1034768"), dec("1"), APOTHECARY;
    PoundApothecaries: Mass, "lb ap.", "apothecaries' pound", dec("373.2417216"), dec("1"), APOTHECARY;
    Microlitre: Volume, "uL", "microlitre", dec("0.001"), dec("1"), SI;
    Millilitre: Volume, "mL", "millilitre", dec("1"), dec("1"), SI;
    Centilitre: Volume, "cL", "centilitre", dec("10"), dec("1"), SI;
    Decilitre: Volume, "dL", "decilitre", dec("100"), dec("1"), SI;
    Litre: Volume, "L", "litre", dec("1000"), dec("1"), SI;
    MetricTeaspoon: Volume, "metric tsp", "metric teaspoon", dec("5"), dec("1"), KITCHEN;
    MetricTablespoon: Volume, "metric tbsp", "metric tablespoon", dec("15"), dec("1"), KITCHEN;
    MetricCup: Volume, "metric cup", "metric cup", dec("250"), dec("1"), METRIC_CUP;
    AustralianTablespoon: Volume, "Australian tbsp", "Australian tablespoon", dec("20"), dec("1"), AUSTRALIAN;
    UsMinim: Volume, "US min", "US minim", dec("0.061611519921875"), dec("1"), US;
    UsFluidDrachm: Volume, "US fl dr", "US fluid drachm", dec("3.6966911953125"), dec("1"), US;
    UsTeaspoon: Volume, "US tsp", "US teaspoon", dec("4.92892159375"), dec("1"), US;
    UsTablespoon: Volume, "US tbsp", "US tablespoon", dec("14.78676478125"), dec("1"), US;
    UsFluidOunce: Volume, "US fl oz", "US fluid ounce", dec("29.5735295625"), dec("1"), US;
    UsCup: Volume, "US cup", "US cup", dec("236.5882365"), dec("1"), US;
    UsPint: Volume, "US pt", "US pint", dec("473.176473"), dec("1"), US;
    UsQuart: Volume, "US qt", "US quart", dec("946.352946"), dec("1"), US;
    UsGallon: Volume, "US gal", "US gallon", dec("3785.411784"), dec("1"), US;
    ImperialMinim: Volume, "imp min", "imperial minim", dec("28.4130625"), dec("480"), IMPERIAL;
    ImperialFluidDrachm: Volume, "imp fl dr", "imperial fluid drachm", dec("3.5516328125"), dec("1"), IMPERIAL;
    ImperialFluidOunce: Volume, "imp fl oz", "imperial fluid ounce", dec("28.4130625"), dec("1"), IMPERIAL;
    ImperialCup: Volume, "imp cup", "imperial cup (half pint)", dec("284.130625"), dec("1"), IMPERIAL;
    ImperialPint: Volume, "imp pt", "imperial pint", dec("568.26125"), dec("1"), IMPERIAL;
    ImperialQuart: Volume, "imp qt", "imperial quart", dec("1136.5225"), dec("1"), IMPERIAL;
    ImperialGallon: Volume, "imp gal", "imperial gallon", dec("4546.09"), dec("1"), IMPERIAL;
    /// Has no factor of its own: see [`Dimension::Drops`].
    Drop: Drops, "drops", "drop", dec("1"), dec("1"), COUNTED;
}

impl Unit {
    /// Whether it is the larger of two units; units of different dimension are not compared, and pass.
    pub(crate) fn is_larger_than(self, other: Self) -> bool {
        let one = |unit: Self| unit.factor().to_base(Decimal::ONE);
        self.dimension() != other.dimension() || one(self) > one(other)
    }
}

/// Every unit by its sign, as a refusal lists them; the bare words are those of the family in force.
pub(crate) fn all() -> String {
    let signs: Vec<&str> = Unit::ALL.iter().map(|unit| unit.symbol()).collect();
    format!(
        "{}; tsp, tbsp, cup, fl oz, pint, quart and gallon in the clinic's own measures",
        signs.join(", ")
    )
}

impl std::fmt::Display for Unit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.symbol())
    }
}

impl Serialize for Unit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.symbol())
    }
}

/// A bare household word, which names a unit only within a family.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Bare {
    Minim,
    FluidDrachm,
    Teaspoon,
    Tablespoon,
    FluidOunce,
    Cup,
    Pint,
    Quart,
    Gallon,
}

impl Bare {
    fn read(word: &str) -> Option<Self> {
        Some(match word {
            "min" | "minim" | "minims" => Self::Minim,
            "fl dr" | "fl. dr." | "fl. dr" | "fluid dram" | "fluid drams" | "fluid drachm"
            | "fluid drachms" | "fluidram" | "fluidrams" | "fluidrachm" | "fluidrachms" => Self::FluidDrachm,
            "tsp" | "tsp." | "tsps" | "teaspoon" | "teaspoons" | "teaspoonful" | "teaspoonfuls" => {
                Self::Teaspoon
            }
            "tbsp" | "tbsp." | "tbsps" | "tablespoon" | "tablespoons" | "tablespoonful"
            | "tablespoonfuls" => Self::Tablespoon,
            "fl oz" | "fl. oz." | "fl. oz" | "floz" | "fluid ounce" | "fluid ounces" | "fluidounce"
            | "fluidounces" => Self::FluidOunce,
            "cup" | "cups" | "cupful" | "cupfuls" => Self::Cup,
            "pt" | "pt." | "pint" | "pints" => Self::Pint,
            "qt" | "qt." | "quart" | "quarts" => Self::Quart,
            "gal" | "gal." | "gallon" | "gallons" => Self::Gallon,
            _ => return None,
        })
    }

    /// The unit within a family; `None` where the family has no such measure that is defined by law.
    const fn within(self, family: Customary) -> Option<Unit> {
        Some(match (family, self) {
            (Customary::Us, Self::Minim) => Unit::UsMinim,
            (Customary::Us, Self::FluidDrachm) => Unit::UsFluidDrachm,
            (Customary::Us, Self::Teaspoon) => Unit::UsTeaspoon,
            (Customary::Us, Self::Tablespoon) => Unit::UsTablespoon,
            (Customary::Us, Self::FluidOunce) => Unit::UsFluidOunce,
            (Customary::Us, Self::Cup) => Unit::UsCup,
            (Customary::Us, Self::Pint) => Unit::UsPint,
            (Customary::Us, Self::Quart) => Unit::UsQuart,
            (Customary::Us, Self::Gallon) => Unit::UsGallon,
            (Customary::Imperial, Self::Minim) => Unit::ImperialMinim,
            (Customary::Imperial, Self::FluidDrachm) => Unit::ImperialFluidDrachm,
            (Customary::Imperial, Self::FluidOunce) => Unit::ImperialFluidOunce,
            (Customary::Imperial, Self::Cup) => Unit::ImperialCup,
            (Customary::Imperial, Self::Pint) => Unit::ImperialPint,
            (Customary::Imperial, Self::Quart) => Unit::ImperialQuart,
            (Customary::Imperial, Self::Gallon) => Unit::ImperialGallon,
            (Customary::Metric, Self::Teaspoon) => Unit::MetricTeaspoon,
            (Customary::Metric, Self::Tablespoon) => Unit::MetricTablespoon,
            (Customary::Metric, Self::Cup) => Unit::MetricCup,
            // British spoons of today are metric; the older ones were defined by no law.
            (Customary::Imperial, Self::Teaspoon) => Unit::MetricTeaspoon,
            (Customary::Imperial, Self::Tablespoon) => Unit::MetricTablespoon,
            (
                Customary::Metric,
                Self::Minim | Self::FluidDrachm | Self::FluidOunce | Self::Pint | Self::Quart | Self::Gallon,
            ) => return None,
        })
    }
}

/// What a unit word turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Read {
    /// One unit and no other.
    Plain(Unit),
    /// A bare household word, taken within the family in force.
    Taken(Unit),
    /// A bare household word that the family in force does not have.
    NotInFamily,
    /// No unit.
    Unknown,
}

/// Reads a unit in any usual spelling; `family` decides what a bare cup means.
pub(crate) fn read(word: &str, family: Customary) -> Read {
    let word = word.trim();
    // "L" and "l" are one, but "Mg" is not "mg": the metric signs are compared as they stand first.
    if let Some(unit) = metric_sign(word) {
        return Read::Plain(unit);
    }
    if word.len() > 40 {
        return Read::Unknown;
    }
    let lower = word.to_lowercase();
    let lower = lower.split_whitespace().collect::<Vec<_>>().join(" ");
    if let Some(unit) = named(&lower) {
        return Read::Plain(unit);
    }
    for (prefixes, family) in [
        (["us ", "u.s. ", "american "], Customary::Us),
        (["imp ", "imp. ", "imperial "], Customary::Imperial),
        (["uk ", "british ", "brit. "], Customary::Imperial),
        (["metric ", "met. ", "metr. "], Customary::Metric),
    ] {
        if let Some(rest) = prefixes.iter().find_map(|prefix| lower.strip_prefix(prefix)) {
            return Bare::read(rest).and_then(|bare| bare.within(family)).map_or(Read::Unknown, Read::Plain);
        }
    }
    match Bare::read(&lower) {
        None => Read::Unknown,
        Some(bare) => bare.within(family).map_or(Read::NotInFamily, Read::Taken),
    }
}

fn metric_sign(word: &str) -> Option<Unit> {
    Some(match word {
        "g" => Unit::Gram,
        "mg" => Unit::Milligram,
        "ug" | "µg" | "μg" | "mcg" => Unit::Microgram,
        "kg" | "Kg" | "KG" => Unit::Kilogram,
        "mL" | "ml" | "ML" | "cc" | "cm3" | "cm³" => Unit::Millilitre,
        "uL" | "ul" | "µL" | "µl" | "μL" | "μl" => Unit::Microlitre,
        "cL" | "cl" => Unit::Centilitre,
        "dL" | "dl" => Unit::Decilitre,
        "L" | "l" => Unit::Litre,
        _ => return None,
    })
}

fn named(lower: &str) -> Option<Unit> {
    Some(match lower {
        "gram" | "grams" | "gramme" | "grammes" | "gm" | "gms" => Unit::Gram,
        "milligram" | "milligrams" | "milligramme" | "milligrammes" => Unit::Milligram,
        "microgram" | "micrograms" | "microgramme" | "microgrammes" => Unit::Microgram,
        "kilogram" | "kilograms" | "kilogramme" | "kilogrammes" | "kilo" | "kilos" => Unit::Kilogram,
        "millilitre" | "millilitres" | "milliliter" | "milliliters" | "mls" => Unit::Millilitre,
        "microlitre" | "microlitres" | "microliter" | "microliters" => Unit::Microlitre,
        "centilitre" | "centilitres" | "centiliter" | "centiliters" => Unit::Centilitre,
        "decilitre" | "decilitres" | "deciliter" | "deciliters" => Unit::Decilitre,
        "litre" | "litres" | "liter" | "liters" => Unit::Litre,
        "gr" | "gr." | "grain" | "grains" => Unit::Grain,
        "dr av" | "dr av." | "dram av." | "drams av." | "avoirdupois dram" | "avoirdupois drams" => {
            Unit::DramAvoirdupois
        }
        "oz" | "oz." | "ounce" | "ounces" | "oz av" | "oz av." | "oz. av." | "ounce av." | "ounces av."
        | "av. oz" | "av oz" | "avoirdupois ounce" | "avoirdupois ounces" => Unit::OunceAvoirdupois,
        "lb" | "lb." | "lbs" | "lbs." | "pound" | "pounds" | "lb av" | "lb av." | "avoirdupois pound"
        | "avoirdupois pounds" => Unit::PoundAvoirdupois,
        "s ap"
        | "s ap."
        | "scruple"
        | "scruples"
        | "℈"
        | "apothecaries' scruple"
        | "apothecaries' scruples" => Unit::Scruple,
        "dr ap"
        | "dr ap."
        | "ʒ"
        | "drachm"
        | "drachms"
        | "dram ap."
        | "drams ap."
        | "apothecaries' drachm"
        | "apothecaries' drachms"
        | "apothecaries' dram"
        | "apothecaries' drams" => Unit::DrachmApothecaries,
        "oz ap"
        | "oz ap."
        | "oz t"
        | "℥"
        | "troy ounce"
        | "troy ounces"
        | "apothecaries' ounce"
        | "apothecaries' ounces" => Unit::OunceApothecaries,
        "lb ap"
        | "lb ap."
        | "troy pound"
        | "troy pounds"
        | "apothecaries' pound"
        | "apothecaries' pounds" => Unit::PoundApothecaries,
        "drop" | "drops" | "gtt" | "gtt." => Unit::Drop,
        "australian tbsp" | "australian tablespoon" | "australian tablespoons" => Unit::AustralianTablespoon,
        "imperial cup (half pint)" => Unit::ImperialCup,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unit_reads_back_from_its_sign_and_from_its_name() {
        for unit in Unit::ALL {
            assert_eq!(read(unit.symbol(), Customary::Metric), Read::Plain(*unit), "{unit}");
            assert_eq!(read(unit.name(), Customary::Metric), Read::Plain(*unit), "{unit}");
        }
    }

    #[test]
    fn a_bare_cup_follows_the_family_and_says_so() {
        assert_eq!(read("cups", Customary::Us), Read::Taken(Unit::UsCup));
        assert_eq!(read("cups", Customary::Metric), Read::Taken(Unit::MetricCup));
        assert_eq!(read("Imperial cup", Customary::Us), Read::Plain(Unit::ImperialCup));
        assert_eq!(read("teaspoon", Customary::Imperial), Read::Taken(Unit::MetricTeaspoon));
        assert_eq!(read("fl oz", Customary::Metric), Read::NotInFamily);
    }

    #[test]
    fn a_bare_dram_and_a_megagram_are_no_unit() {
        // A dram is 1.77 g in one system and 3.89 g in another, and "Mg" is a thousand times a thousand "mg".
        for word in ["dram", "drams", "Mg", "furlongs", "", "x".repeat(5000).as_str()] {
            assert_eq!(read(word, Customary::Us), Read::Unknown, "{word}");
        }
    }

    #[test]
    fn factors_turn_back_into_themselves() {
        for unit in Unit::ALL {
            let factor = unit.factor();
            let there = factor.to_base(dec("7")).unwrap();
            let back = factor.from_base(there).unwrap();
            assert!((back - dec("7")).abs() < dec("0.000000000000000000000001"), "{unit}: {back}");
        }
    }
}
