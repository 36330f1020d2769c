//! A batch as made: composition, limits, yield, use-by date and cost, calculated from the recorded weighings.

use std::borrow::Cow;
use std::collections::HashSet;
use std::sync::Arc;

use chrono::NaiveDate;
use galenics::as_made::{
    AsMade as Made, AsMadeProblem, LineMade, Outcome, Weighing, YieldReport, as_made as work,
};
use galenics::cost::{Draw, cost_so_far};
use galenics::explain::{Input, Rule};
use galenics::{
    Decimal, Formula, FormulaProblem, HerbState, Ingredient, Mass, ProblemKind, Quantity, Text, units,
};
use store::{Error, Result, Tx};
use wire::bench::{AsMade, EntryKind};
use wire::calculations::cost::CostAnswer;
use wire::calculations::use_by::UseByAnswer;
use wire::figure::Figure;
use wire::recipe::{Evaluation, MakeFor};
use wire::safety::{Caution, CautionInRecipe};

use formulary::assemble::{FactsAsOf, with_facts};
use formulary::{FrozenRevision, clinic_cautions};
use judgement::answers::cost_said;
use judgement::currency::minor_digits;
use judgement::dating::{self, Dated, DatedLot};
use judgement::figures::Detail;
use judgement::place::line_index;
use judgement::written::Content;
use judgement::{Observed, Reading, evaluation, lot};
use policy::Rules;
use release::entries::Entry;
use release::{EveryLevel, ForRules, Record};

use crate::by_loss::Beside;
use crate::cache::RecipeCache;
use crate::leaves::{self, Leaves};
use crate::made_for;
use crate::stored::{Recipe, Turn};

/// What a batch asked for, what was written at the bench, and the rules and the day that it is judged by.
#[derive(Clone, Copy)]
pub struct Making<'a> {
    /// The recipe that it was opened with.
    pub asked: &'a Recipe,
    /// Every entry, corrected ones too.
    pub entries: &'a [Entry],
    /// The rules that it is made under.
    pub rules: &'a Rules,
    /// The day of making.
    pub made_on: NaiveDate,
}

/// Evaluates a batch as made, with the entries that were not corrected.
///
/// Returns `None` before the first weighing, and if the record cannot be evaluated, for example because more evaporated
/// than there was water; the findings then name the cause. The evaluation is left out unless `levels` proves a grant
/// of the reader for every nested revision. Without these the date is that of the approved formula with the dates of the lots, since
/// typed weighings and readings would tell nested amounts by the date that follows from them.
///
/// # Errors
/// Returns [`Error::Internal`] if the frozen content or an entry cannot be read, and the errors of the database.
pub async fn as_made<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    levels: Option<&EveryLevel<'_, 't>>,
    making: &Making<'_>,
    detail: Detail,
) -> Result<Option<AsMade>> {
    let &Making { asked, entries, rules, made_on } = making;
    if !entries.iter().any(|entry| entry.shown.kind == EntryKind::Weighing) {
        return Ok(None);
    }
    let facts = formulary::facts(tx, record.revision()).await?;
    let frozen = cache.frozen(tx, &facts, record.digest()).await?.open(record)?;
    let frozen = Arc::clone(frozen.content());
    let Some(made) = worked_out(tx, &frozen, asked, entries, rules).await? else { return Ok(None) };
    let (observed, lots) = (observed(&frozen.written.content, entries), lots(asked, entries));
    let (switched_off, reference) = (dating::switched_off(&rules.dating_sets_off), Arc::clone(tx.reference));
    let formula = Arc::clone(&frozen.assembled.formula);
    let (digest, telling) = (*record.digest(), levels.is_some());
    let evaporates = asked.asked.evaporation_loss.is_some();
    let beside = match levels {
        Some(_) if evaporates => {
            let nested = frozen.assembled.nested.clone();
            let whole = with_facts(tx, facts.formula, &frozen.written, nested, FactsAsOf::Now).await?;
            Some((whole, clinic_cautions::read(tx).await?))
        }
        Some(_) | None => None,
    };
    let acknowledged = asked.caution_set.clone().turn();
    let judged = tx.calculate(move || {
        let FrozenRevision { written, assembled: whole } = &*frozen;
        let dated = |evaluation, observed| {
            let of = Dated { made_on, evaluation, observed, lots, switched_off: &switched_off };
            dating::use_by(&reference, written, whole, of, detail)
        };
        let judged = if telling {
            let evaluation = evaluation::of(&reference, written, whole, &made.evaluation, &observed, detail)?;
            let cautions =
                match &beside {
                    Some((whole, own)) => Beside { reference: &reference, frozen: &frozen, whole, own }
                        .raised(&acknowledged, made.evaluation.clone(), &observed)?,
                    None => Vec::new(),
                };
            let told = (evaluation, dated(&made.evaluation, &observed)?, cautions);
            Judged::ByWeighings(Leaves::of(digest, Box::new(told)))
        } else {
            // Of the planned evaporation it says only that there is one: how much left would tell nested amounts.
            let planned = if evaporates {
                Cow::Owned(whole.evaluation.evaporated_unmeasured())
            } else {
                Cow::Borrowed(&whole.evaluation)
            };
            let mut use_by = dated(&planned, &Observed::as_written(&written.content))?;
            leaves::close_use_by(&mut use_by);
            Judged::AsPlanned(use_by)
        };
        Ok((made, judged))
    });
    let (made, judged) = judged.await?;
    let (evaluation, use_by, cautions) = match (judged, levels) {
        (Judged::ByWeighings(shut), Some(levels)) => {
            let (evaluation, use_by, cautions) = *shut.open(levels)?;
            (Some(evaluation), use_by, cautions)
        }
        (Judged::ByWeighings(_), None) => return Err(Error::internal("judged for a reader of every level")),
        (Judged::AsPlanned(use_by), _) => (None, use_by, Vec::new()),
    };
    let missing: Vec<String> =
        made.missing.iter().map(|(phase, line)| format!("{}.{}", phase + 1, line + 1)).collect();
    Ok(Some(AsMade {
        evaluation,
        use_by: Some(use_by),
        cautions: cautions.iter().map(CautionInRecipe::from).collect(),
        cost: cost(&formula, asked, live(entries), &missing, rules, detail)?,
        deviations: deviations(&made.lines, detail),
        yields: [yields(&made, detail), losses(entries, detail)].concat(),
        missing,
    }))
}

/// The lines that leave with the marc, by their places such as `1.2`.
pub type Marc = HashSet<String>;

/// The lines of a batch whose material leaves with the marc and gives no water of its own: its dried herbs. They are those
/// of the formula itself.
///
/// # Errors
/// Returns [`Error::Internal`] if the frozen content cannot be read, and the errors of the database.
pub async fn marc<'t>(tx: &mut Tx<'t>, cache: &RecipeCache, record: &Record<'t>) -> Result<Marc> {
    let facts = formulary::facts(tx, record.revision()).await?;
    let frozen = cache.frozen(tx, &facts, record.digest()).await?.open(record)?;
    let assembled = &frozen.content().assembled;
    let phases = assembled.formula.phases.iter().zip(&assembled.evaluation.phases).enumerate();
    let lines = phases.flat_map(|(p, (of, figures))| {
        of.lines.iter().zip(&figures.lines).enumerate().map(move |(l, (line, figures))| (p, l, line, figures))
    });
    let fresh = |ingredient: &Ingredient| {
        let Ingredient::Material(facts) = ingredient else { return false };
        matches!(facts.herb, Some(HerbState::Fresh { .. }))
    };
    let leaves = lines.filter(|(_, _, line, figures)| !figures.stays && !fresh(&line.ingredient));
    Ok(leaves.map(|(p, l, ..)| format!("{}.{}", p + 1, l + 1)).collect())
}

/// What was judged of a batch.
enum Judged {
    /// The evaluation of the weighings, the date and the cautions that follow from it, which tell amounts of what is nested.
    ByWeighings(Leaves<Box<(Evaluation, UseByAnswer, Vec<Caution>)>>),
    /// The date of the approved formula.
    AsPlanned(UseByAnswer),
}

fn deviations(lines: &[LineMade], detail: Detail) -> Vec<Figure> {
    let off = lines.iter().filter_map(|line| Some((line, line.deviation.as_ref()?)));
    off.map(|(line, deviation)| {
        detail.figure(format!("{}.{} {}", line.phase + 1, line.line + 1, line.name), deviation)
    })
    .collect()
}

fn yields(made: &Made, detail: Detail) -> Vec<Figure> {
    let yields: &YieldReport = &made.yields;
    let mut figures = vec![
        detail.figure("theoretical yield", &yields.theoretical),
        detail.figure("expected yield", &yields.expected),
    ];
    for (name, part) in [
        ("of the theoretical yield", &yields.of_theoretical),
        ("of the expected yield", &yields.of_expected),
        ("unaccounted for", &yields.unaccounted),
        ("more than can evaporate", &made.too_much_evaporated),
    ] {
        figures.extend(part.as_ref().map(|part| detail.figure(name, part)));
    }
    figures
}

/// The name of a weighed material with its line and lot.
fn named(asked: &Recipe, entry: &Entry) -> String {
    let place = entry.shown.line.as_deref().unwrap_or_default();
    let name = name_at(asked, place);
    match &entry.shown.lot {
        Some(lot) => format!("{name} (line {place}, lot {lot})"),
        None => format!("{name} (line {place})"),
    }
}

fn name_at<'a>(asked: &'a Recipe, place: &str) -> &'a str {
    asked.lines().find(|line| line.line == place).map_or("what was weighed", |line| line.name.as_str())
}

/// The entries that were not corrected. Corrected entries stay readable but do not count.
fn live(entries: &[Entry]) -> impl DoubleEndedIterator<Item = &Entry> + Clone {
    entries.iter().filter(|entry| entry.shown.corrected_by.is_none())
}

fn reading(entry: &Entry) -> Option<Reading<'_>> {
    let (shown, measured) = (&entry.shown, &entry.measured);
    match shown.kind {
        EntryKind::Weighing => Some(Reading::Weighing {
            place: line_index(shown.line.as_deref()?)?,
            assay: shown.assay.as_deref(),
        }),
        EntryKind::Temperature => {
            Some(Reading::Temperature { step: shown.step?, celsius: measured.celsius? })
        }
        EntryKind::Ph => measured.ph.map(Reading::Ph),
        EntryKind::WaterActivity => measured.water_activity.map(Reading::WaterActivity),
        _ => None,
    }
}

/// The measurements of a batch.
pub(crate) fn observed(content: &Content, entries: &[Entry]) -> Observed {
    Observed::at_the_bench(content, live(entries).filter_map(reading))
}

/// The weighed lots that have an expiry date.
pub(crate) fn lots(asked: &Recipe, entries: &[Entry]) -> Vec<DatedLot> {
    live(entries)
        .filter(|entry| entry.shown.kind == EntryKind::Weighing)
        .filter_map(|entry| {
            let expiry = lot::expiry(entry.shown.lot_expires.as_deref()?).ok()?;
            let place = entry.shown.line.as_deref();
            let line = asked.lines().find(|line| Some(line.line.as_str()) == place);
            let nested = line.and_then(|line| line.nested_revision);
            Some(DatedLot { name: named(asked, entry).into(), expiry, nested })
        })
        .collect()
}

/// The cost of the weighed lots. `None` if no price was entered; the total is unknown while a line is missing. A price by
/// volume of a nested preparation stays unknown: at the density that was worked out, the cost would tell it.
fn cost<'a>(
    formula: &Formula,
    asked: &Recipe,
    live: impl Iterator<Item = &'a Entry>,
    missing: &[String],
    rules: &Rules,
    detail: Detail,
) -> Result<Option<CostAnswer>> {
    let weighed = live.filter(|entry| entry.shown.kind == EntryKind::Weighing);
    let mut draws = Vec::new();
    for entry in weighed {
        let price =
            entry.shown.price.as_deref().map(|text| lot::price(text, &rules.currency, rules.customary));
        let (Some(mass), Ok(price)) = (grams(entry), price.transpose()) else {
            return Err(Error::internal("a weighing whose mass or price cannot be read"));
        };
        let place = entry.shown.line.as_deref().and_then(line_index);
        let line = place.and_then(|(phase, line)| formula.phases.get(phase)?.lines.get(line));
        let density = line.and_then(|line| match &line.ingredient {
            Ingredient::Material(material) => material.density.clone(),
            Ingredient::Nested(nested) => nested.density().cloned(),
        });
        let quantity = Quantity::of_mass(mass);
        draws.push(Draw { name: named(asked, entry).into(), quantity, price, density });
    }
    if draws.iter().all(|draw| draw.price.is_none()) {
        return Ok(None);
    }
    let currency = rules.currency.clone();
    let digits = minor_digits(&currency);
    let missing = missing.iter().map(|place| format!("{} (line {place})", name_at(asked, place)).into());
    let missing: Vec<Text> = missing.collect();
    let found = cost_so_far(&draws, &[], &missing, &currency.into(), digits, asked.asked.containers)
        .map_err(|refusal| Error::internal(refusal.says.to_string()))?;
    Ok(Some(cost_said(&found, detail)))
}

/// The lines of which nothing was weighed, as phase and line counted from 0.
pub(crate) fn not_weighed(asked: &Recipe, entries: &[Entry]) -> Vec<(usize, usize)> {
    let weighed = |place: &str| {
        live(entries)
            .filter(|entry| entry.shown.kind == EntryKind::Weighing)
            .any(|entry| entry.shown.line.as_deref() == Some(place))
    };
    asked.lines().filter(|line| !weighed(&line.line)).filter_map(|line| line_index(&line.line)).collect()
}

/// The evaluation of the weighings. Each line is compared with the target that was stored when the batch was opened.
/// `None` if nothing was weighed or the weighings do not form a valid formula.
pub(crate) async fn worked_out(
    tx: &Tx<'_>,
    frozen: &Arc<FrozenRevision>,
    asked: &Recipe,
    entries: &[Entry],
    rules: &Rules,
) -> Result<Option<Made>> {
    let weighings = weighings(live(entries))?;
    if weighings.is_empty() || frozen.assembled.evaluation.product.value().is_none() {
        return Ok(None);
    }
    let request: MakeFor = asked.asked.clone().turn();
    let losses = made_for::asked(&request, rules.customary, "/make_for/")?.losses;
    let came = live(entries).rfind(|entry| entry.shown.kind == EntryKind::Yield);
    let evaporates = asked.asked.evaporation_loss.is_some();
    let outcome = Outcome { made: came.and_then(grams), ..lost(entries, evaporates) };
    let formula = Arc::clone(&frozen.assembled.formula);
    let (targets, tolerances) = (asked.targets(), rules.tolerances());
    let stopped =
        |problems: &[FormulaProblem]| problems.iter().any(|problem| problem.kind == ProblemKind::Interrupted);
    tx.calculate(move || match work(&formula, &targets, &weighings, tolerances, &losses, &outcome) {
        Ok(made) => Ok(Some(made)),
        Err(AsMadeProblem::Formula(problems)) if stopped(&problems) => {
            Err(judgement::Error::Interrupted.into())
        }
        Err(AsMadeProblem::Refused(_) | AsMadeProblem::Formula(_)) => Ok(None),
    })
    .await
}

/// What a batch lost and what was kept as samples. Where the recipe plans an evaporation, what left is what is missing of the
/// yield, whatever was written of it: an entry cannot make the product weaker than it may be. Where none is planned, what
/// evaporated is accounted for as what stays behind is.
fn lost(entries: &[Entry], evaporates: bool) -> Outcome {
    let sum = |kinds: &[EntryKind]| {
        let of_kinds = live(entries).filter(|entry| kinds.contains(&entry.shown.kind));
        let all: Vec<Decimal> = of_kinds.filter_map(|entry| entry.measured.grams).collect();
        (!all.is_empty()).then(|| all.iter().sum()).and_then(|sum| Mass::grams(sum).ok())
    };
    use EntryKind as K;
    let behind: &[K] = match evaporates {
        true => &[K::TransferLoss, K::SpillLoss],
        false => &[K::TransferLoss, K::SpillLoss, K::EvaporationLoss],
    };
    Outcome { made: None, evaporated: None, samples: sum(&[K::Sample]), transfer: sum(behind) }
}

/// What was lost by kind, and what was kept as samples: each the sum of its entries.
fn losses(entries: &[Entry], detail: Detail) -> Vec<Figure> {
    use EntryKind as K;
    let named = [
        (K::EvaporationLoss, "lost by evaporation"),
        (K::TransferLoss, "lost in pots and on tools"),
        (K::SpillLoss, "spilt"),
        (K::MarcLoss, "marc"),
        (K::Sample, "samples kept"),
    ];
    let figure = |(kind, name): (K, &'static str)| {
        let of_kind = live(entries).filter(|entry| entry.shown.kind == kind);
        let all: Vec<Decimal> = of_kind.filter_map(|entry| entry.measured.grams).collect();
        let inputs = vec![Input::number("count", Decimal::from(all.len()), units::RATIO)];
        let sum = galenics::Figure::number(all.iter().sum(), units::GRAM, &LOST, inputs);
        (!all.is_empty()).then(|| detail.figure(name, &sum))
    };
    named.into_iter().filter_map(figure).collect()
}

static LOST: Rule = Rule::definition("lost_or_kept", "total of {count} entries: {=}");

fn grams(entry: &Entry) -> Option<Mass> {
    Mass::grams(entry.measured.grams?).ok()
}

fn weighings<'a>(live: impl Iterator<Item = &'a Entry>) -> Result<Vec<Weighing>> {
    live.filter(|entry| entry.shown.kind == EntryKind::Weighing)
        .map(|entry| {
            let place = entry.shown.line.as_deref().and_then(line_index);
            let (Some((phase, line)), Some(mass)) = (place, grams(entry)) else {
                return Err(Error::internal("a weighing without line or mass"));
            };
            Ok(Weighing { phase, line, weighed: Quantity::of_mass(mass) })
        })
        .collect()
}
