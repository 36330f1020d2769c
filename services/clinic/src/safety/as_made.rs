//! The batch as it was made: composition, limits and yield of what was really weighed.

use galenics::as_made::{AsMadeProblem, Outcome, Tolerances, Weighing, as_made as work};
use galenics::{Decimal, Fraction, Mass, Quantity};
use wire::bench::{AsMade, Entry, EntryKind};
use wire::recipe::Recipe;

use super::made_for::{self, line_index};
use super::{evaluation, gate, recipe};
use crate::canonical::Sha;
use crate::error::{Error, Result};
use crate::figures::figure;
use crate::formulary;
use crate::policy::Rules;
use crate::tx::Tx;

/// Works out what was made. `None` until something was weighed, or where the record does not make a formula (such as
/// more evaporated than there was water); what is wrong then stands among the findings.
///
/// Of record: the caller's right to the batch was proved before.
pub(crate) async fn as_made(
    tx: &mut Tx<'_>,
    asked: &Recipe,
    digest: Sha,
    entries: &[Entry],
    rules: &Rules,
) -> Result<Option<AsMade>> {
    let live = || entries.iter().filter(|entry| entry.corrected_by.is_none());
    let weighings = weighings(live())?;
    if weighings.is_empty() {
        return Ok(None);
    }
    let facts = formulary::facts(tx, asked.revision, false).await?;
    let frozen = recipe::frozen_by_digest(tx, &facts, digest).await?;
    let what = made_for::asked(&asked.asked, rules.customary, "/make_for/")?;
    if frozen.assembled.evaluation.product.value().is_none() {
        return Ok(None);
    }
    let (worked, _) = recipe::scale(&frozen, &what)?;
    let percent = |value: Decimal| Fraction::percent(value).unwrap_or_default();
    let tolerances = Tolerances {
        active: percent(rules.active_tolerance_percent),
        other: percent(rules.tolerance_percent),
    };
    let came = live().rfind(|entry| entry.kind == EntryKind::Yield);
    let outcome = Outcome { made: came.and_then(grams), ..Outcome::default() };
    let made = match work(&frozen.assembled.formula, &worked, &weighings, tolerances, &what.losses, &outcome)
    {
        Ok(made) => made,
        Err(AsMadeProblem::Refused(_) | AsMadeProblem::Formula(_)) => return Ok(None),
    };
    let yields = &made.yields;
    let mut figures =
        vec![figure("theoretical yield", &yields.theoretical), figure("expected yield", &yields.expected)];
    for (name, part) in [
        ("of the theoretical yield", &yields.of_theoretical),
        ("of the expected yield", &yields.of_expected),
        ("unaccounted for", &yields.unaccounted),
    ] {
        figures.extend(part.as_ref().map(|part| figure(name, part)));
    }
    // The record shows its maker what the batch asked for, not what the preparations it asked for are made of.
    let whole = &frozen.assembled;
    let evaluation = if gate::all_open(tx, whole.nested.keys().copied()).await? {
        Some(evaluation::of(tx.reference, &frozen.written, whole, &made.evaluation)?)
    } else {
        None
    };
    Ok(Some(AsMade {
        evaluation,
        deviations: made
            .lines
            .iter()
            .filter_map(|line| {
                let name = format!("{}.{} {}", line.phase + 1, line.line + 1, line.name);
                line.deviation.as_ref().map(|deviation| figure(name, deviation))
            })
            .collect(),
        yields: figures,
        missing: made.missing.iter().map(|(phase, line)| format!("{}.{}", phase + 1, line + 1)).collect(),
    }))
}

fn grams(entry: &Entry) -> Option<Mass> {
    entry.grams.as_ref()?.parse::<Decimal>().ok().and_then(|grams| Mass::grams(grams).ok())
}

fn weighings<'a>(live: impl Iterator<Item = &'a Entry>) -> Result<Vec<Weighing>> {
    live.filter(|entry| entry.kind == EntryKind::Weighing)
        .map(|entry| {
            let place = entry.line.as_deref().and_then(line_index);
            let (Some((phase, line)), Some(mass)) = (place, grams(entry)) else {
                return Err(Error::internal("a weighing without line or mass"));
            };
            Ok(Weighing { phase, line, weighed: Quantity::of_mass(mass) })
        })
        .collect()
}
