//! What a deviation does to the product, in a sentence beside it: the share of a line as made, and as the formula has it.

use clinic::{Detail, recipes};
use wire::bench::{BatchRecord, FindingKind};
use wire::recipe::{CompositionBasis, Evaluation};

use crate::acts::{Act, Mark};
use crate::figures;
use crate::shown::shown;
use crate::texts::text;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// Tells it of every act of a record that is out of tolerance. Whoever may not read the formula's figures is told nothing.
pub(crate) async fn told(visitor: &Visitor, record: &BatchRecord, acts: &mut [Act]) -> Result<(), Trouble> {
    if !wanted(record) {
        return Ok(());
    }
    let (clinic, credentials, of) = (visitor.clinic(), visitor.credentials(), record.summary.revision);
    match recipes::evaluation(clinic, credentials, of, CompositionBasis::default(), Detail::Brief).await {
        Ok(released) => {
            tell(acts, record, &shown(&released)?);
            Ok(())
        }
        Err(clinic::Error::GateClosed(_) | clinic::Error::State { .. }) => Ok(()),
        Err(other) => Err(other.into()),
    }
}

/// Whether what deviations do can be told: every line is weighed, and one of them is out of tolerance. Before, a line's
/// share of what was weighed so far says nothing about the product.
fn wanted(record: &BatchRecord) -> bool {
    let whole =
        record.as_made.as_ref().is_some_and(|made| made.missing.is_empty() && made.evaluation.is_some());
    // What evaporates concentrates what stays, by design: shares before and after are not compared.
    let evaporates = record.recipe.asked.evaporation_loss.is_some();
    whole && !evaporates && record.findings.iter().any(|finding| finding.kind == FindingKind::OutOfTolerance)
}

/// Says of each line that is out of tolerance which share of the product it is now, and which it is in the formula. Both are
/// the clinic's figures; a line without both says nothing.
fn tell(acts: &mut [Act], record: &BatchRecord, asked: &Evaluation) {
    let Some(made) = record.as_made.as_ref().and_then(|made| made.evaluation.as_ref()) else { return };
    let kind = record.recipe.preparation.as_str();
    for act in acts.iter_mut().filter(|act| matches!(act.mark, Mark::Over | Mark::Under) && act.is_weigh()) {
        let (Some(is), Some(was)) = (share(made, &act.line), share(asked, &act.line)) else { continue };
        if is != was {
            act.effect = text(
                "effect-says",
                &[("a", act.title.clone().into()), ("b", is.into()), ("c", kind.into()), ("d", was.into())],
            );
        }
    }
}

/// The share of a line, named by phase and line as a recipe names it.
fn share(evaluation: &Evaluation, line: &str) -> Option<String> {
    let (phase, line) = line.split_once('.')?;
    let phase = evaluation.phases.get(phase.parse::<usize>().ok()?.checked_sub(1)?)?;
    let line: usize = line.parse().ok()?;
    let figure = &phase.lines.iter().find(|one| one.line == line)?.share;
    let shown = figures::shown(figure);
    shown.known().then(|| format!("{}\u{a0}%", shown.number))
}
