//! How a number is shown to a person: no digit that nobody can use, in the unit that a person would write.
//!
//! Four significant digits, or more where there are more before the point; whole drops; two digits of a spoon or cup;
//! a tenth of a degree; money to the hundredth. A fraction is shown as per cent, as it is typed. The value itself is
//! never rounded.

use std::fmt;

use rust_decimal::Decimal;

use crate::{
    Unit,
    digits::{Digits, Halves},
    units,
};

/// Significant digits of what is weighed, measured or compared.
const USUAL: u8 = 4;

/// Significant digits of a spoon or a cup.
const HOUSEHOLD: u8 = 2;

/// Significant digits of the exact value beside the shown one: more than any balance shows, without the digits that a
/// division leaves.
const EXACT: u8 = 12;

/// Significant digits of a constant.
const CONSTANT: u8 = 16;

/// A number as it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// The number for a person.
    pub value: String,
    /// Its unit as a person writes it; empty for a pure number.
    pub unit: &'static str,
    /// The number to twelve significant digits, in the same unit, where the shown one is rounded.
    pub exact: Option<String>,
}

/// The number as it is shown to a person, and exact beside it.
#[must_use]
pub fn shown(value: Decimal, unit: &'static str) -> Shown {
    to(value, unit, EXACT)
}

/// As [`shown`], of a constant: sixteen digits keep every exact factor of a unit.
#[must_use]
pub fn shown_constant(value: Decimal, unit: &'static str) -> Shown {
    to(value, unit, CONSTANT)
}

fn to(value: Decimal, unit: &'static str, digits: u8) -> Shown {
    let (percent, sign) = sign(unit);
    let rounded = rounded(value, unit, percent);
    let exact = if percent { value.checked_mul(Decimal::ONE_HUNDRED).unwrap_or(value) } else { value };
    let exact = Digits::significant(exact, digits, Halves::ToEven);
    let differs = exact.as_str() != rounded.as_str();
    Shown { value: rounded.to_string(), unit: sign, exact: differs.then(|| exact.to_string()) }
}

/// The unit as it is shown: a fraction is shown as per cent.
#[must_use]
pub fn unit(unit: &'static str) -> &'static str {
    sign(unit).1
}

/// Writes the number as it is shown, with its unit.
pub(crate) fn write(out: &mut impl fmt::Write, value: Decimal, unit: &'static str) -> fmt::Result {
    let (percent, sign) = sign(unit);
    out.write_str(rounded(value, unit, percent).as_str())?;
    if sign.is_empty() {
        return Ok(());
    }
    out.write_char(' ')?;
    out.write_str(sign)
}

/// Whether a hundred times the number is shown, and the unit that is written after it.
fn sign(unit: &'static str) -> (bool, &'static str) {
    match unit {
        units::SHARE => (true, "%"),
        units::SHARE_OF_MASS => (true, "% w/w"),
        units::SHARE_OF_VOLUME => (true, "% v/v"),
        units::MASS_IN_VOLUME => (true, "% w/v"),
        units::CELSIUS => (false, "°C"),
        plain => (false, plain),
    }
}

fn rounded(value: Decimal, unit: &str, percent: bool) -> Digits {
    let digits = match unit {
        units::CELSIUS => return Digits::of(value.round_dp(1)),
        units::MONEY if value.scale() > 2 => return Digits::of(value.round_dp(2)),
        drops if drops == Unit::Drop.symbol() && value >= Decimal::ONE => return Digits::of(value.round()),
        spoon if spoon.ends_with("tsp") || spoon.ends_with("tbsp") || spoon.ends_with("cup") => HOUSEHOLD,
        _ => USUAL,
    };
    Digits::for_show(value, percent, digits)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::dec;

    fn text(value: &str, unit: &'static str) -> String {
        let mut out = String::new();
        write(&mut out, dec(value), unit).unwrap();
        out
    }

    #[test]
    fn a_person_reads_the_digits_that_a_person_can_use() {
        for (value, unit, reads) in [
            ("168.5975", "g", "168.6 g"),
            ("12345.67", "g", "12346 g"),
            ("0.0221257", "g", "0.02213 g"),
            ("2.8977", "US cup", "2.9 US cup"),
            ("35.7", "drops", "36 drops"),
            ("0.4", "drops", "0.4 drops"),
            ("71.666666", units::CELSIUS, "71.7 °C"),
            ("0.4", units::SHARE, "40 %"),
            ("0.0476190476", units::SHARE_OF_MASS, "4.762 % w/w"),
            ("0.2", units::MASS_IN_VOLUME, "20 % w/v"),
            ("1234.567", units::MONEY, "1234.57 money"),
            ("0.375", "", "0.375"),
        ] {
            assert_eq!(text(value, unit), reads);
        }
    }

    #[test]
    fn the_exact_value_stands_beside_a_rounded_one_alone() {
        let rounded = shown(dec("0.0476190476190476190476190476"), units::SHARE);
        assert_eq!((rounded.value.as_str(), rounded.unit), ("4.762", "%"));
        assert_eq!(rounded.exact.as_deref(), Some("4.7619047619"));
        assert_eq!(shown(dec("0.4"), units::SHARE).exact, None);
    }
}
