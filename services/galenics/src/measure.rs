//! The normalised measures that every calculation works in: grams, millilitres at 20 °C, degrees Celsius,
//! fractions and densities. Their constructors refuse what cannot be, so that no function behind them has to
//! ask again.

use rust_decimal::Decimal;
use serde::{Serialize, Serializer};
use thiserror::Error;

use crate::{number, number::HUNDRED};

/// A measure outside what the trade can mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum MeasureError {
    /// Below zero.
    #[error("{0} must not be negative.")]
    Negative(&'static str),
    /// Above what is accepted.
    #[error("{what} is too large. Enter at most {most}.")]
    TooLarge {
        /// What was measured.
        what: &'static str,
        /// The largest accepted value, with its unit.
        most: &'static str,
    },
    /// A temperature outside -100 to 400 °C.
    #[error("The temperature must be -100 to 400 °C.")]
    Temperature,
    /// A text that is no temperature.
    #[error("This is not a temperature. Write it as 70 C or 158 F.")]
    TemperatureText,
    /// A fraction outside 0 to 1.
    #[error("The share must be 0 to 100 %.")]
    Fraction,
    /// A density that no liquid or solid of the trade has.
    #[error("The density must be 0.1 to 25 g/mL.")]
    Density,
}

/// The largest mass and volume that a calculation accepts, in g and mL: a million kilograms or litres. Far
/// above any clinic, and small enough that no product of two accepted numbers leaves the range of a decimal.
const MOST: Decimal = Decimal::from_parts(1_000_000_000, 0, 0, false, 0);

macro_rules! decimal_newtype {
    ($name:ident) => {
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(&self.0.normalize())
            }
        }
    };
}

/// A mass in grams, from zero to 10^9 g.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Mass(Decimal);

impl Mass {
    /// A mass of so many grams.
    ///
    /// # Errors
    /// Refuses negative masses and more than 10^9 g.
    pub fn grams(value: Decimal) -> Result<Self, MeasureError> {
        within(value, "The mass", "1000000 kg").map(Self)
    }

    /// Grams.
    #[must_use]
    pub const fn g(self) -> Decimal {
        self.0
    }
}
decimal_newtype!(Mass);

/// A volume in millilitres at 20 °C, from zero to 10^9 mL.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Volume(Decimal);

impl Volume {
    /// A volume of so many millilitres.
    ///
    /// # Errors
    /// Refuses negative volumes and more than 10^9 mL.
    pub fn millilitres(value: Decimal) -> Result<Self, MeasureError> {
        within(value, "The volume", "1000000 L").map(Self)
    }

    /// Millilitres.
    #[must_use]
    pub const fn ml(self) -> Decimal {
        self.0
    }
}
decimal_newtype!(Volume);

fn within(value: Decimal, what: &'static str, most: &'static str) -> Result<Decimal, MeasureError> {
    if value.is_sign_negative() && !value.is_zero() {
        Err(MeasureError::Negative(what))
    } else if value > MOST {
        Err(MeasureError::TooLarge { what, most })
    } else {
        Ok(value.abs())
    }
}

/// A temperature in degrees Celsius, from -100 to 400.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Temperature(Decimal);

impl Temperature {
    /// 20 °C, at which volumes are reckoned.
    pub const TWENTY: Self = Self(Decimal::from_parts(20, 0, 0, false, 0));

    /// A temperature of so many degrees Celsius.
    ///
    /// # Errors
    /// Refuses what lies outside -100 to 400 °C.
    pub fn celsius(value: Decimal) -> Result<Self, MeasureError> {
        if value < Decimal::from(-100) || value > Decimal::from(400) {
            return Err(MeasureError::Temperature);
        }
        Ok(Self(value))
    }

    /// A temperature of so many degrees Fahrenheit: C = (F - 32) x 5/9, exact by definition.
    ///
    /// # Errors
    /// Refuses what lies outside -100 to 400 °C.
    pub fn fahrenheit(value: Decimal) -> Result<Self, MeasureError> {
        if value.abs() > Decimal::from(1000) {
            return Err(MeasureError::Temperature);
        }
        let celsius = (value - Decimal::from(32)) * Decimal::from(5);
        Self::celsius(celsius.checked_div(Decimal::from(9)).ok_or(MeasureError::Temperature)?)
    }

    /// Reads `70 C`, `70 °C`, `158 F`, `-5 °C`.
    ///
    /// # Errors
    /// Refuses a number without a scale and what lies outside -100 to 400 °C.
    ///
    /// ```
    /// use galenics::Temperature;
    /// assert_eq!(Temperature::parse("158 °F"), Temperature::parse("70 C"));
    /// assert!(Temperature::parse("70").is_err());
    /// ```
    pub fn parse(text: &str) -> Result<Self, MeasureError> {
        let text = text.trim();
        let (below_zero, text) = match text.strip_prefix(['-', '\u{2212}']) {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let (value, rest) = number::leading(text).map_err(|_| MeasureError::TemperatureText)?;
        let value = if below_zero { -value } else { value };
        let scale = rest.trim().trim_start_matches(['°', 'º']).trim();
        match scale.to_ascii_lowercase().as_str() {
            "c" | "\u{2103}" | "celsius" | "deg c" | "degrees c" | "degrees celsius" => Self::celsius(value),
            "f" | "\u{2109}" | "fahrenheit" | "deg f" | "degrees f" | "degrees fahrenheit" => {
                Self::fahrenheit(value)
            }
            _ => Err(MeasureError::TemperatureText),
        }
    }

    /// Degrees Celsius.
    #[must_use]
    pub const fn c(self) -> Decimal {
        self.0
    }
}
decimal_newtype!(Temperature);

/// A share from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Fraction(Decimal);

impl Fraction {
    /// Nothing.
    pub const ZERO: Self = Self(Decimal::ZERO);
    /// All.
    pub const ONE: Self = Self(Decimal::ONE);

    /// A share as a fraction of one.
    ///
    /// # Errors
    /// Refuses what lies outside 0 to 1.
    pub fn new(value: Decimal) -> Result<Self, MeasureError> {
        if value < Decimal::ZERO || value > Decimal::ONE {
            return Err(MeasureError::Fraction);
        }
        Ok(Self(value.abs()))
    }

    /// A share as it was kept, by the bounds of its own time.
    pub(crate) const fn kept(value: Decimal) -> Self {
        Self(value)
    }

    /// A share as per cent.
    ///
    /// # Errors
    /// Refuses what lies outside 0 to 100.
    pub fn percent(value: Decimal) -> Result<Self, MeasureError> {
        Self::new(value.checked_div(HUNDRED).ok_or(MeasureError::Fraction)?)
    }

    /// The fraction of one.
    #[must_use]
    pub const fn get(self) -> Decimal {
        self.0
    }

    /// What is left of one.
    #[must_use]
    pub fn rest(self) -> Self {
        Self(Decimal::ONE - self.0)
    }
}
decimal_newtype!(Fraction);

impl Default for Fraction {
    fn default() -> Self {
        Self::ZERO
    }
}

/// A density in g/mL and the temperature at which it holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub struct Density {
    #[serde(serialize_with = "crate::number::as_text")]
    g_per_ml: Decimal,
    at_celsius: Temperature,
}

impl Density {
    /// A density of so many g/mL at a temperature.
    ///
    /// # Errors
    /// Refuses what lies outside 0.1 to 25 g/mL: it is a slip of the unit, not a material of the trade.
    pub fn new(g_per_ml: Decimal, at: Temperature) -> Result<Self, MeasureError> {
        if g_per_ml < Decimal::new(1, 1) || g_per_ml > Decimal::from(25) {
            return Err(MeasureError::Density);
        }
        Ok(Self { g_per_ml, at_celsius: at })
    }

    /// A density as it was kept, by the bounds of its own time.
    pub(crate) const fn kept(g_per_ml: Decimal, celsius: Decimal) -> Self {
        Self { g_per_ml, at_celsius: Temperature(celsius) }
    }

    /// g/mL.
    #[must_use]
    pub const fn g_per_ml(self) -> Decimal {
        self.g_per_ml
    }

    /// The temperature at which it holds.
    #[must_use]
    pub const fn at(self) -> Temperature {
        self.at_celsius
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::dec;

    #[test]
    fn measures_refuse_what_cannot_be() {
        assert_eq!(Mass::grams(dec("-0.1")), Err(MeasureError::Negative("The mass")));
        assert!(Mass::grams(dec("1000000001")).is_err());
        assert!(Volume::millilitres(dec("-1")).is_err());
        assert!(Fraction::percent(dec("100.1")).is_err());
        assert!(Fraction::new(dec("-0.01")).is_err());
        assert!(Density::new(dec("0"), Temperature::TWENTY).is_err());
        assert!(Density::new(dec("998"), Temperature::TWENTY).is_err());
        assert!(Temperature::celsius(dec("-273")).is_err());
        assert!(Temperature::fahrenheit(dec("100000000000000000000")).is_err());
    }

    #[test]
    fn temperatures_read_in_both_scales() {
        for (text, celsius) in [
            ("70 C", dec("70")),
            ("70°C", dec("70")),
            ("212 F", dec("100")),
            ("-5 °C", dec("-5")),
            ("60 °F", dec("140") / dec("9")),
        ] {
            assert_eq!(Temperature::parse(text).unwrap().c(), celsius, "{text}");
        }
        for text in ["", "70", "seventy C", "70 K", "1e9 C", "500 C"] {
            assert!(Temperature::parse(text).is_err(), "{text}");
        }
    }
}
