//! What spirit and water make a wanted volume and strength.

use rust_decimal::Decimal;

use super::judge::{Asked, Expected};
use super::mistakes::{CommonError, told_apart};
use crate::{Fraction, Quantity, Volume, alcohol, number::significant};

/// A dilution of spirit with water, by volume at 20 °C.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dilution {
    /// The volume to make.
    pub wanted: Volume,
    /// The strength to make.
    pub strength: Fraction,
    /// The strength of the spirit.
    pub stock: Fraction,
}

/// Off by half a per cent at most: what a measuring cylinder shows.
const TOLERANCE: Decimal = Decimal::from_parts(5, 0, 0, false, 1);

/// Two answers that a tolerance of half a per cent tells apart differ by more than twice that.
const APART: Decimal = Decimal::from_parts(12, 0, 0, false, 3);

impl Dilution {
    /// The calculator's own figures: spirit and water, in mL.
    fn volumes(&self) -> Option<(Decimal, Decimal)> {
        let made = alcohol::dilute(&Quantity::of_volume(self.wanted), self.strength, self.stock).ok()?;
        Some((made.stock_volume.value()?, made.diluent_volume.value()?))
    }

    /// The spirit and the water, each with what common errors would give. `None` where the calculator refuses the
    /// numbers, or an error would hardly differ from the right answer.
    #[must_use]
    pub fn expected(&self) -> Option<(Expected, Expected)> {
        let (spirit, water) = self.volumes()?;
        let without_contraction = self.wanted.ml().checked_sub(spirit)?;
        let part = |value: Decimal, mistakes: Vec<_>| {
            let apart = !value.is_zero() && told_apart(value, &mistakes) && {
                let far = |wrong: Decimal| (wrong - value).abs() > value * APART;
                mistakes.iter().all(|(_, wrong)| far(*wrong))
            };
            let expected = Expected { asked: Asked::Volume, value, tolerance_percent: TOLERANCE, mistakes };
            apart.then_some(expected)
        };
        Some((
            part(spirit, vec![(CommonError::Swapped, water)])?,
            part(
                water,
                vec![(CommonError::VolumesAdded, without_contraction), (CommonError::Swapped, spirit)],
            )?,
        ))
    }

    /// The steps.
    #[must_use]
    pub fn steps(&self) -> Vec<String> {
        let Ok(made) = alcohol::dilute(&Quantity::of_volume(self.wanted), self.strength, self.stock) else {
            return Vec::new();
        };
        let percent = |share: Fraction| (share.get() * Decimal::ONE_HUNDRED).normalize();
        let figure = |figure: &crate::Figure| significant(figure.value().unwrap_or_default(), 4).normalize();
        vec![
            format!(
                "spirit: {} mL × {} % / {} % = {} mL",
                self.wanted.ml().normalize(),
                percent(self.strength),
                percent(self.stock),
                figure(&made.stock_volume)
            ),
            format!(
                "masses at 20 °C (OIML R 22): to make {} g, spirit {} g, so water {} g",
                figure(&made.mass),
                figure(&made.stock_mass),
                figure(&made.diluent_mass)
            ),
            format!(
                "water: {} mL, which is {} mL more than the volumes' difference, since the mixture contracts",
                figure(&made.diluent_volume),
                figure(&made.contraction)
            ),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::dec;
    use crate::questions::judge;

    #[test]
    fn a_litre_at_40_from_96_takes_more_water_than_the_volumes_difference() {
        let percent = |value| Fraction::percent(dec(value)).unwrap();
        let asked = Dilution {
            wanted: Volume::millilitres(dec("1000")).unwrap(),
            strength: percent("40"),
            stock: percent("96"),
        };
        // The figures of the calculator, which is held against the official tables (tests/reference).
        let (spirit, water) = asked.expected().unwrap();
        assert!(judge(&spirit, "416.7 mL").unwrap().right);
        assert!(judge(&water, "612.7 mL").unwrap().right);
        assert_eq!(judge(&water, "583.3 mL").unwrap().error, Some(CommonError::VolumesAdded));
        assert_eq!(judge(&spirit, "612.7 mL").unwrap().error, Some(CommonError::Swapped));
        assert_eq!(judge(&water, "416.7 mL").unwrap().error, Some(CommonError::Swapped));
        assert_eq!(judge(&water, "612 g").unwrap().error, Some(CommonError::MassForVolume));
        let in_ounces = judge(&spirit, "14.09 US fl oz").unwrap();
        assert!(in_ounces.right);
        assert_eq!(in_ounces.read_as.as_deref(), Some("Read as 416.7 mL."));
    }

    #[test]
    fn what_the_calculator_refuses_is_not_asked() {
        let percent = |value| Fraction::percent(dec(value)).unwrap();
        let asked = Dilution {
            wanted: Volume::millilitres(dec("300")).unwrap(),
            strength: percent("96"),
            stock: percent("45"),
        };
        assert!(asked.expected().is_none());
        assert!(asked.steps().is_empty());
    }
}
