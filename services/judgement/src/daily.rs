//! Limits on a daily amount, checked with the assays of the lots and the mass used in a day.

use galenics::limits::{DailyExposure, Holder, check_daily};
use galenics::{Decimal, Evaluation, Figure, Formula, Graph, Input, Rule, Sourced, units};
use materia::{Bound, Materia, Subject};

use crate::limits::LimitAssessment;
use crate::observed::Observed;
use crate::parts::Known;
use crate::place::Place;
use crate::serving::used_daily;
use crate::written::Written;
use crate::{facts, lot};

static SHARE: Rule = Rule::definition("share_of_line", "share of {line} in the product: {=}");

/// Replaces the verdicts of the daily limits in `judgements` by those that the measurements give.
///
/// A limit stays unknown, which is not a pass, if a lot was not tested or the formula states no daily use.
pub(crate) fn judge(
    reference: &Materia,
    written: &Written,
    formula: &Formula,
    evaluation: &Evaluation,
    observed: &Observed,
    known: &Known<'_>,
    judgements: &mut [LimitAssessment],
) {
    let Some(used) = used_daily(written, evaluation) else { return };
    let graph = Graph::of(formula);
    for judgement in judgements {
        let row = reference.limits.iter().find(|row| row.key == judgement.key);
        let Some((Bound::MaximumDaily { micrograms }, Subject::Substance(substance), row)) =
            row.map(|row| (&row.bound, &row.subject, row))
        else {
            continue;
        };
        let holders = holders(reference, &graph, evaluation, observed, known, substance);
        let Some(exposure) = holders.and_then(|holders| DailyExposure::together(&holders, used)) else {
            continue;
        };
        let bound = Sourced::new(*micrograms, facts::source(&row.source.text, row.status));
        let check = check_daily(&judgement.subject, &exposure, &bound);
        judgement.verdict = check.verdict;
        judgement.share = Some(check.amount);
        judgement.would_pass = vec![check.largest_use];
    }
}

/// Every line that may hold a substance, directly or in a nested formula. Returns `None` if the share of one is
/// unknown.
fn holders(
    reference: &Materia,
    graph: &Graph<'_>,
    evaluation: &Evaluation,
    observed: &Observed,
    known: &Known<'_>,
    substance: &str,
) -> Option<Vec<Holder>> {
    let product = evaluation.product.value()?;
    let holds = graph.lines_with(|facts| {
        let material = known.get(facts.id.as_str());
        material.is_some_and(|material| material.constituents.iter().any(|held| held.substance == substance))
    });
    let lines = evaluation.phases.iter().enumerate();
    let lines =
        lines.flat_map(|(p, phase)| phase.lines.iter().enumerate().map(move |(l, line)| (p, l, line)));
    let mut out = Vec::new();
    for ((p, l, figures), _) in lines.zip(holds).filter(|(_, holds)| *holds) {
        let share = figures.mass.value()?.checked_div(product)?.min(Decimal::ONE);
        let input = Input::words("line", figures.name.clone());
        out.push(Holder {
            name: figures.name.clone(),
            share: Figure::number(share, units::SHARE_OF_MASS, &SHARE, vec![input]),
            assay: assayed(reference, observed, (p, l), substance).map(Sourced::entered),
        });
    }
    Some(out)
}

/// The highest assay of the lots weighed for a line, in µg/g. Returns `None` if one of them was not tested.
fn assayed(reference: &Materia, observed: &Observed, place: Place, substance: &str) -> Option<Decimal> {
    let mut highest = None;
    for (_, assay) in observed.assays.iter().filter(|(of, _)| *of == place) {
        let found = lot::assay(reference, assay.as_deref()?).ok().filter(|it| it.substance == substance)?;
        highest = highest.max(Some(found.micrograms_per_gram));
    }
    highest
}
