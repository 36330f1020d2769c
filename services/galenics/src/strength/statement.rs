//! A strength as people state it, and the same in the other ways.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Basis, Density, Figure, Input, Refusal, Rule, Sourced, Text,
    number::{self, HUNDRED, dec},
    units,
};

static PERCENT: Rule = Rule::definition("strength_percent", "{stated} as a percentage: {=}");
static RATIO: Rule = Rule::definition("strength_ratio", "{stated} as a ratio: one in {=}");
static PPM: Rule = Rule::definition("strength_ppm", "{stated} in parts per million: {=}");
static MG_PER_ML: Rule = Rule::definition("strength_mg_per_ml", "{stated}: {=}");
static BY_DENSITY: Rule = Rule::definition("strength_by_density", "{stated} at {density}: {=}");

const MILLION: Decimal = dec("1000000");

/// A strength as stated: a share with its basis.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strength {
    text: Text,
    fraction: Decimal,
    basis: Basis,
}

/// A strength in every way in which it can be stated.
#[derive(Debug, Clone, Serialize)]
pub struct Statement {
    /// On what basis.
    pub basis: Basis,
    /// In the hundred.
    pub percent: Figure,
    /// One in so many.
    pub one_in: Figure,
    /// Parts in a million.
    pub ppm: Figure,
    /// mg in a mL, where it is mass in volume.
    pub mg_per_ml: Option<Figure>,
    /// The same by mass, or from mass in mass the same in volume, where a density is given.
    pub on_other_basis: Option<Figure>,
}

impl Strength {
    /// Reads `0.5 %`, `2 % w/v`, `1:200`, `1:1000 w/v`, `50 ppm`, `5 mg/mL`, `0.1 mg/g`.
    ///
    /// # Errors
    /// Says what is wrong and what would be accepted; a share of like in like ends at the whole.
    ///
    /// ```
    /// use galenics::strength::Strength;
    /// assert_eq!(Strength::parse("1:200")?.fraction().to_string(), "0.005");
    /// # Ok::<(), galenics::Refusal>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, Refusal> {
        let typed = text.trim();
        let refuse = |says: String| Refusal::out_of_range("strength", says);
        if typed.len() > 60 {
            return Err(refuse(
                "The strength is too long. Write one such as 0.5 %, 1:200, 50 ppm or 5 mg/mL.".into(),
            ));
        }
        let scaled = |suffix: &str, by: Decimal, basis| -> Option<Result<(Decimal, Basis), Refusal>> {
            let number = typed.strip_suffix(suffix)?;
            Some(
                number::parse(number)
                    .map_err(|error| refuse(error.to_string()))
                    .map(|value| (value / by, basis)),
            )
        };
        let read = scaled("ppm", MILLION, Basis::Unstated)
            .or_else(|| scaled("mg/mL", Decimal::ONE_THOUSAND, Basis::MassInVolume))
            .or_else(|| scaled("mg/g", Decimal::ONE_THOUSAND, Basis::MassInMass));
        let (fraction, basis) = match read {
            Some(read) => read?,
            None => {
                let amount = crate::Amount::parse(typed).map_err(|error| refuse(error.to_string()))?;
                match amount.kind() {
                    crate::AmountKind::Percent { fraction, basis } => (*fraction, *basis),
                    crate::AmountKind::Ratio { part, whole, basis } => {
                        (part.checked_div(*whole).ok_or(Refusal::too_large("strength"))?, *basis)
                    }
                    _ => {
                        return Err(refuse(format!(
                            "\"{typed}\" is an amount, not a strength. Write 0.5 %, 1:200, 50 ppm or 5 mg/mL."
                        )));
                    }
                }
            }
        };
        if fraction.is_zero() || (fraction > Decimal::ONE && basis != Basis::MassInVolume) {
            return Err(refuse("The strength must be above 0 and at most 100 %.".into()));
        }
        Ok(Self { text: typed.to_owned().into(), fraction, basis })
    }

    /// The share: of one, or g in one mL where it is mass in volume.
    #[must_use]
    pub const fn fraction(&self) -> Decimal {
        self.fraction
    }

    /// The basis.
    #[must_use]
    pub const fn basis(&self) -> Basis {
        self.basis
    }

    /// The text as typed.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The same strength in every way in which it can be stated; with a density of the whole also mass in mass
    /// for mass in volume and the other way round.
    #[must_use]
    pub fn stated(&self, density: Option<&Sourced<Density>>) -> Statement {
        let inputs = || vec![Input::words("stated", self.text.clone())];
        let times = |by: Decimal| self.fraction.checked_mul(by).unwrap_or(self.fraction);
        let unit = match self.basis {
            Basis::MassInVolume => "% w/v",
            Basis::VolumeInVolume => "% v/v",
            Basis::MassInMass => "% w/w",
            Basis::Unstated => "%",
        };
        let other = density.and_then(|density| {
            let value = density.value.g_per_ml();
            let (converted, unit) = match self.basis {
                Basis::MassInVolume => (self.fraction.checked_div(value)?, units::SHARE_OF_MASS),
                Basis::MassInMass | Basis::Unstated => {
                    (self.fraction.checked_mul(value)?, units::GRAM_PER_ML)
                }
                Basis::VolumeInVolume => return None,
            };
            let mut inputs = inputs();
            inputs.push(Input::constant("density", value, units::GRAM_PER_ML, density.source.clone()));
            Some(Figure::number(converted, unit, &BY_DENSITY, inputs))
        });
        let mg_per_ml = (self.basis == Basis::MassInVolume).then(|| {
            Figure::number(times(Decimal::ONE_THOUSAND), units::MILLIGRAM_PER_ML, &MG_PER_ML, inputs())
        });
        let one_in = Decimal::ONE.checked_div(self.fraction).unwrap_or(Decimal::MAX);
        Statement {
            basis: self.basis,
            percent: Figure::number(times(HUNDRED), unit, &PERCENT, inputs()),
            one_in: Figure::number(one_in, units::RATIO, &RATIO, inputs()),
            ppm: Figure::number(times(MILLION), "ppm", &PPM, inputs()),
            mg_per_ml,
            on_other_basis: other,
        }
    }
}
