//! The mass of a herb that is written as a ratio: to the menstruum of its formula, or to the extract.
//!
//! By default a ratio is mass in volume, g to mL, and mass in mass where the menstruum is oil. The figure says which
//! reading was taken, and [`reading`] puts it in one sentence for whoever wrote it.

use rust_decimal::Decimal;

use super::{
    result::LineFigures,
    weigh::{Charge, Weighed, weighed_by_mass},
};
use crate::{
    Basis, Figure, Formula, FormulaProblem, Fraction, HerbRatio, HerbState, Ingredient, Input, Line,
    Location, Mass, MaterialKind, Measure, Preparation, ProblemKind, Rule, Text, Unknown,
    alcohol::{Stream, mix},
    amount::{Menstruum, RatioState, RatioTo},
    number::{HUNDRED, dec, divide, significant},
    units,
};

static FROM_RATIO: Rule =
    Rule::definition("mass_from_herb_ratio", "{ratio}, read as {basis}, for {whole} of {end}: {=}");

/// How far the strength of the menstruum as its lines have it may lie from the strength that a ratio states: one per
/// cent by volume, as far as spirits of the trade vary. Common practice, no source.
const STRENGTH_WITHIN: Decimal = dec("0.01");

/// What is wrong with a ratio where it stands, before anything is worked out.
pub(super) fn problem(charge: &Charge<'_>, ratio: &HerbRatio) -> Option<ProblemKind> {
    let text = charge.of.amount.typed();
    if !charge.is_drawn_out() {
        return Some(ProblemKind::RatioOfWhat(text));
    }
    if ratio.basis == Some(Basis::VolumeInVolume) {
        return Some(ProblemKind::RatioByVolume(text));
    }
    let Ingredient::Material(facts) = &charge.of.ingredient else { return None };
    let fresh = matches!(facts.herb, Some(HerbState::Fresh { .. }));
    match ratio.state {
        Some(state) if fresh != (state == RatioState::Fresh) => {
            Some(ProblemKind::RatioOfOtherState { ratio: text, herb: facts.name.clone() })
        }
        _ => None,
    }
}

/// Puts in the masses of the herbs that are written as ratios, when those of all other lines are known.
pub(super) fn put(
    formula: &Formula,
    charges: &[Charge<'_>],
    weighed: &mut [Weighed],
) -> Result<(), Vec<FormulaProblem>> {
    let mut problems = Vec::new();
    for (at, charge) in charges.iter().enumerate() {
        let Some(ratio) = charge.herb_ratio() else { continue };
        match mass(formula, charges, weighed, charge, &ratio) {
            Ok(found) => {
                if let Some(place) = weighed.get_mut(at) {
                    *place = found;
                }
            }
            Err(kind) => problems
                .push(FormulaProblem { at: Location::line(charge.phase, charge.line, "amount"), kind }),
        }
    }
    if problems.is_empty() { Ok(()) } else { Err(problems) }
}

fn mass(
    formula: &Formula,
    charges: &[Charge<'_>],
    weighed: &[Weighed],
    charge: &Charge<'_>,
    ratio: &HerbRatio,
) -> Result<Weighed, ProblemKind> {
    let basis = basis_in(ratio, formula.preparation);
    let by_mass = basis == Basis::MassInMass;
    let (end, whole) = match ratio.ratio_to {
        RatioTo::Extract => {
            let yields = formula.yields.as_ref().map(|yields| yields.quantity().measure());
            let whole = match yields {
                Some(Measure::Mass(mass)) if by_mass || ratio.basis.is_none() => mass.g(),
                Some(Measure::Volume(volume)) if !by_mass => volume.ml(),
                _ => return Err(ProblemKind::RatioToWhat(charge.of.amount.typed())),
            };
            ("the extract", Ok(whole))
        }
        RatioTo::Menstruum => {
            let poured: Vec<(&Charge<'_>, &Weighed)> = menstruum(charges, weighed).collect();
            if poured.is_empty() {
                return Err(ProblemKind::RatioToWhat(charge.of.amount.typed()));
            }
            agrees(&poured, charge, ratio)?;
            ("the menstruum", sum(&poured, by_mass))
        }
    };
    let unit = if by_mass || (ratio.ratio_to == RatioTo::Extract && is_weighed(formula)) {
        units::GRAM
    } else {
        units::MILLILITRE
    };
    let said = match ratio.basis {
        Some(basis) => basis.as_str().to_owned(),
        None if unit == units::GRAM => "w/w, since no basis is stated".to_owned(),
        None => "w/v, g to mL, since no basis is stated".to_owned(),
    };
    let mut inputs = vec![
        Input::words("ratio", charge.of.amount.typed()),
        Input::words("basis", said),
        Input::words("end", end),
    ];
    match whole {
        Ok(whole) => {
            inputs.push(Input::number("whole", whole, unit));
            let mass = whole.checked_mul(ratio.herb).and_then(|above| divide(above, ratio.to));
            let put = mass.and_then(|mass| weighed_by_mass(charge, mass, &FROM_RATIO, inputs));
            put.ok_or(ProblemKind::OutOfRange)
        }
        Err(unknown) => {
            Ok(Weighed { mass: Figure::unknown_for(unknown, units::GRAM, &FROM_RATIO, inputs), volume: None })
        }
    }
}

fn is_weighed(formula: &Formula) -> bool {
    let yields = formula.yields.as_ref().map(|yields| yields.quantity().measure());
    matches!(yields, Some(Measure::Mass(_)))
}

/// The basis on which a ratio is read: as stated, else w/w with oil and w/v with anything else.
fn basis_in(ratio: &HerbRatio, preparation: Preparation) -> Basis {
    let oil = match &ratio.menstruum {
        Some(menstruum) => *menstruum == Menstruum::Oil,
        None => preparation.extracts_with_oil(),
    };
    ratio.basis.unwrap_or(if oil { Basis::MassInMass } else { Basis::MassInVolume })
}

/// The lines that are poured on the herb: those of a kind that draws it out. Preservatives, salts and essential oils
/// are not.
fn menstruum<'a>(
    charges: &'a [Charge<'a>],
    weighed: &'a [Weighed],
) -> impl Iterator<Item = (&'a Charge<'a>, &'a Weighed)> {
    charges.iter().zip(weighed).filter(|(charge, _)| {
        let draws = match &charge.of.ingredient {
            Ingredient::Material(facts) => draws_out(facts.kind),
            Ingredient::Nested(_) => true,
        };
        charge.stays && draws && !charge.is_to_ph()
    })
}

const fn draws_out(kind: MaterialKind) -> bool {
    matches!(
        kind,
        MaterialKind::FixedOil
            | MaterialKind::Butter
            | MaterialKind::Hydrocarbon
            | MaterialKind::Water
            | MaterialKind::WateryBase
            | MaterialKind::Ethanol
            | MaterialKind::Solvent
            | MaterialKind::Humectant
            | MaterialKind::Sugar
            | MaterialKind::AnimalProduct
    )
}

fn sum(poured: &[(&Charge<'_>, &Weighed)], by_mass: bool) -> Result<Decimal, Unknown> {
    let mut sum = Decimal::ZERO;
    for (charge, line) in poured {
        let mass = line.mass.known()?;
        let part = if by_mass {
            mass
        } else {
            let missing = || Unknown::of(format!("density of {}", charge.of.ingredient.name()));
            line.volume.ok_or_else(missing)?
        };
        sum = sum.saturating_add(part);
    }
    Ok(sum)
}

/// Whether the lines are what the ratio says that the herb is drawn out with, as far as that can be told.
fn agrees(
    poured: &[(&Charge<'_>, &Weighed)],
    charge: &Charge<'_>,
    ratio: &HerbRatio,
) -> Result<(), ProblemKind> {
    let of = |is: fn(MaterialKind) -> bool| {
        poured.iter().any(|(charge, _)| match &charge.of.ingredient {
            Ingredient::Material(facts) => is(facts.kind),
            Ingredient::Nested(_) => true,
        })
    };
    let other = |menstruum: &str| {
        Err(ProblemKind::RatioInOther { ratio: charge.of.amount.typed(), menstruum: menstruum.to_owned() })
    };
    match &ratio.menstruum {
        Some(Menstruum::Oil) if !of(MaterialKind::is_oil) => other("an oil"),
        Some(Menstruum::Spirit(stated)) => {
            if !of(|kind| kind == MaterialKind::Ethanol) {
                return other("a spirit");
            }
            let Some(found) = strength(poured) else { return Ok(()) };
            if (found - stated.get()).abs() <= STRENGTH_WITHIN {
                return Ok(());
            }
            Err(ProblemKind::RatioInOtherStrength {
                ratio: charge.of.amount.typed(),
                found: significant(found.saturating_mul(HUNDRED), 3),
            })
        }
        _ => Ok(()),
    }
}

/// The strength of the menstruum by volume, from its spirits and waters; `None` where a line is neither or is unknown.
fn strength(poured: &[(&Charge<'_>, &Weighed)]) -> Option<Decimal> {
    let streams: Vec<Stream> = poured
        .iter()
        .map(|(charge, line)| {
            let Ingredient::Material(facts) = &charge.of.ingredient else { return None };
            let strength = match (&facts.ethanol_by_volume, facts.kind) {
                (Some(strength), _) => strength.value,
                (None, MaterialKind::Water | MaterialKind::WateryBase) => Fraction::ZERO,
                (None, _) => return None,
            };
            Some(Stream::ByMass { mass: Mass::grams(line.mass.value()?).ok()?, strength })
        })
        .collect::<Option<_>>()?;
    mix(&streams).ok()?.by_volume.value()
}

/// How a herb's ratio was read. `None` for other lines and where the mass is not known.
pub(super) fn reading(formula: &Formula, line: &Line, figures: &LineFigures) -> Option<Text> {
    let herb = matches!(&line.ingredient, Ingredient::Material(facts) if facts.herb.is_some());
    let ratio = line.amount.kind().herb_ratio(herb && !figures.stays)?;
    let mass = figures.mass.value()?;
    let to = divide(mass.checked_mul(ratio.to)?, ratio.herb)?;
    let basis = basis_in(&ratio, formula.preparation);
    let extract = ratio.ratio_to == RatioTo::Extract;
    let by_mass = basis == Basis::MassInMass || (extract && ratio.basis.is_none() && is_weighed(formula));
    let (unit, basis) = if by_mass { ("g", "w/w") } else { ("mL", "w/v") };
    let shown = |value: Decimal| significant(value, 4);
    let end = if extract { " of extract (drug to extract, " } else { " (" };
    let typed = line.amount.text();
    Some(format!("{typed} is read as {} g to {} {unit}{end}{basis})", shown(mass), shown(to)).into())
}
