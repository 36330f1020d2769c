//! The mass of each line, by itself or as a part of the whole.

use rust_decimal::Decimal;

use super::super::{
    sums::Sums,
    weigh::{Charge, Weighed, density, not_fixed, weigh, weighed_by_mass},
};
use super::plan::{Plan, Whole, by_mass, share_of};
use crate::{
    AmountKind, Basis, Figure, Formula, FormulaProblem, Input, Location, ProblemKind, Rule, Unknown,
    number::divide, units,
};

static FROM_SHARE: Rule = Rule::definition("mass_from_share", "{share} of {whole}: {=}");
static FROM_SHARE_OF_VOLUME: Rule = Rule::definition("mass_from_share_of_volume", "{share} in {whole}: {=}");
static FROM_PARTS: Rule = Rule::definition("mass_from_parts", "{parts} of {all parts} parts in {whole}: {=}");
static FROM_VOLUME_PARTS: Rule =
    Rule::definition("mass_by_volume_parts", "{parts} by volume, {each} each, at {density}: {=}");
static MAKE_UP: Rule =
    Rule::definition("make_up_to_mass", "made up to {whole}, less {others} for the other lines: {=}");
static MAKE_UP_VOLUME: Rule = Rule::definition(
    "make_up_to_volume",
    "made up to {whole} after contraction of ethanol and water: {volume} at {density}, {=}",
);

impl Plan {
    /// The mass of a line that does not depend on the other lines; `Some(None)` for one that does.
    pub(super) fn absolute(&self, formula: &Formula, charge: &Charge<'_>) -> Option<Option<Weighed>> {
        let amount = &charge.of.amount;
        match amount.kind() {
            AmountKind::Quantity(quantity) => weigh(charge, quantity).map(Some),
            AmountKind::Ratio { .. } if charge.herb_ratio().is_some() => Some(None),
            kind @ (AmountKind::Percent { .. } | AmountKind::Ratio { .. }) => {
                let (share, basis) = share_of(kind)?;
                if by_mass(basis) {
                    return Some(None);
                }
                let written = Input::words("share", amount.typed());
                let Some(whole) = self.volume else {
                    let unknown = Unknown::of(format!("final volume of {}", formula.title));
                    let mass =
                        Figure::unknown_for(unknown, units::GRAM, &FROM_SHARE_OF_VOLUME, vec![written]);
                    return Some(Some(Weighed { mass, volume: None }));
                };
                let part = whole.checked_mul(share)?;
                let mut inputs = vec![written, Input::number("whole", whole, units::MILLILITRE)];
                if basis == Basis::MassInVolume {
                    let mass = Figure::number(part, units::GRAM, &FROM_SHARE_OF_VOLUME, inputs);
                    let volume = match charge.filling() {
                        Ok(density) => Some(divide(part, density)?),
                        Err(_) => None,
                    };
                    return Some(Some(Weighed { mass, volume }));
                }
                let mass = match density(charge.of, charge.nested) {
                    Ok((density, source)) => {
                        inputs.push(Input::constant("density", density, units::GRAM_PER_ML, source));
                        Ok(part.checked_mul(density)?)
                    }
                    Err(unknown) => Err(unknown),
                };
                let mass = Figure::from_result(mass, units::GRAM, &FROM_SHARE_OF_VOLUME, inputs);
                Some(Some(Weighed { mass, volume: Some(part) }))
            }
            AmountKind::VolumeParts(number) => self.by_volume_parts(charge, *number).map(Some),
            AmountKind::ToPh(_) => Some(Some(not_fixed(charge))),
            AmountKind::Parts(_)
            | AmountKind::HerbRatio(_)
            | AmountKind::MakeUpTo(_)
            | AmountKind::MakeUp => Some(None),
        }
    }

    fn by_volume_parts(&self, charge: &Charge<'_>, number: Decimal) -> Option<Weighed> {
        let volume = self.volume_part.checked_mul(number)?;
        let mut inputs = vec![
            Input::words("parts", charge.of.amount.typed()),
            Input::number("each", self.volume_part, units::MILLILITRE),
        ];
        let mass = match density(charge.of, charge.nested) {
            Ok((density, source)) => {
                inputs.push(Input::constant("density", density, units::GRAM_PER_ML, source));
                Ok(volume.checked_mul(density)?)
            }
            Err(unknown) => Err(unknown),
        };
        let mass = Figure::from_result(mass, units::GRAM, &FROM_VOLUME_PARTS, inputs);
        Some(Weighed { mass, volume: Some(volume) })
    }

    /// The mass of a line that depends on the whole.
    pub(super) fn relative(
        &self,
        charge: &Charge<'_>,
        whole: &Result<Decimal, Unknown>,
        sums: &Sums,
        charges: &[Charge<'_>],
    ) -> Result<Option<Weighed>, Vec<FormulaProblem>> {
        let amount = &charge.of.amount;
        let whole_known = match whole {
            Ok(whole) => *whole,
            Err(unknown) => {
                let inputs = vec![Input::words("share", amount.typed())];
                let mass = Figure::unknown_for(unknown.clone(), units::GRAM, &FROM_SHARE, inputs);
                return Ok(Some(Weighed { mass, volume: None }));
            }
        };
        match amount.kind() {
            AmountKind::MakeUpTo(_) | AmountKind::MakeUp => self.make_up(charge, whole_known, sums, charges),
            AmountKind::Parts(number) => Ok((|| {
                let all = whole_known.checked_mul(Decimal::ONE.checked_sub(self.shares)?)?;
                let mass = divide(all.checked_mul(*number)?, self.parts)?;
                let inputs = vec![
                    Input::words("parts", amount.typed()),
                    Input::number("all parts", self.parts, units::RATIO),
                    Input::number("whole", all, units::GRAM),
                ];
                weighed_by_mass(charge, mass, &FROM_PARTS, inputs)
            })()),
            kind => Ok((|| {
                let (share, basis) = share_of(kind)?;
                let mass = whole_known.checked_mul(share)?;
                let taken =
                    if basis == Basis::Unstated { "w/w, since no basis is stated" } else { basis.as_str() };
                let inputs = vec![
                    Input::words("share", amount.typed()),
                    Input::words("basis", taken),
                    Input::number("whole", whole_known, units::GRAM),
                ];
                weighed_by_mass(charge, mass, &FROM_SHARE, inputs)
            })()),
        }
    }

    fn make_up(
        &self,
        charge: &Charge<'_>,
        whole: Decimal,
        sums: &Sums,
        charges: &[Charge<'_>],
    ) -> Result<Option<Weighed>, Vec<FormulaProblem>> {
        let at = Location::line(charge.phase, charge.line, "amount");
        let mut shares = Decimal::ZERO;
        for other in charges.iter().filter(|other| other.stays) {
            if let Some((share, _)) = share_of(other.of.amount.kind()).filter(|(_, basis)| by_mass(*basis)) {
                shares = shares.saturating_add(share);
            }
        }
        let there = match &sums.kept {
            Ok(kept) => kept.saturating_add(whole.saturating_mul(shares)),
            Err(unknown) => {
                let inputs = vec![Input::number("whole", whole, units::GRAM)];
                let mass = Figure::unknown_for(unknown.clone(), units::GRAM, &MAKE_UP, inputs);
                return Ok(Some(Weighed { mass, volume: None }));
            }
        };
        let mass = whole.saturating_sub(there);
        if mass < Decimal::ZERO {
            let kind = match (self.whole, &sums.kept_volume) {
                (Whole::Volume(target), Ok(there)) => {
                    ProblemKind::MakeUpBelow { target, there: there.normalize(), unit: units::MILLILITRE }
                }
                _ => ProblemKind::MakeUpBelow { target: whole, there: there.normalize(), unit: units::GRAM },
            };
            return Err(vec![FormulaProblem { at, kind }]);
        }
        let Whole::Volume(volume) = self.whole else {
            let inputs =
                vec![Input::number("whole", whole, units::GRAM), Input::number("others", there, units::GRAM)];
            return Ok(weighed_by_mass(charge, mass, &MAKE_UP, inputs));
        };
        Ok((|| {
            let (density, source) = density(charge.of, charge.nested).ok()?;
            let filled = divide(mass, density)?;
            let inputs = vec![
                Input::number("whole", volume, units::MILLILITRE),
                Input::number("volume", filled, units::MILLILITRE),
                Input::constant("density", density, units::GRAM_PER_ML, source),
            ];
            let mass = Figure::number(mass, units::GRAM, &MAKE_UP_VOLUME, inputs);
            Some(Weighed { mass, volume: Some(filled) })
        })())
    }
}
