//! An answer as it was typed, against what is expected.

use rust_decimal::Decimal;
use thiserror::Error;

use super::mistakes::{CommonError, Mistake};
use crate::{
    Dimension, Measure, Quantity, QuantityError,
    number::{self, NumberError, significant},
    words::words,
};

words! {
    /// What a number is asked in.
    Asked, "kind of answer" {
        Mass = "mass",
        Volume = "volume",
        Percent = "percent",
        Number = "number",
    }
}

/// What is expected of an answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expected {
    /// What it is asked in.
    pub asked: Asked,
    /// The right answer, in g, mL or per cent, or as a bare number.
    pub value: Decimal,
    /// By how many per cent of it an answer may differ.
    pub tolerance_percent: Decimal,
    /// What common errors would give.
    pub mistakes: Vec<Mistake>,
}

/// An answer, judged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judged {
    /// Whether it is right.
    pub right: bool,
    /// How it was read, where it has another unit than the question.
    pub read_as: Option<String>,
    /// The common error that it shows.
    pub error: Option<CommonError>,
}

/// Why an answer cannot be judged. It is returned and is no attempt.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum AnswerError {
    /// Not a quantity, or one without a unit.
    #[error("{0}")]
    Quantity(#[from] QuantityError),
    /// Not a number.
    #[error("{0}")]
    Number(#[from] NumberError),
    /// A percentage without its sign.
    #[error("The answer has no unit. Add the sign %, such as 12.5 %.")]
    NoPercent,
    /// A unit where none is asked.
    #[error("The answer is a bare number. Write it without a unit, such as 8.2.")]
    BareNumber,
    /// Drops cannot be turned into what is asked.
    #[error("Drops differ from dropper to dropper. Answer in g or mL, such as 2.5 mL.")]
    Drops,
}

/// Reads a number as instructors write the right answer: a mass, a volume, a percentage or a bare number.
///
/// # Errors
/// Refuses what is none of these.
pub fn parse_number(text: &str) -> Result<(Asked, Decimal), AnswerError> {
    let typed = text.trim();
    if let Some(percent) = typed.strip_suffix('%') {
        return Ok((Asked::Percent, number::parse(percent.trim())?));
    }
    if let Ok(bare) = number::parse(typed) {
        return Ok((Asked::Number, bare));
    }
    let quantity = Quantity::parse(typed)?;
    match quantity.measure() {
        Measure::Mass(mass) => Ok((Asked::Mass, mass.g())),
        Measure::Volume(volume) => Ok((Asked::Volume, volume.ml())),
        Measure::Drops { .. } => match quantity.volume(None) {
            Some(volume) => Ok((Asked::Volume, volume.ml())),
            None => Err(AnswerError::Drops),
        },
    }
}

/// Judges an answer. One in another unit is judged after conversion, which the judgement names. A volume for a mass, or a
/// mass for a volume, is wrong by name.
///
/// # Errors
/// Refuses an answer that is no number, or that lacks its unit.
pub fn judge(expected: &Expected, text: &str) -> Result<Judged, AnswerError> {
    let typed = text.trim();
    let value = match expected.asked {
        Asked::Percent => {
            let bare = typed.strip_suffix('%').ok_or(AnswerError::NoPercent)?;
            number::parse(bare.trim())?
        }
        Asked::Number => {
            let bare = number::parse(typed);
            if bare.is_err() && (typed.ends_with('%') || Quantity::parse(typed).is_ok()) {
                return Err(AnswerError::BareNumber);
            }
            bare?
        }
        Asked::Mass | Asked::Volume => {
            if let Ok(bare) = number::parse(typed) {
                return Err(QuantityError::NoUnit(bare).into());
            }
            let quantity = Quantity::parse(typed)?;
            return judge_quantity(expected, &quantity);
        }
    };
    Ok(compare(expected, value, None))
}

fn judge_quantity(expected: &Expected, quantity: &Quantity) -> Result<Judged, AnswerError> {
    let (asked, value) = match quantity.measure() {
        Measure::Mass(mass) => (Asked::Mass, mass.g()),
        Measure::Volume(volume) => (Asked::Volume, volume.ml()),
        Measure::Drops { .. } => (Asked::Volume, quantity.volume(None).ok_or(AnswerError::Drops)?.ml()),
    };
    let unit = if asked == Asked::Mass { "g" } else { "mL" };
    let plain = quantity.dimension() != Dimension::Drops
        && matches!(quantity.parts(), [part] if part.unit.symbol() == unit);
    let read_as = (!plain).then(|| format!("Read as {} {unit}.", significant(value, 4).normalize()));
    if asked != expected.asked {
        let error =
            if asked == Asked::Volume { CommonError::VolumeForMass } else { CommonError::MassForVolume };
        return Ok(Judged { right: false, read_as, error: Some(error) });
    }
    Ok(compare(expected, value, read_as))
}

fn compare(expected: &Expected, value: Decimal, read_as: Option<String>) -> Judged {
    let within = |of: Decimal| {
        let allowed = of.abs() * expected.tolerance_percent / Decimal::ONE_HUNDRED;
        value.checked_sub(of).is_some_and(|off| off.abs() <= allowed)
    };
    if within(expected.value) {
        return Judged { right: true, read_as, error: None };
    }
    let found = expected.mistakes.iter().find(|(_, wrong)| within(*wrong)).map(|(error, _)| *error);
    let ten = Decimal::TEN;
    let shifted = || {
        let places = [ten, ten * ten, ten * ten * ten];
        let moved = |by: &Decimal| {
            expected.value.checked_mul(*by).is_some_and(within)
                || expected.value.checked_div(*by).is_some_and(within)
        };
        places.iter().any(moved).then_some(CommonError::DecimalPoint)
    };
    Judged { right: false, read_as, error: found.or_else(shifted) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::dec;

    fn expected(asked: Asked, value: &str) -> Expected {
        Expected { asked, value: dec(value), tolerance_percent: dec("1"), mistakes: Vec::new() }
    }

    #[test]
    fn an_answer_in_another_unit_is_judged_after_conversion_and_says_so() {
        // 1 oz is 28.349523125 g (NIST Handbook 44, appendix C).
        let found = judge(&expected(Asked::Mass, "28.35"), "1 oz").unwrap();
        assert_eq!((found.right, found.read_as.as_deref()), (true, Some("Read as 28.35 g.")));
        let found = judge(&expected(Asked::Mass, "28.35"), "28.4 g").unwrap();
        assert_eq!((found.right, found.read_as), (true, None));
        assert!(judge(&expected(Asked::Mass, "28.35"), "0.02835 kg").unwrap().right);
    }

    #[test]
    fn an_answer_without_its_unit_is_returned_for_it() {
        assert!(matches!(
            judge(&expected(Asked::Mass, "28.35"), "28.35"),
            Err(AnswerError::Quantity(QuantityError::NoUnit(_)))
        ));
        assert_eq!(judge(&expected(Asked::Percent, "5"), "5"), Err(AnswerError::NoPercent));
        assert_eq!(judge(&expected(Asked::Number, "8.2"), "8.2 g"), Err(AnswerError::BareNumber));
        assert!(judge(&expected(Asked::Number, "8.2"), "much").is_err());
    }

    #[test]
    fn the_tolerance_is_a_share_of_the_right_answer() {
        let of = expected(Asked::Percent, "50");
        assert!(judge(&of, "50.5 %").unwrap().right);
        assert!(!judge(&of, "50.51 %").unwrap().right);
        assert_eq!(judge(&of, "5 %").unwrap().error, Some(CommonError::DecimalPoint));
    }

    #[test]
    fn a_right_answer_is_written_as_the_trade_writes_it() {
        assert_eq!(parse_number("12.5 g").unwrap(), (Asked::Mass, dec("12.5")));
        assert_eq!(parse_number("1 L").unwrap(), (Asked::Volume, dec("1000")));
        assert_eq!(parse_number("45 %").unwrap(), (Asked::Percent, dec("45")));
        assert_eq!(parse_number("8.2").unwrap(), (Asked::Number, dec("8.2")));
        assert!(parse_number("a pinch").is_err());
    }
}
