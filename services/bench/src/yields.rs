//! Findings about the yield: more than went in, or less than was expected.

use galenics::Decimal;
use recipes::Marc;
use recipes::stored::Recipe;
use release::entries::Entry;
use wire::bench::{EntryKind, Finding, FindingKind, ReviewComment};
use wire::ids::EntryId;

use crate::found::{missing, of_kind, shown};

/// The deviations of the yield from everything that went in.
pub(crate) fn of_yield(recipe: &Recipe, entries: &[Entry], marc: &Marc) -> Vec<Finding> {
    let live: Vec<&Entry> = entries.iter().filter(|entry| entry.shown.corrected_by.is_none()).collect();
    let mut out = Vec::new();
    yielded(recipe, &live, marc, &mut out);
    out
}

/// What is found of the last yield.
pub(crate) fn yielded(recipe: &Recipe, live: &[&Entry], marc: &Marc, out: &mut Vec<Finding>) {
    match of_kind(live, EntryKind::Yield).last() {
        Some(entry) => {
            out.extend(too_much(recipe, entry, live, marc));
            out.extend(too_little(recipe, entry, live, marc));
        }
        None => out.push(Finding {
            sentence: "No yield is recorded.".into(),
            ..missing("the yield must be weighed")
        }),
    }
}

fn too_much(recipe: &Recipe, entry: &Entry, live: &[&Entry], marc: &Marc) -> Option<Finding> {
    let (came, went) = (entry.measured.grams?, went_in(recipe, live, marc)?);
    // As many places as an entry keeps: the tail of a division decides nothing.
    if came <= went.round_dp(12) {
        return None;
    }
    let (told, rule) = if marc.is_empty() {
        ("the total input,", "the yield must not exceed the total input")
    } else {
        (
            "the input without dried herbs,",
            "the yield must not exceed the input that stays after the marc is removed",
        )
    };
    Some(Finding {
        kind: FindingKind::Yield,
        entry: Some(entry.shown.id),
        asked: Some(format!("at most {} g", shown(went))),
        recorded: Some(format!("{} g", came.normalize())),
        sentence: format!(
            "Yield {} g exceeds {told} {} g. Check the weighings and the recorded yield. Before acceptance, \
             the maker's note or a reviewer's comment must explain it.",
            came.normalize(),
            shown(went)
        ),
        ..missing(rule)
    })
}

/// How much of the expected yield must come out, in per cent. Common practice, no source.
const LEAST_YIELD_PERCENT: Decimal = Decimal::from_parts(90, 0, 0, false, 0);

/// What is expected to come out, in g: the quantity that the recipe was asked for, its planned losses taken off. What a marc
/// keeps is not known, so nothing is expected of a recipe with one.
pub(crate) fn expected(recipe: &Recipe, marc: &Marc) -> Option<Decimal> {
    if !marc.is_empty() {
        return None;
    }
    // A recipe in its own quantity states no net, and has no losses.
    let net = recipe.figures.iter().find(|figure| figure.name == "net").unwrap_or(&recipe.total);
    galenics::number::parse(net.value.as_deref()?).ok().filter(|_| net.unit == "g")
}

/// A yield that is far below what was expected.
fn too_little(recipe: &Recipe, entry: &Entry, live: &[&Entry], marc: &Marc) -> Option<Finding> {
    let expected = expected(recipe, marc)?;
    let (came, hundred) = (entry.measured.grams?, Decimal::from(100));
    let share = came.checked_mul(hundred)?.checked_div(expected)?;
    // What was lost or kept as a sample, by its entries, is where the rest stayed.
    let told =
        live.iter().filter(|entry| entry.shown.kind.is_loss() || entry.shown.kind == EntryKind::Sample);
    let told: Decimal = told.filter_map(|entry| entry.measured.grams).sum();
    let explained =
        came.checked_add(told)?.checked_mul(hundred)?.checked_div(expected)? >= LEAST_YIELD_PERCENT;
    (share < LEAST_YIELD_PERCENT && !explained).then(|| Finding {
        kind: FindingKind::YieldLow,
        entry: Some(entry.shown.id),
        asked: Some(format!("at least {LEAST_YIELD_PERCENT} % of {} g", shown(expected))),
        recorded: Some(format!("{} g", came.normalize())),
        sentence: format!(
            "Yield {} g is {} % of the expected {} g. Record the losses and samples that are the rest.",
            came.normalize(),
            shown(share),
            shown(expected)
        ),
        ..missing("the yield must be at least 90 % of what was expected (common practice, no source)")
    })
}

/// All that went in and stays, in g: of each line what was weighed, or what was asked for where nothing was or that is more.
fn went_in(recipe: &Recipe, live: &[&Entry], marc: &Marc) -> Option<Decimal> {
    let mut sum = Decimal::ZERO;
    for line in recipe.lines().filter(|line| !marc.contains(&line.line)) {
        let weighed: Decimal = of_kind(live, EntryKind::Weighing)
            .filter(|entry| entry.shown.line.as_deref() == Some(line.line.as_str()))
            .filter_map(|entry| entry.measured.grams)
            .sum();
        let target = recipe.target(line);
        sum = sum
            .checked_add(target.map_or(weighed, |target| target.max(weighed)))
            .filter(|_| target.is_some() || !weighed.is_zero())?;
    }
    Some(sum)
}

/// The yields that exceed what went in and that nothing explains: neither a note with the entry nor one of `comments`.
pub(crate) fn unexplained<'f>(
    findings: &'f [Finding],
    entries: &[Entry],
    comments: &[ReviewComment],
) -> Option<&'f Finding> {
    let noted = |id: EntryId| {
        let note =
            entries.iter().find(|entry| entry.shown.id == id).and_then(|entry| entry.shown.note.as_ref());
        note.is_some_and(|note| !note.trim().is_empty())
            || comments.iter().any(|comment| comment.entry == Some(id))
    };
    let yields = findings.iter().filter(|finding| finding.kind == FindingKind::Yield);
    yields.into_iter().find(|finding| !finding.entry.is_some_and(noted))
}
