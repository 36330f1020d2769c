//! A quantity as it was typed, beside what it means: `2.5 US cups`, `4 oz 179 gr`, `20 drops at 25 per mL`.

use std::str::FromStr;

use rust_decimal::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};
use thiserror::Error;

use crate::{
    Text,
    measure::{Mass, MeasureError, Volume},
    number::{self, NumberError},
    unit::{self, Customary, Dimension, Read, Unit},
};

/// The longest text that is read as a quantity.
pub(crate) const LONGEST: usize = 120;

/// The most parts that one quantity may have, as in pounds, ounces and grains.
const MOST_PARTS: usize = 4;

/// Why a text is not a quantity. The message says what would be accepted.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum QuantityError {
    /// Nothing was written.
    #[error("The quantity is missing. Write a number and a unit, such as 80 g, 25 mL or 2.5 US cups.")]
    Empty,
    /// The text is longer than any quantity.
    #[error("The quantity is too long. Write a number and a unit, such as 80 g, 25 mL or 2.5 US cups.")]
    TooLong,
    /// The number cannot be used.
    #[error("{0}")]
    Number(#[from] NumberError),
    /// A number without a unit.
    #[error("{0} has no unit. Add one of these: {all}.", all = unit::all())]
    NoUnit(Decimal),
    /// A unit that the trade does not use.
    #[error("\"{0}\" is not a unit known here. Use one of these: {all}.", all = unit::all())]
    UnknownUnit(String),
    /// A word that names two units of different size.
    #[error("The unit \"{given}\" is ambiguous. Write {accepted}.")]
    Ambiguous {
        /// The word as given.
        given: String,
        /// The words that would be accepted.
        accepted: &'static str,
    },
    /// A measure by feel, such as a pinch.
    #[error(
        "{0} varies from hand to hand. Weigh yours once and write the mass, such as 0.3 g, or a spoon measure, \
         such as 1/8 tsp."
    )]
    ByFeel(String),
    /// The same unit twice, or a smaller one before a larger: two amounts, not one.
    #[error(
        "\"{0}\" is two amounts. Write one, such as {1}. Only a smaller unit may follow, such as 1 lb 4 oz."
    )]
    Twice(String, String),
    /// Mass and volume in one quantity.
    #[error("The parts of one quantity must all be masses or all be volumes, such as 4 oz 179 gr.")]
    MixedParts,
    /// More parts than a quantity has.
    #[error("A quantity has at most four parts, such as 1 lb 4 oz 179 gr.")]
    TooManyParts,
    /// Drops in a millilitre that no dropper gives.
    #[error("The drop count must be 5 to 200 per mL. Write it as 20 drops at 25 per mL.")]
    DropsPerMl,
    /// Outside what a calculation accepts.
    #[error("{0}")]
    Measure(#[from] MeasureError),
}

impl QuantityError {
    /// A stable word for tools.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Empty => "empty",
            Self::TooLong => "too_long",
            Self::Number(NumberError::Negative) => "negative",
            Self::Number(NumberError::Zero) => "zero",
            Self::Number(_) => "not_a_number",
            Self::NoUnit(_) => "no_unit",
            Self::UnknownUnit(_) => "unknown_unit",
            Self::Ambiguous { .. } => "ambiguous_unit",
            Self::ByFeel(_) => "by_feel",
            Self::Twice(..) => "two_amounts",
            Self::MixedParts => "mixed_parts",
            Self::TooManyParts => "too_many_parts",
            Self::DropsPerMl => "drops_per_ml",
            Self::Measure(_) => "out_of_range",
        }
    }
}

/// What a quantity comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Weighed.
    Mass(Mass),
    /// Measured.
    Volume(Volume),
    /// Counted, a volume only where the drops in a millilitre are stated here or known of the material.
    Drops {
        /// How many drops.
        count: Decimal,
        /// Drops in a millilitre, where the text states it.
        per_ml: Option<Decimal>,
    },
}

/// One number with its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// The number as written.
    pub number: Decimal,
    /// Its unit.
    pub unit: Unit,
}

/// A quantity as typed, with what it means. Above zero.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quantity {
    text: Text,
    parts: Vec<Part>,
    measure: Measure,
    taken: Option<Customary>,
}

impl Quantity {
    /// What was meant by a text that is refused for its comma: `30.0 g` by `30,0 g`.
    #[must_use]
    pub fn meant(text: &str, family: Customary) -> Option<String> {
        number::with_point(text).filter(|meant| Self::parse_with(meant, family).is_ok())
    }

    /// Reads a quantity; bare cups, spoons and fluid ounces are taken as US customary.
    ///
    /// # Errors
    /// Says what is wrong and what would be accepted.
    ///
    /// ```
    /// use galenics::{Quantity, Measure};
    /// let oil = Quantity::parse("2.5 US cups")?;
    /// assert_eq!(oil.text(), "2.5 US cups");
    /// let Measure::Volume(volume) = oil.measure() else { unreachable!() };
    /// assert_eq!(volume.ml().to_string(), "591.47059125");
    /// # Ok::<(), galenics::QuantityError>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        Self::parse_with(text, Customary::default())
    }

    /// Reads a quantity; bare cups, spoons and fluid ounces are taken within `family`.
    ///
    /// # Errors
    /// Says what is wrong and what would be accepted.
    pub fn parse_with(text: &str, family: Customary) -> Result<Self, QuantityError> {
        let typed = text.trim();
        if typed.is_empty() {
            return Err(QuantityError::Empty);
        }
        if typed.len() > LONGEST {
            return Err(QuantityError::TooLong);
        }
        if let Some(measure) = by_feel(typed) {
            return Err(QuantityError::ByFeel(measure));
        }
        let (amounts, per_ml) = split_dropper(typed)?;
        let mut parts = Vec::with_capacity(1);
        let mut taken = None;
        let mut rest = amounts;
        while !rest.is_empty() {
            if parts.len() == MOST_PARTS {
                return Err(QuantityError::TooManyParts);
            }
            let (number, after) = number::leading(rest)?;
            let after = after.trim_start();
            let end = unit_end(after);
            let (word, tail) = after.split_at(end);
            let (unit, was_taken) = read_unit(number, word.trim(), family)?;
            if was_taken {
                taken = Some(family);
            }
            parts.push(Part { number, unit });
            rest = tail.trim_start();
        }
        if !parts.is_sorted_by(|one, next| one.unit.is_larger_than(next.unit))
            && let Some(first) = parts.first()
        {
            let one = format!("{} {}", first.number.normalize(), first.unit);
            return Err(QuantityError::Twice(typed.chars().take(40).collect(), one));
        }
        let measure = add(&parts, per_ml)?;
        Ok(Self { text: typed.to_owned().into(), parts, measure, taken })
    }

    /// A quantity of so many grams, written by us.
    #[must_use]
    pub fn of_mass(mass: Mass) -> Self {
        let number = mass.g().normalize();
        Self {
            text: format!("{number} g").into(),
            parts: vec![Part { number, unit: Unit::Gram }],
            measure: Measure::Mass(mass),
            taken: None,
        }
    }

    /// A quantity of so many millilitres, written by us.
    #[must_use]
    pub fn of_volume(volume: Volume) -> Self {
        let number = volume.ml().normalize();
        Self {
            text: format!("{number} mL").into(),
            parts: vec![Part { number, unit: Unit::Millilitre }],
            measure: Measure::Volume(volume),
            taken: None,
        }
    }

    /// The text as it was typed.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The text as it was typed, to keep.
    #[must_use]
    pub fn typed(&self) -> Text {
        self.text.clone()
    }

    /// The numbers with their units.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// What it comes to.
    #[must_use]
    pub const fn measure(&self) -> Measure {
        self.measure
    }

    /// Weighed, measured or counted.
    #[must_use]
    pub const fn dimension(&self) -> Dimension {
        match self.measure {
            Measure::Mass(_) => Dimension::Mass,
            Measure::Volume(_) => Dimension::Volume,
            Measure::Drops { .. } => Dimension::Drops,
        }
    }

    /// The family within which a bare household word was taken, where one was.
    #[must_use]
    pub const fn taken_within(&self) -> Option<Customary> {
        self.taken
    }

    /// A sentence that says how a bare household word was taken, where one was.
    #[must_use]
    pub fn taken_as(&self) -> Option<String> {
        let family = self.taken?;
        let names: Vec<_> = self.parts.iter().map(|part| part.unit.name()).collect();
        Some(format!("\"{}\" is read in {family} measures: {}", self.text, names.join(", ")))
    }

    /// This quantity as a volume where it is one: drops only if the text says how many make a millilitre or
    /// `drops_per_ml` does.
    #[must_use]
    pub fn volume(&self, drops_per_ml: Option<Decimal>) -> Option<Volume> {
        match self.measure {
            Measure::Mass(_) => None,
            Measure::Volume(volume) => Some(volume),
            Measure::Drops { count, per_ml } => {
                Volume::millilitres(count.checked_div(per_ml.or(drops_per_ml)?)?).ok()
            }
        }
    }
}

/// A measure that is taken by feel: "a pinch", "2 handfuls", "to taste".
fn by_feel(text: &str) -> Option<String> {
    const MEASURES: [&str; 14] = [
        "pinch", "pinches", "handful", "handfuls", "dash", "dashes", "dollop", "dollops", "knob", "splash",
        "smidgen", "sprig", "sprigs", "some",
    ];
    let lower = text.to_lowercase();
    if lower == "to taste" || lower == "a little" || lower == "a few drops" {
        return Some(text.to_owned());
    }
    let word = lower.split(|c: char| !c.is_alphabetic()).find(|word| MEASURES.contains(word))?;
    let article = if word.ends_with('s') || word == "some" { "" } else { "a " };
    let mut said = format!("{article}{word}");
    if let Some(first) = said.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    Some(said)
}

/// Splits "20 drops at 25 per mL" into the drops and the number in a millilitre.
fn split_dropper(text: &str) -> Result<(&str, Option<Decimal>), QuantityError> {
    let Some((amount, dropper)) = text.split_once(" at ").or_else(|| text.split_once('@')) else {
        return Ok((text, None));
    };
    let (per_ml, rest) = number::leading(dropper)?;
    let rest = rest.trim().to_lowercase();
    let words = rest.strip_prefix("drops").unwrap_or(&rest).trim_start();
    let unit = words
        .strip_prefix("per ")
        .or_else(|| words.strip_prefix("to the "))
        .or_else(|| words.strip_prefix('/'));
    match unit.map(str::trim) {
        Some("ml" | "millilitre" | "milliliter") => {}
        _ => return Err(QuantityError::DropsPerMl),
    }
    if per_ml < Decimal::from(5) || per_ml > Decimal::from(200) {
        return Err(QuantityError::DropsPerMl);
    }
    Ok((amount.trim_end(), Some(per_ml)))
}

/// Where the unit that starts `text` ends: at the next number of the quantity or at the end.
fn unit_end(text: &str) -> usize {
    let mut after_space = false;
    for (at, c) in text.char_indices() {
        if after_space && (c.is_ascii_digit() || matches!(c, '-' | '.' | '½' | '¼' | '¾')) {
            return at;
        }
        after_space = c.is_whitespace();
    }
    text.len()
}

fn read_unit(number: Decimal, word: &str, family: Customary) -> Result<(Unit, bool), QuantityError> {
    let word = word.trim_end_matches(" of").trim_end_matches(',');
    if word.is_empty() {
        return Err(QuantityError::NoUnit(number));
    }
    match unit::read(word, family) {
        Read::Plain(unit) => Ok((unit, false)),
        Read::Taken(unit) => Ok((unit, true)),
        Read::NotInFamily => Err(QuantityError::Ambiguous {
            given: word.to_owned(),
            accepted: "the family with it, such as US cup, metric cup, imperial cup, US tsp or metric tsp",
        }),
        Read::Unknown => Err(match word {
            "dram" | "drams" | "Dram" | "Drams" | "dr" | "dr." => QuantityError::Ambiguous {
                given: word.to_owned(),
                accepted: "fl dr (a volume), dr ap. (60 grains) or dr av. (a sixteenth of an ounce)",
            },
            "mg." | "m" | "Mg" => {
                QuantityError::Ambiguous { given: word.to_owned(), accepted: "mg, mL or minim" }
            }
            _ => QuantityError::UnknownUnit(word.chars().take(40).collect()),
        }),
    }
}

fn add(parts: &[Part], per_ml: Option<Decimal>) -> Result<Measure, QuantityError> {
    let first = parts.first().ok_or(QuantityError::Empty)?;
    let dimension = first.unit.dimension();
    let mut sum = Decimal::ZERO;
    for part in parts {
        if part.unit.dimension() != dimension {
            return Err(QuantityError::MixedParts);
        }
        let base = part.unit.factor().to_base(part.number).ok_or(NumberError::TooManyDigits)?;
        sum = sum.checked_add(base).ok_or(NumberError::TooManyDigits)?;
    }
    if sum.is_zero() {
        return Err(NumberError::Zero.into());
    }
    if per_ml.is_some() && dimension != Dimension::Drops {
        return Err(QuantityError::DropsPerMl);
    }
    Ok(match dimension {
        Dimension::Mass => Measure::Mass(Mass::grams(sum)?),
        Dimension::Volume => Measure::Volume(Volume::millilitres(sum)?),
        Dimension::Drops => {
            // A count of drops obeys the bounds of a volume: nobody counts a thousand million drops.
            Measure::Drops { count: Volume::millilitres(sum)?.ml(), per_ml }
        }
    })
}

impl FromStr for Quantity {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::parse(text)
    }
}

impl std::fmt::Display for Quantity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.text)
    }
}

impl Serialize for Quantity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text)
    }
}

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(D::Error::custom)
    }
}
