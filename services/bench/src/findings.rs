//! Findings: deviations of a batch record from its recipe.
//!
//! Compares recorded values with the recipe and the policy. Never here: a verdict; that is the reviewer's.

use chrono::NaiveDate;
use galenics::Decimal;
use galenics::use_by::Expiry;
use wire::bench::{Entry, EntryKind, Finding, FindingKind};
use wire::recipe::{Recipe, RecipeLine};

use judgement::{StepTemperature, lot};
use policy::Rules;

/// Every deviation in tolerance, date, temperature or yield, and every missing entry, in the order of the recipe.
pub(crate) fn findings(
    recipe: &Recipe,
    entries: &[Entry],
    rules: &Rules,
    made_on: NaiveDate,
) -> Vec<Finding> {
    // Corrected entries stay readable but do not count.
    let live: Vec<&Entry> = entries.iter().filter(|entry| entry.corrected_by.is_none()).collect();
    let mut out = Vec::new();
    for line in recipe.phases.iter().flat_map(|phase| &phase.lines) {
        weighing(line, &live, rules, &mut out);
        expired(line, &live, made_on, &mut out);
    }
    for (i, step) in recipe.method.iter().enumerate() {
        let number = u32::try_from(i + 1).unwrap_or(u32::MAX);
        if let Some(text) = &step.temperature {
            temperature(number, text, &live, &mut out);
        }
        if !of_kind(&live, EntryKind::StepDone).any(|entry| entry.step == Some(number)) {
            out.push(Finding {
                step: Some(number),
                sentence: format!("Step {number} ({}) is not recorded as done.", step.do_),
                ..missing("every step of the method must be recorded as done")
            });
        }
    }
    yielded(recipe, &live, &mut out);
    out
}

fn of_kind<'a>(live: &'a [&'a Entry], kind: EntryKind) -> impl Iterator<Item = &'a &'a Entry> {
    live.iter().filter(move |entry| entry.kind == kind)
}

fn missing(rule: &str) -> Finding {
    Finding {
        kind: FindingKind::Missing,
        line: None,
        step: None,
        entry: None,
        asked: None,
        recorded: None,
        sentence: String::new(),
        rule: rule.to_owned(),
    }
}

fn decimal(text: Option<&String>) -> Option<Decimal> {
    text.and_then(|text| text.parse().ok())
}

fn weighing(line: &RecipeLine, live: &[&Entry], rules: &Rules, out: &mut Vec<Finding>) {
    let of_line: Vec<&&Entry> = of_kind(live, EntryKind::Weighing)
        .filter(|entry| entry.line.as_deref() == Some(line.line.as_str()))
        .collect();
    let base = || Finding {
        line: Some(line.line.clone()),
        ..missing("every line must be weighed and its lot recorded")
    };
    let Some(last) = of_line.last() else {
        out.push(Finding {
            asked: line.weigh.value.as_ref().map(|value| format!("{value} g")),
            sentence: format!("No weighing of {} (line {}) is recorded.", line.name, line.line),
            ..base()
        });
        return;
    };
    for entry in of_line.iter().filter(|entry| entry.lot.is_none()) {
        out.push(Finding {
            entry: Some(entry.id),
            sentence: format!("The lot of {} (entry {}) is not recorded.", line.name, entry.number),
            ..base()
        });
    }
    let weighed: Decimal = of_line.iter().filter_map(|entry| decimal(entry.grams.as_ref())).sum();
    let Some(asked) = decimal(line.weigh.value.as_ref()) else { return };
    let tight = matches!(line.function.as_deref(), Some("active" | "preservative"));
    let percent = if tight { rules.active_tolerance_percent } else { rules.tolerance_percent };
    let allowed = (asked * percent).checked_div(Decimal::ONE_HUNDRED).unwrap_or_default();
    let off = weighed - asked;
    if off.abs() > allowed {
        let share =
            (off * Decimal::ONE_HUNDRED).checked_div(asked).unwrap_or_default().round_dp(2).normalize();
        out.push(Finding {
            kind: FindingKind::OutOfTolerance,
            entry: Some(last.id),
            asked: Some(format!("{} g", asked.normalize())),
            recorded: Some(format!("{} g", weighed.normalize())),
            sentence: format!(
                "{} (line {}): weighed {} g, target {} g, deviation {share} % (tolerance {percent} %).",
                line.name,
                line.line,
                weighed.normalize(),
                asked.normalize(),
            ),
            rule: format!(
                "the clinic's policy, version {}: {percent} % for {}",
                rules.version,
                if tight { "actives and preservatives" } else { "other lines" }
            ),
            ..base()
        });
    }
}

/// Lots that expired before the day of making. A lot is usable until the end of its last day.
fn expired(line: &RecipeLine, live: &[&Entry], made_on: NaiveDate, out: &mut Vec<Finding>) {
    let of_line =
        of_kind(live, EntryKind::Weighing).filter(|entry| entry.line.as_deref() == Some(line.line.as_str()));
    for entry in of_line {
        let Some(typed) = &entry.lot_expires else { continue };
        let last_day = lot::expiry(typed).ok().and_then(Expiry::last_day);
        if last_day.is_some_and(|last_day| last_day < made_on) {
            out.push(Finding {
                kind: FindingKind::LotExpired,
                line: Some(line.line.clone()),
                entry: Some(entry.id),
                asked: Some(format!("usable on {made_on}")),
                recorded: Some(format!("expired on {typed}")),
                sentence: format!(
                    "The lot of {} (line {}, entry {}) expired on {typed}, before the day of making, {made_on}.",
                    line.name, line.line, entry.number
                ),
                ..missing("an expired lot must not be used (common practice, no source)")
            });
        }
    }
}

fn temperature(step: u32, text: &str, live: &[&Entry], out: &mut Vec<Finding>) {
    let readings: Vec<(&&Entry, Decimal)> = of_kind(live, EntryKind::Temperature)
        .filter(|entry| entry.step == Some(step))
        .filter_map(|entry| Some((entry, decimal(entry.celsius.as_ref())?)))
        .collect();
    let base = || Finding {
        step: Some(step),
        asked: Some(text.to_owned()),
        ..missing("a step with a temperature must have a recorded temperature")
    };
    if readings.is_empty() {
        out.push(Finding {
            sentence: format!("Step {step} specifies {text}, but no temperature is recorded."),
            ..base()
        });
        return;
    }
    let Ok(asked) = StepTemperature::parse(text) else { return };
    for (entry, reading) in &readings {
        if let Some(rule) = asked.broken_by(*reading) {
            out.push(Finding {
                kind: FindingKind::Temperature,
                entry: Some(entry.id),
                recorded: Some(format!("{} C", reading.normalize())),
                sentence: format!(
                    "Step {step} specifies {text}, but {} C was recorded.",
                    reading.normalize()
                ),
                rule: rule.to_owned(),
                ..base()
            });
        }
    }
    let all: Vec<Decimal> = readings.iter().map(|(_, reading)| *reading).collect();
    if asked.too_far_apart(&all) {
        out.push(Finding {
            kind: FindingKind::Temperature,
            sentence: format!("Step {step} specifies {text}, but the recorded temperatures differ by more."),
            rule: "the phase temperatures must not differ by more than the step permits".to_owned(),
            ..base()
        });
    }
}

fn yielded(recipe: &Recipe, live: &[&Entry], out: &mut Vec<Finding>) {
    let rule = "the yield must not exceed the total input";
    let Some(entry) = of_kind(live, EntryKind::Yield).last() else {
        out.push(Finding {
            sentence: "No yield is recorded.".into(),
            ..missing("the yield must be weighed")
        });
        return;
    };
    let (Some(came), Some(went)) = (decimal(entry.grams.as_ref()), decimal(recipe.total.value.as_ref()))
    else {
        return;
    };
    if came > went {
        out.push(Finding {
            kind: FindingKind::Yield,
            entry: Some(entry.id),
            asked: Some(format!("at most {} g", went.normalize())),
            recorded: Some(format!("{} g", came.normalize())),
            sentence: format!(
                "Yield {} g exceeds the total input of {} g. Check the weighings and the recorded yield.",
                came.normalize(),
                went.normalize()
            ),
            ..missing(rule)
        });
    }
}
