//! How much of one ingredient fills the learner's jars or bottles.

use rust_decimal::Decimal;

use super::judge::{Asked, Expected};
use super::mistakes::{CommonError, Mistake, told_apart};
use crate::{Density, Fraction, Mass, Volume, number::significant};

/// Jars that are filled by mass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Jars {
    /// How many.
    pub jars: u32,
    /// What a full jar weighs.
    pub full: Mass,
    /// What an empty jar weighs.
    pub empty: Mass,
    /// What stays in the pot, as a share of what is made.
    pub loss: Fraction,
    /// The share of the ingredient by mass.
    pub share: Fraction,
}

/// Bottles that are filled by volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bottles {
    /// How many.
    pub bottles: u32,
    /// What one holds.
    pub fill: Volume,
    /// The density of what is made.
    pub density: Density,
    /// What stays in the pot, as a share of what is made.
    pub loss: Fraction,
    /// The share of the ingredient by mass.
    pub share: Fraction,
}

/// Off by a quarter of a per cent at most, so that four digits are right and no common error is.
const TOLERANCE: Decimal = Decimal::from_parts(25, 0, 0, false, 2);

fn over(above: Decimal, below: Decimal) -> Option<Decimal> {
    above.checked_div(below)
}

fn percent(share: Fraction) -> Decimal {
    (share.get() * Decimal::ONE_HUNDRED).normalize()
}

fn shown(value: Decimal) -> Decimal {
    significant(value, 4).normalize()
}

fn expected(right: Decimal, mistakes: Vec<Mistake>) -> Option<Expected> {
    let apart = !right.is_zero() && told_apart(right, &mistakes);
    apart.then_some(Expected { asked: Asked::Mass, value: right, tolerance_percent: TOLERANCE, mistakes })
}

impl Jars {
    /// The grams of the ingredient, and what common errors would give. `None` where an error would hardly differ from the
    /// right answer, or a full jar weighs no more than an empty one.
    #[must_use]
    pub fn expected(&self) -> Option<Expected> {
        let count = Decimal::from(self.jars);
        let net = self.full.g().checked_sub(self.empty.g()).filter(|net| *net > Decimal::ZERO)?;
        let (loss, share) = (self.loss.get(), self.share.get());
        let of = |contents: Decimal| over(contents.checked_mul(share)?, Decimal::ONE - loss);
        let right = of(count * net)?;
        let mistakes = vec![
            (CommonError::LossAsMarkup, count * net * (Decimal::ONE + loss) * share),
            (CommonError::LossForgotten, count * net * share),
            (CommonError::OneForgotten, of((count - Decimal::ONE) * net)?),
            (CommonError::OneOnly, of(net)?),
            (CommonError::TareCounted, of(count * self.full.g())?),
            (CommonError::TareCounted, of(count * self.empty.g())?),
        ];
        expected(right, mistakes)
    }

    /// The steps.
    #[must_use]
    pub fn steps(&self) -> Vec<String> {
        let net = self.full.g() - self.empty.g();
        let contents = Decimal::from(self.jars) * net;
        let made = over(contents, Decimal::ONE - self.loss.get()).unwrap_or_default();
        vec![
            format!("contents of one jar: {} g - {} g = {} g", self.full.g(), self.empty.g(), net),
            format!("contents of all jars: {} × {net} g = {contents} g", self.jars),
            made_step(contents, "g", self.loss, made),
            share_step(made, self.share),
        ]
    }
}

fn made_step(contents: Decimal, unit: &str, loss: Fraction, made: Decimal) -> String {
    format!(
        "to make, with {} % that stays in the pot: {contents} {unit} / (1 - {}) = {} {unit}",
        percent(loss),
        loss.get().normalize(),
        shown(made)
    )
}

fn share_step(made: Decimal, share: Fraction) -> String {
    format!(
        "of it {} %: {} g × {} = {} g",
        percent(share),
        shown(made),
        share.get().normalize(),
        shown(made * share.get())
    )
}

impl Bottles {
    /// As [`Jars::expected`].
    #[must_use]
    pub fn expected(&self) -> Option<Expected> {
        let (count, fill, rho) = (Decimal::from(self.bottles), self.fill.ml(), self.density.g_per_ml());
        let (loss, share) = (self.loss.get(), self.share.get());
        let of = |volume: Decimal| over(volume.checked_mul(rho)?.checked_mul(share)?, Decimal::ONE - loss);
        let right = of(count * fill)?;
        let mistakes = vec![
            (CommonError::WeightInVolume, over(count * fill * share, Decimal::ONE - loss)?),
            (CommonError::LossAsMarkup, count * fill * rho * (Decimal::ONE + loss) * share),
            (CommonError::LossForgotten, count * fill * rho * share),
            (CommonError::OneForgotten, of((count - Decimal::ONE) * fill)?),
            (CommonError::OneOnly, of(fill)?),
        ];
        expected(right, mistakes)
    }

    /// The steps.
    #[must_use]
    pub fn steps(&self) -> Vec<String> {
        let contents = Decimal::from(self.bottles) * self.fill.ml();
        let made = over(contents, Decimal::ONE - self.loss.get()).unwrap_or_default();
        let rho = self.density.g_per_ml();
        vec![
            format!("contents of all bottles: {} × {} mL = {contents} mL", self.bottles, self.fill.ml()),
            made_step(contents, "mL", self.loss, made),
            format!("its mass: {} mL × {rho} g/mL = {} g", shown(made), shown(made * rho)),
            share_step(made * rho, self.share),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::dec;
    use crate::{Temperature, questions::judge};

    fn jars() -> Jars {
        Jars {
            jars: 12,
            full: Mass::grams(dec("127")).unwrap(),
            empty: Mass::grams(dec("82")).unwrap(),
            loss: Fraction::percent(dec("10")).unwrap(),
            share: Fraction::percent(dec("8.5")).unwrap(),
        }
    }

    #[test]
    fn twelve_jars_of_45_g_with_a_tenth_left_in_the_pot_take_51_g_at_eight_and_a_half_per_cent() {
        // 12 × 45 = 540; 540 / 0.9 = 600; 600 × 0.085 = 51. By hand.
        let expected = jars().expected().unwrap();
        assert_eq!(expected.value, dec("51"));
        let found = |text: &str| judge(&expected, text).unwrap();
        assert!(found("51 g").right);
        assert_eq!(found("50.49 g").error, Some(CommonError::LossAsMarkup)); // 540 × 1.1 × 0.085
        assert_eq!(found("45.9 g").error, Some(CommonError::LossForgotten)); // 540 × 0.085
        assert_eq!(found("46.75 g").error, Some(CommonError::OneForgotten)); // 495 / 0.9 × 0.085
        assert_eq!(found("4.25 g").error, Some(CommonError::OneOnly)); // 45 / 0.9 × 0.085
        assert_eq!(found("143.93 g").error, Some(CommonError::TareCounted)); // 1524 / 0.9 × 0.085
        assert_eq!(found("510 g").error, Some(CommonError::DecimalPoint));
        assert_eq!(found("0.25 cups").error, Some(CommonError::VolumeForMass));
        assert_eq!(found("49 g").error, None);
        assert_eq!(jars().steps().last().unwrap(), "of it 8.5 %: 600 g × 0.085 = 51 g");
    }

    #[test]
    fn a_share_by_mass_of_a_light_liquid_is_not_grams_in_100_ml() {
        let bottles = Bottles {
            bottles: 6,
            fill: Volume::millilitres(dec("50")).unwrap(),
            density: Density::new(dec("0.92"), Temperature::TWENTY).unwrap(),
            loss: Fraction::percent(dec("20")).unwrap(),
            share: Fraction::percent(dec("4")).unwrap(),
        };
        // 300 / 0.8 = 375 mL; × 0.92 = 345 g; × 0.04 = 13.8 g. By hand.
        let expected = bottles.expected().unwrap();
        assert_eq!(expected.value, dec("13.8"));
        assert_eq!(judge(&expected, "15 g").unwrap().error, Some(CommonError::WeightInVolume));
    }

    #[test]
    fn numbers_with_which_an_error_would_hardly_show_are_not_asked() {
        let little = Jars { loss: Fraction::percent(dec("2")).unwrap(), ..jars() };
        assert!(little.expected().is_none(), "1.02 and 1 / 0.98 differ by four in ten thousand");
        let upside_down = Jars { empty: jars().full, ..jars() };
        assert!(upside_down.expected().is_none());
    }
}
