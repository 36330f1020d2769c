//! Findings about the checks before the start: what is not recorded, what failed, and what came after the first weighing.

use recipes::stored::Recipe;
use release::entries::Entry;
use wire::bench::{EntryKind, Finding, FindingKind};
use wire::checks::{Check, CheckKind};

use crate::beside::Beside;

/// What a person reads of a kind of check.
const fn name(kind: CheckKind) -> &'static str {
    match kind {
        CheckKind::LineClearance => "line clearance",
        CheckKind::Cleaning => "cleaning and sanitising",
        CheckKind::CheckWeight => "check-weight",
        CheckKind::Thermometer => "thermometer check",
        CheckKind::PhMeter => "pH meter check",
        CheckKind::Room => "room conditions",
        CheckKind::Equipment => "equipment",
    }
}

/// The checks that the making of this recipe needs: each where the method uses what it checks.
fn needed(recipe: &Recipe) -> Vec<CheckKind> {
    use CheckKind as K;
    let names_ph = |text: &str| text.split(|c: char| !c.is_alphanumeric()).any(|word| word == "pH");
    let weighs = recipe.lines().next().is_some();
    let heats = recipe.method.iter().any(|step| step.temperature.is_some());
    let ph = recipe.target_ph.is_some() || recipe.method.iter().any(|step| names_ph(&step.do_));
    [
        (K::LineClearance, true),
        (K::Cleaning, true),
        (K::CheckWeight, weighs),
        (K::Thermometer, heats),
        (K::PhMeter, ph),
        (K::Room, true),
        (K::Equipment, true),
    ]
    .into_iter()
    .filter_map(|(kind, wanted)| wanted.then_some(kind))
    .collect()
}

/// What is found of the checks of a record that is asked for them.
pub(crate) fn checks(recipe: &Recipe, entries: &[Entry], beside: &Beside) -> Vec<Finding> {
    let mut out = Vec::new();
    if !beside.checks_asked {
        return out;
    }
    let live: Vec<&Check> = beside.checks.iter().filter(|check| check.corrected_by.is_none()).collect();
    let missing: Vec<&str> = needed(recipe)
        .into_iter()
        .filter(|kind| !live.iter().any(|check| check.kind == *kind))
        .map(name)
        .collect();
    if !missing.is_empty() {
        out.push(Finding {
            asked: Some(missing.join(", ")),
            sentence: format!("Before the start these are not recorded: {}.", missing.join(", ")),
            ..of("the record must hold the checks before the start and the equipment used")
        });
    }
    let first = entries.iter().find(|entry| entry.shown.kind == EntryKind::Weighing);
    for kind in CheckKind::ALL {
        let of_kind = || live.iter().filter(|check| check.kind == *kind);
        // The last one says how it was when it was made.
        if let Some(last) = of_kind().next_back().filter(|check| check.passed == Some(false)) {
            out.push(failed(last));
        }
        let before = matches!(kind, CheckKind::LineClearance | CheckKind::Cleaning | CheckKind::CheckWeight);
        let earliest = of_kind().map(|check| origin(check, &beside.checks).after_entry).min();
        if let (true, Some(after), Some(first)) = (before, earliest, first)
            && after >= first.shown.number
        {
            out.push(Finding {
                asked: Some("before the first weighing".to_owned()),
                recorded: Some(format!("after entry {after}")),
                sentence: format!(
                    "The {} was recorded after the first weighing (entry {}).",
                    name(*kind),
                    first.shown.number
                ),
                ..of("line clearance, cleaning and the check-weight come before the first weighing")
            });
        }
    }
    out
}

fn failed(check: &Check) -> Finding {
    let (reference, reading, tolerance) = (&check.reference, &check.reading, &check.tolerance);
    let meter = check.instrument.as_deref().unwrap_or_default();
    let sentence = match (reference, reading, tolerance) {
        (Some(reference), Some(reading), Some(tolerance)) => format!(
            "The {} of {meter} failed: {reading} shown for {reference}, tolerance {tolerance}.",
            name(check.kind)
        ),
        _ => format!(
            "The {} was not as it must be: {}",
            name(check.kind),
            check.note.as_deref().unwrap_or_default()
        ),
    };
    Finding {
        asked: reference.clone(),
        recorded: reading.clone(),
        sentence,
        ..of("a check before the start must pass")
    }
}

/// The check that was written first of those that correct each other: an honest correction costs nothing.
fn origin<'c>(check: &'c Check, all: &'c [Check]) -> &'c Check {
    let mut first = check;
    // Each correction comes after what it corrects, so this ends.
    while let Some(before) = first.corrects.and_then(|id| all.iter().find(|one| one.id == id)) {
        first = before;
    }
    first
}

fn of(rule: &str) -> Finding {
    Finding {
        kind: FindingKind::Check,
        line: None,
        step: None,
        entry: None,
        asked: None,
        recorded: None,
        sentence: String::new(),
        rule: rule.to_owned(),
    }
}
