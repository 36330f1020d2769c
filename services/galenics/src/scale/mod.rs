//! What to weigh for a wanted quantity: a mass, a volume, so many jars, or what a limiting lot allows.
//!
//! Losses are shares of what is weighed out, so that `gross = net / (1 - loss)`: for 360 g net at 4 % loss,
//! 375 g are weighed. Every line is rounded to the balance and says by how much.
//!
//! Masses, volumes and densities come from the evaluation that is handed in and are never worked out anew. Where it
//! was restored from a kept result, so do the amounts as written: it scales as it did when it was kept.

mod line;
mod target;
mod whole;
mod worked;

pub use target::{Losses, MOST_CONTAINERS, MOST_GRAMS, ScaleProblem, Target};
pub use worked::{Worked, WorkedLine, WorkedPhase};

use rust_decimal::Decimal;

use crate::{AmountKind, Balance, Evaluation, Figure, Formula, Input, Rule, number::HUNDRED, units};
use line::work_line;
use whole::{as_written, by_line, by_net, net};

static LOSS: Rule = Rule::definition("loss_total", "total losses, as a share of the amount weighed: {=}");
static TOTAL: Rule = Rule::definition("total_weighed", "total of the lines as weighed: {=}");

/// Works a formula out for a quantity.
///
/// # Errors
/// Says what is wrong with the request and what would be possible. A density that is missing is only an error
/// where the quantity cannot be worked out without it.
/// ```
/// use std::sync::Arc;
/// use galenics::{
///     Amount, Balance, Formula, Fraction, Ingredient, Line, Losses, Mass, MaterialFacts, MaterialKind, Preparation, Quantity,
///     Target, evaluate, number::dec, scale,
/// };
/// let oil = Arc::new(MaterialFacts::new("oil", "olive oil", MaterialKind::FixedOil));
/// let salve = Formula::new("salve", "Salve", Preparation::Salve)
///     .with_phase("all", vec![Line::new(Ingredient::Material(oil), Amount::parse("100 g").expect("an amount"))]);
/// let evaluation = evaluate(&salve).expect("nothing is wrong with it");
/// let jars = Target::Containers { count: 12, fill: Quantity::parse("30 g").expect("a quantity") };
/// let losses = Losses::transfer(Fraction::percent(dec("4")).expect("a share"));
/// let balance = Balance::reading(Mass::grams(dec("0.1")).expect("a mass")).expect("a balance");
/// let worked = scale(&salve, &evaluation, &jars, &losses, &balance)?;
/// assert_eq!(worked.gross.sentence(), "amount before losses of 4 %, for 360 g: 375 g");
/// # Ok::<(), galenics::ScaleProblem>(())
/// ```
pub fn scale(
    formula: &Formula,
    evaluation: &Evaluation,
    target: &Target,
    losses: &Losses,
    balance: &Balance,
) -> Result<Worked, ScaleProblem> {
    if formula.id != evaluation.id
        || !formula.phases.iter().map(|p| p.lines.len()).eq(evaluation.phases.iter().map(|p| p.lines.len()))
    {
        return Err(ScaleProblem::NotItsEvaluation);
    }
    let loss = losses.total();
    if loss >= Decimal::ONE {
        return Err(ScaleProblem::AllLost((loss * HUNDRED).normalize()));
    }
    let kept = Decimal::ONE - loss;
    let loss = Figure::number(
        loss,
        units::SHARE,
        &LOSS,
        losses.kinds().iter().map(|(kind, share)| Input::number(*kind, share.get(), units::SHARE)).collect(),
    );
    let whole = match target {
        Target::AsWritten => as_written(evaluation, (&loss, kept)),
        Target::ByLine { phase, line, quantity } => {
            by_line(formula, evaluation, (*phase, *line), quantity, (&loss, kept))?
        }
        _ => by_net(evaluation, net(evaluation, target)?, (&loss, kept))?,
    };
    let factor = whole.factor.known().map_err(ScaleProblem::Unknown)?;

    let mut phases = Vec::with_capacity(formula.phases.len());
    let mut total = Ok(Decimal::ZERO);
    for (p, (of, phase)) in formula.phases.iter().zip(&evaluation.phases).enumerate() {
        let mut lines = Vec::with_capacity(phase.lines.len());
        for (l, (line, figures)) in of.lines.iter().zip(&phase.lines).enumerate() {
            let to = evaluation.make_up.as_ref().filter(|to| (to.phase, to.line) == (p, l));
            let worked = work_line(line, figures, to, factor, balance).ok_or(ScaleProblem::TooSmall)?;
            if matches!(line.amount.kind(), AmountKind::ToPh(_)) {
                lines.push(worked);
                continue;
            }
            total = match (total, worked.weigh.known()) {
                (Ok(sum), Ok(weigh)) => {
                    Ok(sum.checked_add(weigh).ok_or(ScaleProblem::TooLarge(MOST_GRAMS))?)
                }
                (Err(a), Err(b)) => Err(a.and(&b)),
                (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown),
            };
            lines.push(worked);
        }
        phases.push(WorkedPhase { name: phase.name.clone(), lines });
    }
    let total = Figure::from_result(total, units::GRAM, &TOTAL, Vec::new());
    Ok(Worked { net: whole.net, loss, gross: whole.gross, factor: whole.factor, phases, total })
}
