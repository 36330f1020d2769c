//! The least that a balance can weigh, and how to weigh less all the same: by an aliquot.
//!
//! A two-pan balance answers to its *sensitivity requirement*; the least weighable quantity is that over the
//! error allowed. An aliquot is a stated part of a larger mixture in which a weighable amount is evenly
//! spread: with a multiple n, n times the wanted amount goes into n times the aliquot, so that the aliquot
//! carries what is wanted.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Balance, Figure, Formula, Fraction, Ingredient, Input, Mass, MaterialKind, Refusal, Rule, Text, Worked,
    WorkedLine, number::significant, units,
};

static LEAST: Rule =
    Rule::definition("least_weighable", "least weighable: {sensitivity} / {error} of error = {=}");
static MULTIPLE: Rule = Rule::definition("aliquot_multiple", "least multiple that can be weighed: {=}");
static DRUG: Rule = Rule::definition("aliquot_drug", "weigh {=}, which is {multiple} × {wanted}");
static MIXTURE: Rule = Rule::definition(
    "aliquot_mixture",
    "make {=} of mixture, which is {multiple} × \
     {aliquot}",
);
static DILUENT: Rule = Rule::definition("aliquot_diluent", "diluent: {=}");
static TIMES: Rule = Rule::definition("aliquot_times", "{=} times the target can be weighed");
static DISSOLVE: Rule = Rule::definition(
    "aliquot_dissolve",
    "dissolve it fully in {=} of {carrier}. If it does not dissolve, use a finer balance.",
);
static LEAVE_OUT: Rule =
    Rule::definition("aliquot_leave_out", "weigh {=} less of {carrier}, because the aliquot contains it");
static ALIQUOT: Rule = Rule::definition("aliquot", "take {=}, which contain {wanted}");

/// The least amount that can be weighed within an error.
///
/// # Errors
/// Refuses a sensitivity requirement of zero and an error of zero.
/// ```
/// use galenics::{Fraction, Mass, number::dec, weighing::least_weighable};
/// // A balance that answers to 6 mg weighs 120 mg to 5 per cent.
/// let least = least_weighable(Mass::grams(dec("0.006"))?, Fraction::percent(dec("5"))?).expect("it can be weighed");
/// assert_eq!(least.sentence(), "least weighable: 0.006 g / 5 % of error = 0.12 g");
/// # Ok::<(), galenics::MeasureError>(())
/// ```
pub fn least_weighable(sensitivity: Mass, error: Fraction) -> Result<Figure, Refusal> {
    if sensitivity.g().is_zero() {
        return Err(Refusal::out_of_range(
            "sensitivity",
            "The sensitivity requirement must be above 0; 6 mg is usual for a dispensing balance.",
        ));
    }
    let value = sensitivity
        .g()
        .checked_div(error.get())
        .ok_or(Refusal::out_of_range("error", "An error of 0 % allows no weighing; 5 % is usual."))?;
    let inputs = vec![
        Input::number("sensitivity", sensitivity.g(), units::GRAM),
        Input::number("error", error.get(), units::SHARE),
    ];
    Ok(Figure::number(value, units::GRAM, &LEAST, inputs))
}

/// How to weigh less than the least weighable amount.
#[derive(Debug, Clone, Serialize)]
pub struct Aliquot {
    /// How many times the wanted amount is weighed.
    pub multiple: Figure,
    /// What to weigh of the substance, in g.
    pub weigh: Figure,
    /// The diluent: in g beside the substance, or in mL made up to.
    pub diluent: Figure,
    /// The whole mixture, in g or mL.
    pub mixture: Figure,
    /// The part of the mixture to take, in g or mL.
    pub aliquot: Figure,
}

/// In what the substance is spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spread {
    /// Rubbed or melted into a solid: the aliquot is weighed and must be weighable, too.
    ByWeight {
        /// The aliquot to take.
        aliquot: Mass,
    },
    /// Dissolved and made up to a volume: the aliquot is measured.
    ByVolume {
        /// The aliquot to take, in mL.
        aliquot: crate::Volume,
    },
}

/// How to weigh `wanted`, which is less than the least weighable amount.
///
/// # Errors
/// Refuses nothing wanted, what can be weighed as it is, and an aliquot by weight below the least weighable
/// amount or not above what is wanted.
pub fn aliquot(wanted: Mass, least: Mass, spread: Spread) -> Result<Aliquot, Refusal> {
    let grams = |mass: Decimal| significant(mass, 6);
    if wanted.g().is_zero() {
        return Err(Refusal::out_of_range("wanted", "The amount wanted must be above 0."));
    }
    if least.g().is_zero() {
        return Err(Refusal::out_of_range("least", "The least weighable amount must be above 0 g."));
    }
    if wanted >= least {
        return Err(Refusal::impossible(
            "wanted",
            format!(
                "{} g can be weighed directly, because it is at least {} g. No aliquot is needed.",
                grams(wanted.g()),
                grams(least.g())
            ),
        ));
    }
    let (part, unit) = match spread {
        Spread::ByWeight { aliquot } if aliquot < least => {
            return Err(Refusal::out_of_range(
                "aliquot",
                format!("The aliquot must be weighable too. Make it at least {} g.", grams(least.g())),
            ));
        }
        Spread::ByWeight { aliquot } if aliquot <= wanted => {
            return Err(Refusal::out_of_range(
                "aliquot",
                "The aliquot must be larger than the amount it carries. Make it larger.",
            ));
        }
        Spread::ByWeight { aliquot } => (aliquot.g(), units::GRAM),
        Spread::ByVolume { aliquot } if aliquot.ml().is_zero() => {
            return Err(Refusal::out_of_range("aliquot", "The aliquot must be above 0 mL."));
        }
        Spread::ByVolume { aliquot } => (aliquot.ml(), units::MILLILITRE),
    };
    let too_large = || Refusal::too_large("wanted");
    let multiple = least.g().checked_div(wanted.g()).ok_or_else(too_large)?.ceil();
    let weigh = wanted.g().checked_mul(multiple).ok_or_else(too_large)?;
    let mixture = part.checked_mul(multiple).ok_or_else(too_large)?;
    let diluent =
        if unit == units::GRAM { mixture.checked_sub(weigh).ok_or_else(too_large)? } else { mixture };
    let inputs = || {
        vec![
            Input::number("wanted", wanted.g(), units::GRAM),
            Input::number("multiple", multiple, units::RATIO),
            Input::number("aliquot", part, unit),
            Input::number("least weighable", least.g(), units::GRAM),
        ]
    };
    Ok(Aliquot {
        multiple: Figure::number(multiple, units::RATIO, &MULTIPLE, inputs()),
        weigh: Figure::number(weigh, units::GRAM, &DRUG, inputs()),
        diluent: Figure::number(diluent, unit, &DILUENT, inputs()),
        mixture: Figure::number(mixture, unit, &MIXTURE, inputs()),
        aliquot: Figure::number(part, unit, &ALIQUOT, inputs()),
    })
}

/// A line of a recipe that is too small for the balance, with a way to weigh it: so much of it that can be weighed is
/// dissolved in some of another line of the recipe, and a part of the solution taken.
#[derive(Debug, Clone, Serialize)]
pub struct SmallLine {
    /// The phase, counted from 0.
    pub phase: usize,
    /// The line, counted from 0.
    pub line: usize,
    /// The material.
    pub name: Text,
    /// What is wanted, in g.
    pub wanted: Figure,
    /// In what it is dissolved.
    pub diluent: Text,
    /// What to weigh, dissolve and take, in whole steps of the balance.
    pub aliquot: Aliquot,
    /// How much less of the diluent is then weighed for its own line, in g.
    pub leave_out: Figure,
}

/// What a material dissolves in, where it is of a kind of which that can be said.
const fn dissolves_in(kind: MaterialKind) -> Option<fn(MaterialKind) -> bool> {
    match kind {
        MaterialKind::Salt | MaterialKind::Preservative | MaterialKind::Sugar | MaterialKind::Humectant => {
            Some(|other| other.is_water())
        }
        MaterialKind::EssentialOil | MaterialKind::Antioxidant => {
            Some(|other| matches!(other, MaterialKind::FixedOil))
        }
        _ => None,
    }
}

/// The lines of a recipe that are too small for the balance, each with an aliquot by weight that carries it, where
/// another line of the recipe dissolves it and there is enough of that; for the others a finer balance is needed.
/// The aliquot is the least weighable amount, or ten times what is wanted where that is more.
#[must_use]
pub fn small_lines(formula: &Formula, worked: &Worked, balance: &Balance) -> Vec<SmallLine> {
    let mut lines = Vec::new();
    for (phase, (of, written)) in worked.phases.iter().zip(&formula.phases).enumerate() {
        for (line, (row, written)) in of.lines.iter().zip(&written.lines).enumerate() {
            if let Ingredient::Material(facts) = &written.ingredient {
                lines.push((phase, line, row, facts.kind));
            }
        }
    }
    let way = |(phase, line, row, kind): &(usize, usize, &WorkedLine, MaterialKind)| {
        let dissolves = dissolves_in(*kind)?;
        let wanted = row.exact.value().filter(|wanted| row.too_small && *wanted > Decimal::ZERO)?;
        let (_, _, carrier, _) = lines
            .iter()
            .filter(|(_, _, other, kind)| dissolves(*kind) && !other.too_small)
            .max_by_key(|(_, _, other, _)| other.exact.value())?;
        let (aliquot, leave_out) = in_steps(wanted, carrier, balance)?;
        Some(SmallLine {
            phase: *phase,
            line: *line,
            name: row.name.clone(),
            wanted: row.exact.clone(),
            diluent: carrier.name.clone(),
            aliquot,
            leave_out,
        })
    };
    lines.iter().filter_map(way).collect()
}

/// An aliquot in whole steps of the balance; none where the mixture would take more of the diluent than the recipe has.
fn in_steps(wanted: Decimal, carrier: &WorkedLine, balance: &Balance) -> Option<(Aliquot, Figure)> {
    let (step, least) = (balance.readability().g(), balance.least()?);
    let up = |grams: Decimal| grams.checked_div(step)?.ceil().checked_mul(step);
    let (weigh, part) = (up(least)?, up(least.max(wanted.checked_mul(Decimal::TEN)?))?);
    let multiple = weigh.checked_div(wanted)?;
    // Rounded to a step: of a mixture that is many times what can be weighed, less than half of the least error.
    let mixture = balance.round(part.checked_mul(multiple)?)?.weigh;
    let diluent = mixture.checked_sub(weigh)?;
    if diluent > carrier.exact.value()? {
        return None;
    }
    let leave_out = balance.round(part.checked_sub(wanted)?)?.weigh;
    let inputs = || {
        vec![
            Input::number("wanted", wanted, units::GRAM),
            Input::number("multiple", significant(multiple, 6), units::RATIO),
            Input::number("aliquot", part, units::GRAM),
            Input::number("least weighable", least, units::GRAM),
            Input::words("carrier", carrier.name.clone()),
        ]
    };
    let aliquot = Aliquot {
        multiple: Figure::number(multiple, units::RATIO, &TIMES, inputs()),
        weigh: Figure::number(weigh, units::GRAM, &DRUG, inputs()),
        diluent: Figure::number(diluent, units::GRAM, &DISSOLVE, inputs()),
        mixture: Figure::number(mixture, units::GRAM, &MIXTURE, inputs()),
        aliquot: Figure::number(part, units::GRAM, &ALIQUOT, inputs()),
    };
    Some((aliquot, Figure::number(leave_out, units::GRAM, &LEAVE_OUT, inputs())))
}
