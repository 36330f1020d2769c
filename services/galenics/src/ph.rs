//! A pH as a formula asks for it: a range, one value, or a bound on one side.

use rust_decimal::{Decimal, RoundingStrategy};
use thiserror::Error;

use crate::{Text, number};

/// The highest pH of the scale.
const MOST: Decimal = Decimal::from_parts(14, 0, 0, false, 0);

/// The longest text that is read as a pH.
const LONGEST: usize = 60;

/// A text that is no target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error(
    "This is not a target pH. Write a range such as pH 4.5-5.0, one value such as pH 5.0, or a bound such as pH 5.5 \
     at most. A pH lies from 0 to 14."
)]
pub struct NotATarget;

/// A pH that is asked for, as typed beside its meaning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TargetPh {
    text: Text,
    least: Option<Decimal>,
    most: Option<Decimal>,
    /// One value is met by a reading that rounds to it, at the places that it was written with.
    places: Option<u32>,
}

impl TargetPh {
    /// Reads `pH 4.5-5.0`, `4.5 to 5`, `pH 5.0`, `pH 5.5 at most`, `at least 4`.
    ///
    /// # Errors
    /// Refuses everything else, what lies outside 0 to 14, and a range that ends below its start.
    ///
    /// ```
    /// use galenics::{TargetPh, number::dec};
    /// let target = TargetPh::parse("pH 4.5-5.0")?;
    /// assert!(target.is_met_by(dec("4.5")) && !target.is_met_by(dec("5.01")));
    /// // One value is met by what rounds to it, as written.
    /// assert!(TargetPh::parse("5")?.is_met_by(dec("5.4")) && !TargetPh::parse("5.0")?.is_met_by(dec("5.4")));
    /// # Ok::<(), galenics::ph::NotATarget>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, NotATarget> {
        let typed = text.trim();
        if typed.len() > LONGEST {
            return Err(NotATarget);
        }
        let bare = without_sign(typed);
        let target = |least, most, places| Self { text: typed.to_owned().into(), least, most, places };
        for (words, is_most) in [
            ("at most", true),
            ("or less", true),
            ("or lower", true),
            ("at least", false),
            ("or more", false),
        ] {
            if let Some(rest) = bare.strip_suffix(words).or_else(|| bare.strip_prefix(words)) {
                let bound = Some(value(rest)?);
                return Ok(if is_most { target(None, bound, None) } else { target(bound, None, None) });
            }
        }
        let range = ["-", "\u{2013}", " to "].iter().find_map(|dash| bare.split_once(dash));
        if let Some((least, most)) = range {
            let (least, most) = (value(least)?, value(most)?);
            return if least <= most { Ok(target(Some(least), Some(most), None)) } else { Err(NotATarget) };
        }
        let one = value(bare)?;
        Ok(target(Some(one), Some(one), Some(one.scale())))
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

    /// Whether a reading is what is asked for.
    #[must_use]
    pub fn is_met_by(&self, reading: Decimal) -> bool {
        let reading = match self.places {
            Some(places) => reading.round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero),
            None => reading,
        };
        self.least.is_none_or(|least| reading >= least) && self.most.is_none_or(|most| reading <= most)
    }
}

/// The text without a leading "pH".
fn without_sign(text: &str) -> &str {
    let head = text.get(..2).filter(|head| head.eq_ignore_ascii_case("ph"));
    head.and(text.get(2..)).unwrap_or(text).trim()
}

fn value(text: &str) -> Result<Decimal, NotATarget> {
    let plain = text.trim();
    if !plain.chars().all(|c| c.is_ascii_digit() || c == '.') {
        return Err(NotATarget);
    }
    number::parse(plain).ok().filter(|value| *value <= MOST).ok_or(NotATarget)
}

impl std::fmt::Display for TargetPh {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::dec;

    #[test]
    fn a_target_is_a_range_a_value_or_a_bound() {
        for (text, met, missed) in [
            ("4.5-5.0", "4.5", "4.49"),
            ("pH 4.5 \u{2013} 5", "5", "5.001"),
            ("PH 4.5 to 5.5", "5.5", "5.6"),
            ("pH 5.5 at most", "0", "5.51"),
            ("at least 4", "14", "3.99"),
            ("5.0", "5.04", "5.05"),
            ("5", "5.49", "5.5"),
        ] {
            let target = TargetPh::parse(text).unwrap();
            assert!(target.is_met_by(dec(met)), "{text}");
            assert!(!target.is_met_by(dec(missed)), "{text}");
            assert_eq!(target.text(), text);
        }
    }

    #[test]
    fn what_is_no_target_is_refused_with_the_notation() {
        for text in ["", "pH", "sour", "5.0-4.5", "15", "4-15", "-1", "1/2", "4 5", "1e2", "pH 4.5-5.0-6"] {
            assert!(TargetPh::parse(text).unwrap_err().to_string().contains("pH 4.5-5.0"), "{text}");
        }
    }
}
