//! The temperature of a step, as the trade writes it.

use galenics::{Decimal, Temperature};

/// How far from a plain temperature a reading may be, in degrees Celsius. Common practice, no source.
const PLAIN_WITHIN: Decimal = Decimal::from_parts(5, 0, 0, false, 0);

/// On which side of the number a reading has to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    About,
    AtMost,
    AtLeast,
}

/// What a step asks of the temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepTemperature {
    degrees: Decimal,
    side: Side,
    /// How far apart the phases may be.
    apart: Option<Decimal>,
}

impl StepTemperature {
    /// Reads `70 C`, `70 C at most`, `40 C at least`, each with `, phases within 5 C` behind it.
    ///
    /// # Errors
    /// The cure, in words.
    pub fn parse(text: &str) -> Result<Self, String> {
        let cure = || {
            format!(
                "{text:?} is not a temperature of a step: write 70 C, 70 C at most, or 40 C at least, and behind it, if wanted, \", phases within 5 C\""
            )
        };
        let (main, apart) = match text.split_once(',') {
            None => (text.trim(), None),
            Some((main, rest)) => {
                let apart = rest.trim().strip_prefix("phases within").ok_or_else(cure)?;
                (main.trim(), Some(degrees(apart).ok_or_else(cure)?))
            }
        };
        let (main, side) = if let Some(main) = main.strip_suffix("at most") {
            (main, Side::AtMost)
        } else if let Some(main) = main.strip_suffix("at least") {
            (main, Side::AtLeast)
        } else {
            (main, Side::About)
        };
        Ok(Self { degrees: degrees(main).ok_or_else(cure)?, side, apart })
    }

    /// Whether a reading is as asked; else the rule that it breaks.
    pub fn broken_by(&self, reading: Decimal) -> Option<&'static str> {
        let broken = match self.side {
            Side::AtMost => reading > self.degrees,
            Side::AtLeast => reading < self.degrees,
            Side::About => (reading - self.degrees).abs() > PLAIN_WITHIN,
        };
        broken.then_some(match self.side {
            Side::AtMost => "the step's temperature is the most there may be",
            Side::AtLeast => "the step's temperature is the least there may be",
            Side::About => "within 5 C of the step's temperature (common practice, no source)",
        })
    }

    /// The temperatures of two phases as far apart as the step lets them be, where it says how far.
    pub fn phases(&self) -> Option<(Temperature, Temperature)> {
        let other = self.degrees.checked_sub(self.apart?)?;
        Some((Temperature::celsius(self.degrees).ok()?, Temperature::celsius(other).ok()?))
    }

    /// Whether readings of the phases are too far apart.
    pub fn too_far_apart(&self, readings: &[Decimal]) -> bool {
        match (self.apart, readings.iter().max(), readings.iter().min()) {
            (Some(apart), Some(most), Some(least)) => most - least > apart,
            _ => false,
        }
    }
}

fn degrees(text: &str) -> Option<Decimal> {
    Temperature::parse(text.trim()).ok().map(Temperature::c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_say_about_at_most_or_at_least() {
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
    fn anything_else_is_told_how_to_write_it() {
        for wrong in [
            "hot",
            "70",
            "at most",
            "70 C, quickly",
            "70 C, phases within a bit",
            "",
            "NaN C",
            "70 C at most at least",
        ] {
            assert!(StepTemperature::parse(wrong).is_err(), "{wrong}");
        }
    }
}
