//! The amount of a line as the trade writes it: a quantity, a per cent, a concentration, parts, a ratio, or q.s.

mod basis;
mod error;
mod herb_ratio;
mod kind;
mod read;

use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};

use crate::{
    Text, number,
    quantity::{LONGEST, Quantity, QuantityError},
    unit::Customary,
};

pub use basis::Basis;
pub use error::AmountError;
pub use herb_ratio::{HerbRatio, Menstruum, RatioState, RatioTo};
pub use kind::AmountKind;

/// An amount as typed, with its meaning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Amount {
    text: Text,
    kind: AmountKind,
}

impl Amount {
    /// What was meant by a text that is refused for its comma: `30.0 g` by `30,0 g`.
    #[must_use]
    pub fn meant(text: &str, family: Customary) -> Option<String> {
        number::with_point(text).filter(|meant| Self::parse_with(meant, family).is_ok())
    }

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
        let kind = read::read(typed, family)?;
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
            | AmountKind::VolumeParts(_)
            | AmountKind::Ratio { .. }
            | AmountKind::HerbRatio(_)
            | AmountKind::ToPh(_)
            | AmountKind::MakeUp => None,
        }
    }
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
