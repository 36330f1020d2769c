//! From amounts as written to grams: quantities through their units and densities, shares through the
//! whole, q.s. as what is left.

use rust_decimal::Decimal;

use crate::{
    AmountKind, Basis, Figure, Formula, FormulaProblem, Input, Location, Measure, ProblemKind, Quantity,
    Rule, Text, Unknown,
    number::{HUNDRED, dec, divide},
    units,
};

use super::contraction::Liquor;
use super::sums::Sums;
use super::{
    herb_ratio,
    weigh::{Charge, Weighed, density, g_per_ml, not_fixed, weigh, weighed_by_mass},
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

/// How often the contraction is put in again at most; a dozen turns are usual.
const MOST_TURNS: u32 = 100;
/// How close two turns must come, as a share: as many digits as the density formula gives.
const CLOSE: Decimal = dec("0.00000000001");

/// What the whole preparation is made up to.
#[derive(Clone, Copy)]
enum Whole {
    Mass(Decimal),
    Volume(Decimal),
    /// It is what the lines come to.
    Lines,
}

/// What a q.s. line makes the whole up to.
#[derive(Clone, Copy)]
pub(super) struct MadeUpTo {
    /// In g.
    pub(super) mass: Option<Decimal>,
    /// In mL.
    pub(super) volume: Option<Decimal>,
}

/// What a first look at all amounts shows.
struct Plan {
    whole: Whole,
    make_up: Option<usize>,
    parts: Decimal,
    quantities: bool,
    /// The volume of what is made, for shares by volume.
    volume: Option<Decimal>,
    /// The sum of the shares by mass.
    shares: Decimal,
    /// What one part by volume is, in mL.
    volume_part: Decimal,
}

/// The mass of every line, and what a q.s. line makes up to: it is known even where a line is not.
pub(super) fn resolve(
    formula: &Formula,
    charges: &[Charge<'_>],
) -> Result<(Vec<Weighed>, MadeUpTo), Vec<FormulaProblem>> {
    let plan = Plan::read(formula, charges)?;
    let out_of_range =
        || vec![FormulaProblem { at: Location::formula("phases"), kind: ProblemKind::OutOfRange }];
    let first: Vec<Option<Weighed>> = charges
        .iter()
        .map(|charge| plan.absolute(formula, charge))
        .collect::<Option<_>>()
        .ok_or_else(out_of_range)?;
    let sums = Sums::of(charges, &first).ok_or_else(out_of_range)?;
    let whole = plan.whole_mass(formula, charges, &sums)?;
    let made_up_to = MadeUpTo {
        mass: match plan.whole {
            Whole::Mass(mass) => Some(mass),
            Whole::Volume(_) | Whole::Lines => None,
        },
        volume: plan.volume.filter(|_| plan.make_up.is_some()),
    };
    let mut weighed = Vec::with_capacity(charges.len());
    for (charge, first) in charges.iter().zip(first) {
        weighed.push(match first {
            Some(first) => first,
            None if charge.herb_ratio().is_some() => Weighed::to_come(),
            None => plan.relative(charge, &whole, &sums, charges)?.ok_or_else(out_of_range)?,
        });
    }
    herb_ratio::put(formula, charges, &mut weighed)?;
    Ok((weighed, made_up_to))
}

/// A share by mass with its basis, of an amount that is one.
fn share_of(kind: &AmountKind) -> Option<(Decimal, Basis)> {
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

const fn by_mass(basis: Basis) -> bool {
    matches!(basis, Basis::MassInMass | Basis::Unstated)
}

fn base(quantity: &Quantity) -> Whole {
    match quantity.measure() {
        Measure::Mass(mass) => Whole::Mass(mass.g()),
        Measure::Volume(volume) => Whole::Volume(volume.ml()),
        Measure::Drops { .. } => Whole::Lines,
    }
}

impl Plan {
    fn read(formula: &Formula, charges: &[Charge<'_>]) -> Result<Self, Vec<FormulaProblem>> {
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

    /// The mass of a line that does not depend on the other lines; `Some(None)` for one that does.
    fn absolute(&self, formula: &Formula, charge: &Charge<'_>) -> Option<Option<Weighed>> {
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
                    let volume = match g_per_ml(charge.of, charge.nested) {
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

    /// The mass of the whole that shares by mass are of.
    fn whole_mass(
        &self,
        formula: &Formula,
        charges: &[Charge<'_>],
        sums: &Sums,
    ) -> Result<Result<Decimal, Unknown>, Vec<FormulaProblem>> {
        let problem = |at, kind| Err(vec![FormulaProblem { at, kind }]);
        let out_of_range =
            || vec![FormulaProblem { at: Location::formula("phases"), kind: ProblemKind::OutOfRange }];
        match self.whole {
            Whole::Mass(mass) => Ok(Ok(mass)),
            Whole::Volume(volume) => match self.solve_volume(volume, charges, sums) {
                Ok(Some(mass)) => Ok(Ok(mass)),
                Ok(None) => Err(out_of_range()),
                Err(unknown) => Ok(Err(unknown)),
            },
            Whole::Lines if self.quantities && self.shares.is_zero() => Ok(sums.all.clone()),
            Whole::Lines if self.quantities => {
                if self.shares >= Decimal::ONE {
                    return problem(self.last_share(charges), ProblemKind::NothingLeft);
                }
                let rest = Decimal::ONE - self.shares;
                match &sums.all {
                    Ok(all) => Ok(Ok(divide(*all, rest).ok_or_else(out_of_range)?)),
                    Err(unknown) => Ok(Err(unknown.clone())),
                }
            }
            Whole::Lines => {
                let strained = charges.iter().any(|charge| !charge.stays);
                let stated = match formula.yields.as_ref().map(|yields| base(yields.quantity())) {
                    Some(Whole::Mass(mass)) if !strained => Some(mass),
                    _ => None,
                };
                if self.parts > Decimal::ZERO {
                    if self.shares >= Decimal::ONE {
                        return problem(self.last_share(charges), ProblemKind::NothingLeft);
                    }
                    let one_gram_each = divide(self.parts, Decimal::ONE - self.shares);
                    return Ok(Ok(stated.or(one_gram_each).ok_or_else(out_of_range)?));
                }
                if self.shares < Decimal::ONE {
                    let percent = self.shares.saturating_mul(HUNDRED).normalize();
                    return problem(self.last_share(charges), ProblemKind::BelowHundred(percent));
                }
                Ok(Ok(stated.unwrap_or(HUNDRED)))
            }
        }
    }

    fn last_share(&self, charges: &[Charge<'_>]) -> Location {
        charges
            .iter()
            .rev()
            .find(|charge| share_of(charge.of.amount.kind()).is_some())
            .map_or(Location::formula("phases"), |charge| Location::line(charge.phase, charge.line, "amount"))
    }

    /// The mass of a whole that is made up to a volume V. With A and V_A the mass and volume of the lines known by
    /// themselves, p_i the shares by mass with densities d_i, d the density of the line that makes up, and K what
    /// ethanol and water lose by being put together: `T = (V + K(T) - V_A + A/d) / (sum(p_i/d_i) + (1 - sum p_i)/d)`.
    /// K depends on T. It changes by a small part of the change of T, so that putting it in again comes to the end.
    fn solve_volume(
        &self,
        volume: Decimal,
        charges: &[Charge<'_>],
        sums: &Sums,
    ) -> Result<Option<Decimal>, Unknown> {
        let Some(filler) = self.make_up.and_then(|at| charges.get(at)) else {
            return Ok(None);
        };
        let filling = g_per_ml(filler.of, filler.nested)?;
        let (mass_there, volume_there) = (sums.kept.clone()?, sums.kept_volume.clone()?);
        let (mut shares, mut specific) = (Decimal::ZERO, Decimal::ZERO);
        let mut by_share = vec![];
        for charge in charges.iter().filter(|charge| charge.stays) {
            if let Some((share, _)) = share_of(charge.of.amount.kind()).filter(|(_, basis)| by_mass(*basis)) {
                by_share.push((share, Liquor::of_charge(charge)));
                let density = g_per_ml(charge.of, charge.nested)?;
                shares = shares.saturating_add(share);
                specific = specific.saturating_add(divide(share, density).unwrap_or(Decimal::MAX));
            }
        }
        let solve = |lost: Decimal| {
            let apart = volume.checked_add(lost)?;
            let above = apart.checked_sub(volume_there)?.checked_add(divide(mass_there, filling)?)?;
            let below = specific.checked_add(divide(Decimal::ONE.checked_sub(shares)?, filling)?)?;
            divide(above, below)
        };
        let lost = |whole: Decimal| {
            let mut all = sums.contraction.clone();
            for (share, of) in &by_share {
                all.add(of.clone().map(|of| of.times(whole.saturating_mul(*share))));
            }
            let rest = whole.saturating_mul(Decimal::ONE - shares).saturating_sub(mass_there);
            all.add(Liquor::of_charge(filler).map(|of| of.times(rest.max(Decimal::ZERO))));
            all.lost()
        };
        let Some(mut whole) = solve(Decimal::ZERO) else { return Ok(None) };
        for _ in 0..MOST_TURNS {
            let Some(next) = solve(lost(whole)?) else { return Ok(None) };
            let close = next.saturating_sub(whole).abs() <= next.abs().saturating_mul(CLOSE);
            whole = next;
            if close {
                break;
            }
        }
        Ok(Some(whole))
    }

    /// The mass of a line that depends on the whole.
    fn relative(
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
