//! The amount of a line as the trade writes it: a quantity, a per cent, parts, a ratio strength, or q.s.

use std::str::FromStr;

use rust_decimal::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};
use thiserror::Error;

use crate::{
    Text,
    number::{self, HUNDRED, NumberError},
    quantity::{LONGEST, Quantity, QuantityError},
    unit::{Customary, Dimension},
    words::words,
};

words! {
    /// What a share is a share of.
    Basis, "basis" {
        /// Mass in mass.
        MassInMass = "w/w",
        /// Grams in 100 mL.
        MassInVolume = "w/v",
        /// Volume in volume.
        VolumeInVolume = "v/v",
        /// Not stated: taken as mass in mass, and the explanation says so.
        Unstated = "not stated",
    }
}

/// Why a text is not an amount. The message says what would be accepted.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum AmountError {
    /// A quantity with something wrong in it.
    #[error("{0}")]
    Quantity(#[from] QuantityError),
    /// A share that is not between 0 and 100 per cent.
    #[error("{0} % is more than the whole; a share lies above 0 and at most at 100 %")]
    PastHundred(Decimal),
    /// A basis that is not one of the three.
    #[error("\"{0}\" is not a basis; write % w/w, % w/v or % v/v, or % alone for w/w")]
    Basis(String),
    /// A ratio that is not one in so many.
    #[error("a ratio strength is one part in the whole, like 1:5, and the whole is the larger")]
    Ratio,
    /// "ad 500 g": what is made up to a quantity is written with q.s.
    #[error("\"ad\" alone is not read; write q.s. {0}")]
    AdAlone(String),
    /// From so much to so much.
    #[error("an amount from so much to so much cannot be weighed; write one amount, like {0}")]
    Range(String),
    /// q.s. to a count of drops.
    #[error("q.s. goes to a mass or a volume, like q.s. 1000 g or q.s. to 500 mL")]
    MakeUpToDrops,
}

impl AmountError {
    /// A stable word for tools.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Quantity(error) => error.code(),
            Self::PastHundred(_) => "past_hundred_percent",
            Self::Basis(_) => "unknown_basis",
            Self::Ratio => "not_a_ratio",
            Self::AdAlone(_) => "ad_without_qs",
            Self::Range(_) => "range_of_amounts",
            Self::MakeUpToDrops => "make_up_to_drops",
        }
    }
}

impl From<NumberError> for AmountError {
    fn from(error: NumberError) -> Self {
        Self::Quantity(error.into())
    }
}

/// The meaning of an amount.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AmountKind {
    /// So much.
    Quantity(Quantity),
    /// A share of the whole preparation.
    Percent {
        /// The share, from 0 to 1.
        fraction: Decimal,
        /// Of what.
        basis: Basis,
    },
    /// So many parts, of as many as all lines have together.
    Parts(Decimal),
    /// Ratio strength: so many in so many of the whole.
    Ratio {
        /// The part.
        part: Decimal,
        /// The whole.
        whole: Decimal,
        /// Of what.
        basis: Basis,
    },
    /// Enough to make up to a quantity.
    MakeUpTo(Quantity),
    /// Enough to make up to the yield that the formula states, or to 100 %.
    MakeUp,
}

/// An amount as typed, with its meaning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Amount {
    text: Text,
    kind: AmountKind,
}

impl Amount {
    /// Reads an amount; bare cups, spoons and fluid ounces are taken as US customary.
    ///
    /// # Errors
    /// Says what is wrong and what would be accepted.
    ///
    /// ```
    /// use galenics::{Amount, AmountKind};
    /// let amount = Amount::parse("q.s. to 1000 g")?;
    /// assert!(matches!(amount.kind(), AmountKind::MakeUpTo(_)));
    /// assert!(Amount::parse("-3 g").is_err());
    /// # Ok::<(), galenics::AmountError>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, AmountError> {
        Self::parse_with(text, Customary::default())
    }

    /// Reads an amount; bare cups, spoons and fluid ounces are taken within `family`.
    ///
    /// # Errors
    /// Says what is wrong and what would be accepted.
    pub fn parse_with(text: &str, family: Customary) -> Result<Self, AmountError> {
        let typed = text.trim();
        if typed.len() > LONGEST {
            return Err(QuantityError::TooLong.into());
        }
        let kind = read(typed, family)?;
        Ok(Self { text: typed.to_owned().into(), kind })
    }

    /// The amount that a quantity is.
    #[must_use]
    pub fn of(quantity: Quantity) -> Self {
        Self { text: quantity.typed(), kind: AmountKind::Quantity(quantity) }
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

    /// The meaning.
    #[must_use]
    pub const fn kind(&self) -> &AmountKind {
        &self.kind
    }

    /// The quantity in it, where it has one.
    #[must_use]
    pub const fn quantity(&self) -> Option<&Quantity> {
        match &self.kind {
            AmountKind::Quantity(quantity) | AmountKind::MakeUpTo(quantity) => Some(quantity),
            AmountKind::Percent { .. }
            | AmountKind::Parts(_)
            | AmountKind::Ratio { .. }
            | AmountKind::MakeUp => None,
        }
    }
}

fn read(typed: &str, family: Customary) -> Result<AmountKind, AmountError> {
    if let Some(rest) = after_quantum_satis(typed) {
        return make_up(rest, family);
    }
    if let Some(target) = typed.strip_prefix("ad ").or_else(|| typed.strip_prefix("Ad ")) {
        return Err(AmountError::AdAlone(target.trim().chars().take(40).collect()));
    }
    if let Some(least) = range(typed) {
        return Err(AmountError::Range(least));
    }
    if let Some((number, basis)) = typed.split_once('%').or_else(|| in_words(typed)) {
        return percent(number, basis);
    }
    if typed.contains(':') {
        return ratio(typed);
    }
    if let Ok((value, rest)) = number::leading(typed)
        && matches!(
            rest.trim().to_ascii_lowercase().as_str(),
            "part" | "parts" | "pt. wt" | "p." | "parts by weight"
        )
    {
        if value.is_zero() {
            return Err(NumberError::Zero.into());
        }
        return Ok(AmountKind::Parts(value));
    }
    Ok(AmountKind::Quantity(Quantity::parse_with(typed, family)?))
}

/// The number and the basis of a share whose sign is written out, as in "8 per cent w/w".
fn in_words(typed: &str) -> Option<(&str, &str)> {
    const SPELLINGS: [&str; 3] = ["percent", "per cent", "pct"];
    SPELLINGS.iter().find_map(|spelling| {
        let (number, basis) = typed.split_once(spelling)?;
        let apart = basis.is_empty() || basis.starts_with([' ', '(']);
        (apart && number.trim_end().ends_with(|c: char| c.is_ascii_digit())).then_some((number, basis))
    })
}

/// The lesser amount of a range such as "8-10 %"; "1-1/2 cups" is one amount.
fn range(typed: &str) -> Option<String> {
    let is_digit = |c: char| c.is_ascii_digit();
    let (least, most) = ["-", "\u{2013}", " to "].iter().find_map(|dash| typed.split_once(dash))?;
    let (least, most) = (least.trim(), most.trim_start());
    let number = most.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','));
    let plain = least.ends_with(is_digit)
        && least.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ','))
        && most.starts_with(is_digit)
        && !number.starts_with(['/', '\u{2044}']);
    plain.then(|| format!("{least} {}", number.trim().chars().take(20).collect::<String>()).trim().to_owned())
}

fn after_quantum_satis(typed: &str) -> Option<&str> {
    const SPELLINGS: [&str; 5] = ["q.s.", "q. s.", "q.s", "qs", "quantum satis"];
    SPELLINGS.iter().find_map(|spelling| {
        let head = typed.get(..spelling.len())?;
        let rest = typed.get(spelling.len()..)?;
        let ends = rest.chars().next().is_none_or(|c| !c.is_alphanumeric());
        (head.eq_ignore_ascii_case(spelling) && ends).then(|| rest.trim())
    })
}

fn make_up(rest: &str, family: Customary) -> Result<AmountKind, AmountError> {
    let target = rest
        .strip_prefix("ad ")
        .or_else(|| rest.strip_prefix("to "))
        .or_else(|| rest.strip_prefix("up to "))
        .unwrap_or(rest)
        .trim();
    if target.is_empty() || target == "100 %" || target == "100%" {
        return Ok(AmountKind::MakeUp);
    }
    let quantity = Quantity::parse_with(target, family)?;
    if quantity.dimension() == Dimension::Drops {
        return Err(AmountError::MakeUpToDrops);
    }
    Ok(AmountKind::MakeUpTo(quantity))
}

fn basis_of(text: &str) -> Result<Basis, AmountError> {
    match text.trim().to_ascii_lowercase().as_str() {
        "" => Ok(Basis::Unstated),
        "w/w" | "m/m" | "(w/w)" | "(m/m)" => Ok(Basis::MassInMass),
        "w/v" | "m/v" | "(w/v)" | "(m/v)" => Ok(Basis::MassInVolume),
        "v/v" | "(v/v)" | "vol" | "vol." => Ok(Basis::VolumeInVolume),
        other => Err(AmountError::Basis(other.chars().take(40).collect())),
    }
}

fn percent(number: &str, basis: &str) -> Result<AmountKind, AmountError> {
    let value = number::parse(number)?;
    let basis = basis_of(basis)?;
    if value.is_zero() {
        return Err(NumberError::Zero.into());
    }
    // More than 100 g can stand in 100 mL (syrup has 131), so that only shares of like in like end at 100.
    let most = if basis == Basis::MassInVolume { Decimal::from(1000) } else { HUNDRED };
    if value > most {
        return Err(AmountError::PastHundred(value.normalize()));
    }
    let fraction = value.checked_div(HUNDRED).ok_or(NumberError::TooManyDigits)?;
    Ok(AmountKind::Percent { fraction, basis })
}

fn ratio(typed: &str) -> Result<AmountKind, AmountError> {
    let (part, whole) = typed.split_once(':').ok_or(AmountError::Ratio)?;
    let part = number::parse(part)?;
    let (whole, basis) = number::leading(whole)?;
    if part.is_zero() || whole < part {
        return Err(AmountError::Ratio);
    }
    let basis = basis_of(basis)?;
    Ok(AmountKind::Ratio { part, whole, basis })
}

impl FromStr for Amount {
    type Err = AmountError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::parse(text)
    }
}

impl std::fmt::Display for Amount {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.text)
    }
}

impl Serialize for Amount {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text)
    }
}

impl<'de> Deserialize<'de> for Amount {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(D::Error::custom)
    }
}
