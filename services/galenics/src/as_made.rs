//! The preparation as it was made: from what was really weighed, with the deviation of every line, the yield,
//! and a composition that goes through limits, alcohol and emulsion again.
//!
//! Evaporation concentrates what stays; what sticks to the pot, or is taken as a sample, does not.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Amount, Evaluation, Figure, Formula, FormulaProblem, Input, Losses, Mass, Measure, Quantity, Refusal,
    Rule, Text, Unknown, Volume, Worked, WorkedLine, Yield, evaluate,
    number::divide,
    tolerance::{Deviation, Tolerances},
    units,
};

static DEVIATION: Rule =
    Rule::definition("line_deviation", "{size} {way} ({part}): {weighed} weighed for {wanted}");
static NO_DEVIATION: Rule = Rule::definition("line_exact", "{weighed} weighed, exactly the target");
static THEORETICAL: Rule = Rule::definition(
    "yield_theoretical",
    "total of the weighings that stay in the \
     product: {=}",
);
static EXPECTED: Rule = Rule::definition(
    "yield_expected",
    "{theoretical} less the expected loss of {loss}: \
     {=}",
);
static PART: Rule = Rule::definition("yield_share", "{made} obtained of {whole}: {=}");
static TOO_MUCH: Rule = Rule::definition(
    "evaporated_more_than_can",
    "{gone} is missing, {=} more than the {most} that can evaporate. Weigh again, or record the spill.",
);
static UNACCOUNTED: Rule = Rule::definition(
    "loss_unaccounted",
    "{theoretical} theoretical, {made} obtained, {accounted} recorded as lost: {=} unaccounted for",
);

/// What was asked for of every line, by phase and line, exact: a mass, or a volume where it was measured and the mass is
/// not known. Nothing where neither is known.
pub type Targets = Vec<Vec<Option<Quantity>>>;

impl Worked {
    /// What this asks for, before it is rounded to the balance.
    #[must_use]
    pub fn targets(&self) -> Targets {
        let target =
            |line: &WorkedLine| match (line.exact.value(), line.volume.as_ref().and_then(Figure::value)) {
                (Some(mass), _) => Mass::grams(mass).ok().map(Quantity::of_mass),
                (None, volume) => Volume::millilitres(volume?).ok().map(Quantity::of_volume),
            };
        self.phases.iter().map(|phase| phase.lines.iter().map(target).collect()).collect()
    }
}

/// One weighing of a line; several of one line add up.
#[derive(Debug, Clone)]
pub struct Weighing {
    /// The phase, counted from 0.
    pub phase: usize,
    /// The line, counted from 0.
    pub line: usize,
    /// What was weighed or measured.
    pub weighed: Quantity,
}

/// What came out at the end.
#[derive(Debug, Clone, Copy, Default)]
pub struct Outcome {
    /// What was made, in g.
    pub made: Option<Mass>,
    /// What evaporated of what was made, in g.
    pub evaporated: Option<Mass>,
    /// What was taken as samples, in g.
    pub samples: Option<Mass>,
    /// What was left in pots and on tools, in g.
    pub transfer: Option<Mass>,
}

/// A line as made.
#[derive(Debug, Clone, Serialize)]
pub struct LineMade {
    /// The phase, counted from 0.
    pub phase: usize,
    /// The line, counted from 0.
    pub line: usize,
    /// The material or nested formula.
    pub name: Text,
    /// What was asked for, exact; nothing where that is not known.
    pub wanted: Option<Quantity>,
    /// What was weighed, as entered; several weighings added.
    pub weighed: Option<Quantity>,
    /// How far it is off, as a fraction of what was asked for; above zero is too much.
    pub deviation: Option<Figure>,
    /// Whether it is within its tolerance; nothing where it was not weighed or cannot be compared.
    pub within: Option<bool>,
}

/// The yield.
#[derive(Debug, Clone, Serialize)]
pub struct YieldReport {
    /// All that was weighed and stays, in g.
    pub theoretical: Figure,
    /// What is expected after the usual losses, in g.
    pub expected: Figure,
    /// What was made as a share of the theoretical yield.
    pub of_theoretical: Option<Figure>,
    /// What was made as a share of the expected yield.
    pub of_expected: Option<Figure>,
    /// What is missing and not accounted for, in g.
    pub unaccounted: Option<Figure>,
    /// More than was put in: always a finding.
    pub more_than_put_in: bool,
}

/// The preparation as made.
#[derive(Debug, Clone, Serialize)]
pub struct AsMade {
    /// What it came to.
    pub evaluation: Evaluation,
    /// The lines.
    pub lines: Vec<LineMade>,
    /// Lines of which nothing was weighed, as phase and line.
    pub missing: Vec<(usize, usize)>,
    /// The yield.
    pub yields: YieldReport,
    /// By how much more is missing as evaporated than can evaporate, in g.
    pub too_much_evaporated: Option<Figure>,
}

/// Why a record cannot be evaluated.
#[derive(Debug, Clone, thiserror::Error)]
pub enum AsMadeProblem {
    /// Something in the record.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// The formula as made has problems.
    #[error("The record does not make a formula.")]
    Formula(Vec<FormulaProblem>),
}

/// Evaluates a preparation as it was made. Of a strained preparation the amount made is the yield after pressing and
/// evaporation. Where evaporation is expected, what is missing of the yield evaporated, so that what stays counts as
/// stronger; where it is not, what is missing was lost as it was. More than can evaporate is kept as it was read: what can
/// counts as gone, and [`AsMade::too_much_evaporated`] says so.
///
/// # Errors
/// Refuses weighings of lines that are not there or that mix mass and volume on one line, and a record without any
/// weighing.
pub fn as_made(
    formula: &Formula,
    targets: &Targets,
    weighings: &[Weighing],
    tolerances: Tolerances,
    expected_losses: &Losses,
    outcome: &Outcome,
) -> Result<AsMade, AsMadeProblem> {
    let mut made = formula.clone();
    for phase in &mut made.phases {
        phase.lines.clear();
    }
    made.yields = outcome.made.map(Yield::measured);
    let (mut lines, mut missing) = (Vec::new(), Vec::new());
    for (phase, line, of) in formula.lines() {
        let wanted = targets
            .get(phase)
            .and_then(|phase| phase.get(line))
            .ok_or_else(|| Refusal::out_of_range("recipe", "The recipe belongs to another formula."))?;
        let sum =
            total(weighings.iter().filter(|weighing| (weighing.phase, weighing.line) == (phase, line)))?;
        if let Some(quantity) = &sum {
            let mut actual = of.clone();
            actual.amount = Amount::of(quantity.clone());
            if let Some(target) = made.phases.get_mut(phase) {
                target.lines.push(actual);
            }
        } else {
            missing.push((phase, line));
        }
        lines.push(LineMade {
            phase,
            line,
            name: of.ingredient.name().clone(),
            wanted: wanted.clone(),
            weighed: sum,
            deviation: None,
            within: None,
        });
    }
    for weighing in weighings {
        if !lines.iter().any(|line| (line.phase, line.line) == (weighing.phase, weighing.line)) {
            let says = format!("The formula has no line {} in phase {}.", weighing.line, weighing.phase);
            return Err(Refusal::out_of_range("weighings", says).into());
        }
    }
    if missing.len() == lines.len() {
        return Err(
            Refusal::out_of_range("weighings", "No line has been weighed yet. Weigh at least one.").into()
        );
    }
    let evaluation = evaluate(&made).map_err(AsMadeProblem::Formula)?;
    compare(&mut lines, formula, &evaluation, tolerances);
    let yields = yields(formula, &evaluation, expected_losses, outcome)?;
    let (evaluation, too_much_evaporated) =
        evaporate(&made, evaluation, &yields.theoretical, expected_losses, outcome)?;
    Ok(AsMade { evaluation, lines, missing, yields, too_much_evaporated })
}

/// What evaporated of what was made, taken off it.
fn evaporate(
    made: &Formula,
    evaluation: Evaluation,
    theoretical: &Figure,
    losses: &Losses,
    outcome: &Outcome,
) -> Result<(Evaluation, Option<Figure>), AsMadeProblem> {
    let strained = strained(&evaluation);
    let gone = match outcome.evaporated {
        Some(evaporated) => Ok(evaporated.g()),
        None if losses.evaporation.get().is_zero() => return Ok((evaluation, None)),
        None => lost(&evaluation, strained, theoretical, losses, outcome),
    };
    let Ok(gone) = gone else { return Ok((evaluation.evaporated_unmeasured(), None)) };
    let grams =
        |grams: Decimal| Mass::grams(grams.max(Decimal::ZERO)).map_err(|_| Refusal::too_large("outcome"));
    // What a strained preparation yielded is what was left after it evaporated.
    let before = match outcome.made.filter(|_| strained) {
        Some(left) => {
            let mut before = made.clone();
            before.yields = Some(Yield::measured(grams(left.g().saturating_add(gone))?));
            evaluate(&before).map_err(AsMadeProblem::Formula)?
        }
        None => evaluation,
    };
    // Of a formula that nests others the note goes by its own lines, so that it tells nothing of theirs.
    let note = match before.volatile_by_own_lines(made) {
        Ok(most) if gone > most => {
            let inputs =
                vec![Input::number("gone", gone, units::GRAM), Input::number("most", most, units::GRAM)];
            Some(Figure::number(gone - most, units::GRAM, &TOO_MUCH, inputs))
        }
        Ok(_) | Err(_) => None,
    };
    let Ok(most) = before.volatile() else { return Ok((before.evaporated_unmeasured(), note)) };
    match before.concentrated(grams(gone.min(most))?) {
        Ok(concentrated) => Ok((concentrated, note)),
        // All of it could evaporate: nothing is left to be stronger.
        Err(_) => Ok((before.evaporated_unmeasured(), note)),
    }
}

/// What is missing where evaporation is expected: all that is missing but what sticks to pots and was taken as samples.
fn lost(
    evaluation: &Evaluation,
    strained: bool,
    theoretical: &Figure,
    losses: &Losses,
    outcome: &Outcome,
) -> Result<Decimal, Unknown> {
    let too_large = || Unknown::of("mass of the evaporated part");
    let share = losses.evaporation.get();
    let Some(came) = outcome.made else {
        return evaluation.product.known()?.checked_mul(share).ok_or_else(too_large);
    };
    let other = losses.total() - share;
    if strained {
        // Beside the marc, of which nobody knows what it keeps, it is what was planned.
        let whole = divide(came.g(), Decimal::ONE - losses.total()).ok_or_else(too_large)?;
        return whole.checked_mul(share).ok_or_else(too_large);
    }
    let theoretical = theoretical.known()?;
    let taken: Decimal = [outcome.samples, outcome.transfer].iter().flatten().map(|mass| mass.g()).sum();
    let other = if taken.is_zero() { theoretical.checked_mul(other).ok_or_else(too_large)? } else { taken };
    Ok((theoretical - came.g() - other).max(Decimal::ZERO))
}

/// The weighings of a line added up.
fn total<'a>(weighings: impl Iterator<Item = &'a Weighing>) -> Result<Option<Quantity>, Refusal> {
    let mut sum: Option<Quantity> = None;
    for weighing in weighings {
        let Some(so_far) = &sum else {
            sum = Some(weighing.weighed.clone());
            continue;
        };
        let out_of_range = || Refusal::too_large("weighings");
        let added = match (so_far.measure(), weighing.weighed.measure()) {
            (Measure::Mass(a), Measure::Mass(b)) => {
                let sum = a.g().checked_add(b.g()).ok_or_else(out_of_range)?;
                Quantity::of_mass(Mass::grams(sum).map_err(|_| out_of_range())?)
            }
            (Measure::Volume(a), Measure::Volume(b)) => {
                let sum = a.ml().checked_add(b.ml()).ok_or_else(out_of_range)?;
                Quantity::of_volume(Volume::millilitres(sum).map_err(|_| out_of_range())?)
            }
            _ => {
                return Err(Refusal::out_of_range(
                    "weighings",
                    format!(
                        "{} and {} cannot be added. Enter all parts of a line by weight, or all by volume.",
                        so_far, weighing.weighed
                    ),
                ));
            }
        };
        sum = Some(added);
    }
    Ok(sum)
}

fn strained(evaluation: &Evaluation) -> bool {
    evaluation.phases.iter().any(|phase| phase.lines.iter().any(|line| !line.stays))
}

/// Fills in deviations: in mass where both are known, else in volume.
fn compare(lines: &mut [LineMade], formula: &Formula, evaluation: &Evaluation, tolerances: Tolerances) {
    let mut actual: Vec<_> = evaluation.phases.iter().map(|phase| phase.lines.iter()).collect();
    for line in lines {
        if line.weighed.is_none() {
            continue;
        }
        let Some(made) = actual.get_mut(line.phase).and_then(Iterator::next) else { continue };
        let (unit, wanted, there) = match line.wanted.as_ref().map(Quantity::measure) {
            Some(Measure::Mass(mass)) => (units::GRAM, mass.g(), Some(&made.mass)),
            Some(Measure::Volume(volume)) => (units::MILLILITRE, volume.ml(), made.volume.as_ref()),
            Some(Measure::Drops { .. }) | None => continue,
        };
        let Some(there) = there.and_then(Figure::value) else { continue };
        let function = formula
            .phases
            .get(line.phase)
            .and_then(|phase| phase.lines.get(line.line))
            .and_then(|of| of.function);
        let Some(found) = tolerances.compare(function, wanted, there) else { continue };
        line.within = Some(found.within);
        line.deviation = found.share.map(|share| deviation(&found, share, (there, wanted), unit));
    }
}

/// How far a weighing is off, as a share of what was wanted.
#[must_use]
pub fn deviation(
    found: &Deviation,
    share: Decimal,
    (weighed, wanted): (Decimal, Decimal),
    unit: &'static str,
) -> Figure {
    let mut inputs = vec![
        Input::number("weighed", weighed, unit),
        Input::number("wanted", wanted, unit),
        Input::number("tolerance", found.tolerance.get(), units::SHARE),
    ];
    if found.off.is_zero() {
        return Figure::number(share, units::SHARE, &NO_DEVIATION, inputs);
    }
    inputs.extend([
        Input::words("way", if found.off.is_sign_negative() { "under" } else { "over" }),
        Input::number("size", found.off.abs(), unit),
        Input::number("part", share.abs(), units::SHARE),
    ]);
    Figure::number(share, units::SHARE, &DEVIATION, inputs)
}

fn yields(
    formula: &Formula,
    evaluation: &Evaluation,
    losses: &Losses,
    outcome: &Outcome,
) -> Result<YieldReport, Refusal> {
    let too_large = || Refusal::too_large("outcome");
    let mut sum: Result<Decimal, Unknown> = Ok(Decimal::ZERO);
    for line in evaluation.phases.iter().flat_map(|phase| &phase.lines).filter(|line| line.stays) {
        sum = match (sum, line.mass.known()) {
            (Ok(sum), Ok(mass)) => Ok(sum.checked_add(mass).ok_or_else(too_large)?),
            (Err(a), Err(b)) => Err(a.and(&b)),
            (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown),
        };
    }
    let theoretical = Figure::from_result(sum.clone(), units::GRAM, &THEORETICAL, Vec::new());
    let loss = losses.total();
    if loss >= Decimal::ONE {
        return Err(Refusal::out_of_range(
            "losses",
            format!("Losses of {} leave nothing of {}. Check the losses.", loss, formula.title),
        ));
    }
    let expected = sum.clone().map(|sum| sum * (Decimal::ONE - loss));
    let inputs = vec![Input::figure("theoretical", &theoretical), Input::number("loss", loss, units::SHARE)];
    let expected = Figure::from_result(expected, units::GRAM, &EXPECTED, inputs);
    let share = |whole: &Figure| {
        let (made, whole) = (outcome.made?, whole.value()?);
        let inputs =
            vec![Input::number("made", made.g(), units::GRAM), Input::number("whole", whole, units::GRAM)];
        Some(Figure::number(divide(made.g(), whole)?, units::SHARE, &PART, inputs))
    };
    let accounted: Decimal =
        [outcome.evaporated, outcome.samples, outcome.transfer].iter().flatten().map(|mass| mass.g()).sum();
    let unaccounted = match (sum, outcome.made) {
        (Ok(sum), Some(made)) => {
            let inputs = vec![
                Input::number("theoretical", sum, units::GRAM),
                Input::number("made", made.g(), units::GRAM),
                Input::number("accounted", accounted, units::GRAM),
            ];
            Some(Figure::number(sum - made.g() - accounted, units::GRAM, &UNACCOUNTED, inputs))
        }
        _ => None,
    };
    let of_theoretical = share(&theoretical);
    let more_than_put_in =
        of_theoretical.as_ref().and_then(Figure::value).is_some_and(|share| share > Decimal::ONE);
    Ok(YieldReport {
        of_expected: share(&expected),
        theoretical,
        expected,
        of_theoretical,
        unaccounted,
        more_than_put_in,
    })
}
