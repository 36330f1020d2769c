//! A first look at all amounts: what the whole is, which shares there are, and whether they go together.

use rust_decimal::Decimal;

use super::super::{
    herb_ratio,
    weigh::{Charge, g_per_ml},
};
use crate::{
    AmountKind, Basis, Formula, FormulaProblem, Location, Measure, ProblemKind, Quantity, Text,
    number::{HUNDRED, divide},
};

/// What the whole preparation is made up to.
#[derive(Clone, Copy)]
pub(super) enum Whole {
    Mass(Decimal),
    Volume(Decimal),
    /// It is what the lines come to.
    Lines,
}

/// What a first look at all amounts shows.
pub(super) struct Plan {
    pub(super) whole: Whole,
    pub(super) make_up: Option<usize>,
    pub(super) parts: Decimal,
    pub(super) quantities: bool,
    /// The volume of what is made, for shares by volume.
    pub(super) volume: Option<Decimal>,
    /// The sum of the shares by mass.
    pub(super) shares: Decimal,
    /// What one part by volume is, in mL.
    pub(super) volume_part: Decimal,
}

/// A share by mass with its basis, of an amount that is one.
pub(super) fn share_of(kind: &AmountKind) -> Option<(Decimal, Basis)> {
    match kind {
        AmountKind::Percent { fraction, basis } => Some((*fraction, *basis)),
        AmountKind::Ratio { part, whole, basis } => Some((divide(*part, *whole)?, *basis)),
        AmountKind::Quantity(_)
        | AmountKind::Parts(_)
        | AmountKind::VolumeParts(_)
        | AmountKind::HerbRatio(_)
        | AmountKind::ToPh(_)
        | AmountKind::MakeUpTo(_)
        | AmountKind::MakeUp => None,
    }
}

pub(super) const fn by_mass(basis: Basis) -> bool {
    matches!(basis, Basis::MassInMass | Basis::Unstated)
}

pub(super) fn base(quantity: &Quantity) -> Whole {
    match quantity.measure() {
        Measure::Mass(mass) => Whole::Mass(mass.g()),
        Measure::Volume(volume) => Whole::Volume(volume.ml()),
        Measure::Drops { .. } => Whole::Lines,
    }
}

impl Plan {
    pub(super) fn read(formula: &Formula, charges: &[Charge<'_>]) -> Result<Self, Vec<FormulaProblem>> {
        let mut problems = Vec::new();
        let (mut make_up, mut parts, mut shares, mut by_volume) =
            (None, Decimal::ZERO, Decimal::ZERO, Decimal::ZERO);
        let (mut quantities, mut any_parts, mut any_by_volume, mut first_parts) = (false, false, false, None);
        let (mut volume_parts, mut first_volume_parts, mut first_ratio) = (Decimal::ZERO, None, None);
        for (at, charge) in charges.iter().enumerate() {
            let place = Location::line(charge.phase, charge.line, "amount");
            let mut problem = |kind| problems.push(FormulaProblem { at: place, kind });
            match charge.of.amount.kind() {
                AmountKind::Quantity(_) => quantities = true,
                AmountKind::Parts(number) => {
                    any_parts = true;
                    first_parts = first_parts.or(Some(place));
                    parts = parts.saturating_add(*number);
                }
                AmountKind::MakeUpTo(_) | AmountKind::MakeUp => match make_up {
                    Some(first) => problem(ProblemKind::SecondMakeUp(name_at(charges, first))),
                    None => make_up = Some(at),
                },
                AmountKind::VolumeParts(number) => {
                    first_volume_parts = first_volume_parts.or(Some(place));
                    volume_parts = volume_parts.saturating_add(*number);
                }
                AmountKind::ToPh(_) => {}
                kind @ (AmountKind::Ratio { .. } | AmountKind::HerbRatio(_))
                    if let Some(ratio) = kind.herb_ratio(charge.is_drawn_out()) =>
                {
                    first_ratio = first_ratio.or(Some(place));
                    if let Some(wrong) = herb_ratio::problem(charge, &ratio) {
                        problem(wrong);
                    }
                }
                AmountKind::HerbRatio(_) => {}
                kind @ (AmountKind::Percent { .. } | AmountKind::Ratio { .. }) => {
                    let (share, basis) = share_of(kind).unwrap_or((Decimal::ZERO, Basis::Unstated));
                    let sum = if by_mass(basis) { &mut shares } else { &mut by_volume };
                    any_by_volume |= !by_mass(basis);
                    let before = *sum;
                    *sum = before.saturating_add(share);
                    if basis != Basis::MassInVolume && before <= Decimal::ONE && *sum > Decimal::ONE {
                        let percent = sum.saturating_mul(HUNDRED).normalize();
                        problem(ProblemKind::PastHundred(percent));
                    }
                }
            }
        }
        if let Some(place) = first_parts.filter(|_| quantities || make_up.is_some()) {
            problems.push(FormulaProblem { at: place, kind: ProblemKind::PartsMixed });
        }
        let beside_volume_parts =
            quantities || make_up.is_some() || any_parts || !shares.is_zero() || any_by_volume;
        if let Some(place) = first_volume_parts.filter(|_| beside_volume_parts) {
            problems.push(FormulaProblem { at: place, kind: ProblemKind::VolumePartsMixed });
        }
        if let Some(place) = first_ratio.filter(|_| quantities && !shares.is_zero() && make_up.is_none()) {
            problems.push(FormulaProblem { at: place, kind: ProblemKind::RatioBesideShares });
        }
        let stated = formula.yields.as_ref().map_or(Whole::Lines, |yields| base(yields.quantity()));
        let whole = match make_up.and_then(|at| charges.get(at)) {
            None => Whole::Lines,
            Some(charge) => match (charge.of.amount.kind(), stated) {
                (AmountKind::MakeUpTo(quantity), _) => base(quantity),
                (_, Whole::Mass(_) | Whole::Volume(_)) => stated,
                (_, Whole::Lines) if quantities => {
                    let at = Location::line(charge.phase, charge.line, "amount");
                    problems.push(FormulaProblem { at, kind: ProblemKind::MakeUpToWhat });
                    Whole::Lines
                }
                // Only shares: what they come to per hundred is as good as any other amount.
                (_, Whole::Lines) if any_by_volume => Whole::Volume(HUNDRED),
                (_, Whole::Lines) => Whole::Mass(HUNDRED),
            },
        };
        let measured = formula.density.as_ref().map(|density| density.value.g_per_ml());
        let volume = match (whole, stated, measured) {
            (Whole::Volume(volume), ..) | (_, Whole::Volume(volume), _) => Some(volume),
            (Whole::Mass(mass), _, Some(density)) | (_, Whole::Mass(mass), Some(density)) => {
                divide(mass, density)
            }
            _ if !quantities && !any_parts && shares.is_zero() && by_volume == Decimal::ONE => Some(HUNDRED),
            _ => None,
        };
        // With a measured density there is no need to take volumes as additive.
        let whole = match (whole, measured) {
            (Whole::Volume(volume), Some(density)) => volume.checked_mul(density).map_or(whole, Whole::Mass),
            _ => whole,
        };
        if problems.is_empty() {
            let quantities = quantities || any_by_volume || first_volume_parts.is_some();
            let volume_part = volume_part(charges, volume_parts, stated);
            Ok(Self { whole, make_up, parts, quantities, volume, shares, volume_part })
        } else {
            Err(problems)
        }
    }
}

/// What one part by volume is: so much of the stated yield, or else 1 mL. Masses that a yield by mass would need are
/// taken where every density is known.
fn volume_part(charges: &[Charge<'_>], parts: Decimal, stated: Whole) -> Decimal {
    let strained = charges.iter().any(|charge| !charge.stays);
    let part = match stated {
        Whole::Volume(volume) if !strained => divide(volume, parts),
        Whole::Mass(mass) if !strained => {
            let mass_of = |charge: &Charge<'_>| match charge.of.amount.kind() {
                AmountKind::VolumeParts(number) => {
                    number.checked_mul(g_per_ml(charge.of, charge.nested).ok()?)
                }
                _ => Some(Decimal::ZERO),
            };
            let of_one_each = charges.iter().map(mass_of).sum::<Option<Decimal>>();
            of_one_each.and_then(|of_one_each| divide(mass, of_one_each))
        }
        _ => None,
    };
    part.unwrap_or(Decimal::ONE)
}

fn name_at(charges: &[Charge<'_>], at: usize) -> Text {
    charges.get(at).map_or(Text::fixed("another line"), |charge| charge.of.ingredient.name().clone())
}
