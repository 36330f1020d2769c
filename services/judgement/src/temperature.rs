//! The temperature of a step: its notation, and the check of readings against it.

use galenics::{Decimal, Temperature};

/// Permitted deviation from a temperature without a qualifier, in degrees Celsius. Common practice, no source.
const PLAIN_WITHIN: Decimal = Decimal::from_parts(5, 0, 0, false, 0);

/// How a reading is compared with the number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    /// Between the number and this one, which is the higher.
    To(Decimal),
    About,
    AtMost,
    AtLeast,
}

/// The temperature that a step of the method specifies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepTemperature {
    degrees: Decimal,
    side: Side,
    /// The largest permitted difference between the phases, in degrees Celsius.
    apart: Option<Decimal>,
}

impl StepTemperature {
    /// Parses `70 C`, `60-70 C`, `70 C at most` or `40 C at least`, each optionally followed by `, phases within 5 C`.
    ///
    /// # Errors
    /// Returns a sentence for the user that shows the notation, if `text` is anything else.
    pub fn parse(text: &str) -> Result<Self, String> {
        let cure = || {
            format!(
                "{text:?} is not a step temperature. Enter 70 C, 158 F, 60-70 C, 70 C at most or 40 C at \
                 least. Add \", phases within 5 C\" if the phases are combined."
            )
        };
        let (main, apart) = match text.split_once(',') {
            None => (text.trim(), None),
            Some((main, rest)) => {
                let apart = rest.trim().strip_prefix("phases within").ok_or_else(cure)?;
                (main.trim(), Some(degrees(apart).ok_or_else(cure)?))
            }
        };
        if let Some((least, most)) = range(main) {
            return Ok(Self { degrees: least, side: Side::To(most), apart });
        }
        let (main, side) = if let Some(main) = main.strip_suffix("at most") {
            (main, Side::AtMost)
        } else if let Some(main) = main.strip_suffix("at least") {
            (main, Side::AtLeast)
        } else {
            (main, Side::About)
        };
        Ok(Self { degrees: degrees(main).ok_or_else(cure)?, side, apart })
    }

    /// The rule that a reading in degrees Celsius breaks, or `None` if it complies.
    #[must_use]
    pub fn broken_by(&self, reading: Decimal) -> Option<&'static str> {
        let broken = match self.side {
            Side::AtMost => reading > self.degrees,
            Side::AtLeast => reading < self.degrees,
            Side::To(most) => reading < self.degrees || reading > most,
            Side::About => (reading - self.degrees).abs() > PLAIN_WITHIN,
        };
        broken.then_some(match self.side {
            Side::AtMost => "the step's temperature is the maximum",
            Side::AtLeast => "the step's temperature is the minimum",
            Side::To(_) => "the step's temperature is a range, its ends included",
            Side::About => "within 5 C of the step's temperature (common practice, no source)",
        })
    }

    /// The two phase temperatures with the largest difference that the step permits, or `None` if it states none.
    #[must_use]
    pub fn phases(&self) -> Option<(Temperature, Temperature)> {
        let hottest = if let Side::To(most) = self.side { most } else { self.degrees };
        let other = hottest.checked_sub(self.apart?)?;
        Some((Temperature::celsius(hottest).ok()?, Temperature::celsius(other).ok()?))
    }

    /// Whether readings of the phases, in degrees Celsius, differ by more than the step permits.
    #[must_use]
    pub fn too_far_apart(&self, readings: &[Decimal]) -> bool {
        match (self.apart, readings.iter().max(), readings.iter().min()) {
            (Some(apart), Some(most), Some(least)) => most - least > apart,
            _ => false,
        }
    }
}

/// The ends of `60-70 C`, `60 to 70 C` or `60 C to 70 C`; a minus sign before the first number is no dash.
fn range(text: &str) -> Option<(Decimal, Decimal)> {
    let (least, most) =
        text.split_once(" to ").or_else(|| text.split_once('\u{2013}')).or_else(|| text.split_once('-'))?;
    let least = degrees(least).or_else(|| {
        let scale = most.trim().trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').trim();
        (!scale.is_empty()).then(|| degrees(&format!("{} {scale}", least.trim()))).flatten()
    });
    let (least, most) = (least?, degrees(most)?);
    (least <= most).then_some((least, most))
}

fn degrees(text: &str) -> Option<Decimal> {
    Temperature::parse(text.trim()).ok().map(Temperature::c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_is_compared_as_the_step_says() {
        let at_most = StepTemperature::parse("70 C at most").unwrap();
        assert!(at_most.broken_by(Decimal::from(70)).is_none());
        assert!(at_most.broken_by(Decimal::new(701, 1)).is_some());
        let at_least = StepTemperature::parse("40 C at least").unwrap();
        assert!(at_least.broken_by(Decimal::from(39)).is_some());
        let plain = StepTemperature::parse("70 C, phases within 5 C").unwrap();
        assert!(plain.broken_by(Decimal::from(75)).is_none());
        assert!(plain.broken_by(Decimal::new(751, 1)).is_some());
        assert!(plain.too_far_apart(&[Decimal::from(66), Decimal::from(72)]));
        assert!(!plain.too_far_apart(&[Decimal::from(68), Decimal::from(72)]));
    }

    #[test]
    fn a_range_includes_its_ends_and_is_read_in_either_scale() {
        for text in ["60-70 C", "60 \u{2013} 70 °C", "60 to 70 C", "60 C to 70 C", "140-158 F"] {
            let range = StepTemperature::parse(text).unwrap();
            for (reading, kept) in [("59.9", false), ("60", true), ("70", true), ("70.1", false)] {
                let reading: Decimal = reading.parse().unwrap();
                assert_eq!(range.broken_by(reading).is_none(), kept, "{text} {reading}");
            }
        }
        let joined = StepTemperature::parse("60-70 C, phases within 5 C").unwrap().phases().unwrap();
        assert_eq!((joined.0.c(), joined.1.c()), (Decimal::from(70), Decimal::from(65)));
    }

    #[test]
    fn another_notation_is_refused() {
        for wrong in [
            "hot",
            "70",
            "at most",
            "70 C, quickly",
            "70 C, phases within a bit",
            "",
            "NaN C",
            "70 C at most at least",
            "70-60 C",
            "60-70",
            "60-70 C at most",
        ] {
            assert!(StepTemperature::parse(wrong).is_err(), "{wrong}");
        }
    }
}
