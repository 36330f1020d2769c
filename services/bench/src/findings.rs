//! Findings: deviations of a batch record from its recipe.
//!
//! Compares recorded values with the recipe and the policy. Never here: a verdict; that is the reviewer's.

use chrono::NaiveDate;
use galenics::tolerance::Tolerances;
use galenics::use_by::Expiry;
use galenics::{Decimal, TargetPh};
use recipes::stored::{Line, Recipe};
use release::entries::Entry;
use wire::bench::{EntryKind, Finding, FindingKind};

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
    let live: Vec<&Entry> = entries.iter().filter(|entry| entry.shown.corrected_by.is_none()).collect();
    let mut out = Vec::new();
    for line in recipe.lines() {
        weighing(recipe, line, &live, rules, &mut out);
        expired(line, &live, made_on, &mut out);
    }
    for (i, step) in recipe.method.iter().enumerate() {
        let number = u32::try_from(i + 1).unwrap_or(u32::MAX);
        if let Some(text) = &step.temperature {
            temperature(number, text, &live, &mut out);
        }
        if !of_kind(&live, EntryKind::StepDone).any(|entry| entry.shown.step == Some(number)) {
            out.push(Finding {
                step: Some(number),
                sentence: format!("Step {number} ({}) is not recorded as done.", step.do_),
                ..missing("every step of the method must be recorded as done")
            });
        }
    }
    yielded(recipe, &live, &mut out);
    acidity(recipe, &live, &mut out);
    out
}

fn of_kind<'a>(live: &'a [&'a Entry], kind: EntryKind) -> impl Iterator<Item = &'a &'a Entry> {
    live.iter().filter(move |entry| entry.shown.kind == kind)
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

fn weighing(recipe: &Recipe, line: &Line, live: &[&Entry], rules: &Rules, out: &mut Vec<Finding>) {
    let of_line: Vec<&&Entry> = of_kind(live, EntryKind::Weighing)
        .filter(|entry| entry.shown.line.as_deref() == Some(line.line.as_str()))
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
    for entry in of_line.iter().filter(|entry| entry.shown.lot.is_none()) {
        out.push(Finding {
            entry: Some(entry.shown.id),
            sentence: format!("The lot of {} (entry {}) is not recorded.", line.name, entry.shown.number),
            ..base()
        });
    }
    let weighed: Decimal = of_line.iter().filter_map(|entry| entry.measured.grams).sum();
    let Some(target) = recipe.target(line) else { return };
    let function = line.function();
    let Some(found) = rules.tolerances().compare(function, target, weighed) else { return };
    if found.within {
        return;
    }
    let tight = Tolerances::is_tight(function);
    let percent = if tight { rules.active_tolerance_percent } else { rules.tolerance_percent };
    let share = (found.share.unwrap_or_default() * Decimal::ONE_HUNDRED).round_dp(2).normalize();
    let weighed = weighed.normalize();
    let asked = line.weigh.value.as_deref().map_or_else(|| shown(target), plain);
    out.push(Finding {
        kind: FindingKind::OutOfTolerance,
        entry: Some(last.shown.id),
        recorded: Some(format!("{weighed} g")),
        sentence: format!(
            "{} (line {}): weighed {weighed} g, target {}, deviation {share} % (tolerance {percent} %).",
            line.name,
            line.line,
            told(line, &asked, target),
        ),
        asked: Some(format!("{asked} g")),
        rule: format!(
            "the clinic's policy, version {}: {percent} % for {}",
            rules.version,
            if tight { "actives and preservatives" } else { "other lines" }
        ),
        ..base()
    });
}

/// The target as the recipe shows it. If rounding to the balance changed it, the exact target stands beside it, because
/// the deviation is measured from the exact target.
fn told(line: &Line, asked: &str, target: Decimal) -> String {
    let exact = shown(target);
    if line.rounding.is_some() && exact != asked {
        format!("{asked} g ({exact} g before rounding to the balance)")
    } else {
        format!("{asked} g")
    }
}

/// Twelve significant digits, as in figures.
fn shown(exact: Decimal) -> String {
    exact.round_sf(12).unwrap_or(exact).normalize().to_string()
}

/// A shown number without its trailing zeros.
fn plain(text: &str) -> String {
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text.to_owned()
    }
}

/// Lots that expired before the day of making. A lot is usable until the end of its last day.
fn expired(line: &Line, live: &[&Entry], made_on: NaiveDate, out: &mut Vec<Finding>) {
    let of_line = of_kind(live, EntryKind::Weighing)
        .filter(|entry| entry.shown.line.as_deref() == Some(line.line.as_str()));
    for entry in of_line {
        let Some(typed) = &entry.shown.lot_expires else { continue };
        let last_day = lot::expiry(typed).ok().and_then(Expiry::last_day);
        if last_day.is_some_and(|last_day| last_day < made_on) {
            out.push(Finding {
                kind: FindingKind::LotExpired,
                line: Some(line.line.clone()),
                entry: Some(entry.shown.id),
                asked: Some(format!("usable on {made_on}")),
                recorded: Some(format!("expired on {typed}")),
                sentence: format!(
                    "The lot of {} (line {}, entry {}) expired on {typed}, before the day of making, {made_on}.",
                    line.name, line.line, entry.shown.number
                ),
                ..missing("an expired lot must not be used (common practice, no source)")
            });
        }
    }
}

fn temperature(step: u32, text: &str, live: &[&Entry], out: &mut Vec<Finding>) {
    let readings: Vec<(&&Entry, Decimal)> = of_kind(live, EntryKind::Temperature)
        .filter(|entry| entry.shown.step == Some(step))
        .filter_map(|entry| Some((entry, entry.measured.celsius?)))
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
                entry: Some(entry.shown.id),
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

/// The last pH against the target of the formula.
fn acidity(recipe: &Recipe, live: &[&Entry], out: &mut Vec<Finding>) {
    let Some(target) = recipe.target_ph.as_deref().and_then(|text| TargetPh::parse(text).ok()) else {
        return;
    };
    let shown = format!("pH {}", target.text().trim_start_matches(['p', 'P', 'h', 'H', ' ']));
    let base = || Finding { asked: Some(shown.clone()), ..missing("a target pH is measured and met") };
    let Some((entry, reading)) =
        of_kind(live, EntryKind::Ph).filter_map(|entry| Some((entry, entry.measured.ph?))).last()
    else {
        out.push(Finding { sentence: format!("The target is {shown}, but no pH is recorded."), ..base() });
        return;
    };
    if !target.is_met_by(reading) {
        let reading = reading.normalize();
        out.push(Finding {
            kind: FindingKind::Ph,
            entry: Some(entry.shown.id),
            recorded: Some(format!("pH {reading}")),
            sentence: format!(
                "The target is {shown}, but pH {reading} was recorded last (entry {}). Adjust it and measure again.",
                entry.shown.number
            ),
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
    let (Some(came), Some(went)) = (entry.measured.grams, recipe.total()) else { return };
    // As many places as an entry keeps: the tail of a division decides nothing.
    if came > went.round_dp(12) {
        out.push(Finding {
            kind: FindingKind::Yield,
            entry: Some(entry.shown.id),
            asked: Some(format!("at most {} g", shown(went))),
            recorded: Some(format!("{} g", came.normalize())),
            sentence: format!(
                "Yield {} g exceeds the total input of {} g. Check the weighings and the recorded yield.",
                came.normalize(),
                shown(went)
            ),
            ..missing(rule)
        });
    }
}

#[cfg(test)]
mod tests {
    use chrono::DateTime;
    use galenics::number::dec;
    use policy::Rules;
    use release::entries::Measured;
    use serde_json::{Value, json};
    use uuid::Uuid;
    use wire::ids::{EntryId, PersonId};

    use super::*;

    fn figure(value: &str) -> Value {
        json!({ "name": "weigh", "value": value, "unit": "g", "rule": "", "sentence": "" })
    }

    /// A recipe of one line and no method. `exact` is absent in format 1.
    fn recipe(function: &str, shown: &str, exact: Option<&str>, rounded: bool) -> Recipe {
        let mut line = json!({
            "line": "1.1", "name": "lavender oil", "function": function, "as_written": "0.5 %",
            "weigh": figure(shown),
        });
        if rounded {
            line["rounding"] = figure("0");
        }
        let mut recipe = json!({
            "revision": Uuid::nil(), "formula": Uuid::nil(), "number": 1, "state": "approved", "digest": "",
            "title": "Cream", "preparation": "cream", "route": "skin", "regime": "cosmetic", "made_for": "",
            "caution_set": { "revision": Uuid::nil(), "digest": "", "cautions": [], "notice": "" },
            "asked": {}, "total": figure(shown), "phases": [], "method": [], "label": {}, "figures": [],
            "unknown": [],
        });
        if let Some(exact) = exact {
            recipe["format"] = json!(2);
            recipe["exact_total"] = json!(exact);
            line["exact_grams"] = json!(exact);
        }
        recipe["phases"] = json!([{ "name": "all", "lines": [line] }]);
        serde_json::from_value(recipe).unwrap()
    }

    fn entry(kind: EntryKind, grams: &str) -> Entry {
        let shown = wire::bench::Entry {
            id: EntryId(Uuid::nil()),
            number: 1,
            kind,
            line: (kind == EntryKind::Weighing).then(|| "1.1".into()),
            step: None,
            quantity: Some(format!("{grams} g")),
            grams: Some(grams.into()),
            converted_by: None,
            celsius: None,
            ph: None,
            lot: Some("LO-1".into()),
            lot_expires: None,
            assay: None,
            price: None,
            note: None,
            corrects: None,
            reason: None,
            corrected_by: None,
            by: PersonId(Uuid::nil()),
            at: DateTime::UNIX_EPOCH,
            mark: None,
        };
        Entry { shown, measured: Measured { grams: Some(dec(grams)), ..Measured::default() } }
    }

    /// The clinic allows 2 %, and 1 % for actives and preservatives.
    fn rules() -> Rules {
        let content = policy::beginning();
        Rules {
            version: 1,
            clinic_name: content.clinic_name,
            notice: content.notice,
            currency: content.currency,
            time_zone: content.time_zone.parse().unwrap(),
            customary: galenics::Customary::Metric,
            second_person: true,
            acknowledgement: chrono::Duration::days(180),
            countersign_audiences: Vec::new(),
            tolerance_percent: dec("2"),
            active_tolerance_percent: dec("1"),
            dating_sets_off: Vec::new(),
        }
    }

    fn found(recipe: &Recipe, weighed: &str) -> Vec<Finding> {
        let entries = [entry(EntryKind::Weighing, weighed), entry(EntryKind::Yield, "0.1")];
        findings(recipe, &entries, &rules(), NaiveDate::default())
    }

    #[test]
    fn a_weighing_is_judged_by_the_exact_target_and_not_by_what_the_balance_shows() {
        // The balance shows 5.0 g for 5.04 g. 5.1 g is 2 % off what was shown and 1.19 % off the exact target.
        let recipe = recipe("fragrance", "5.0", Some("5.04"), true);
        assert_eq!(found(&recipe, "5.1"), []);
        assert_eq!(found(&recipe, "5.14"), []);
        let off = found(&recipe, "5.15");
        assert_eq!(off[0].kind, FindingKind::OutOfTolerance);
        assert_eq!(off[0].asked.as_deref(), Some("5 g"));
        let told = "target 5 g (5.04 g before rounding to the balance), deviation 2.18 % (tolerance 2 %)";
        assert!(off[0].sentence.contains(told), "{}", off[0].sentence);
    }

    #[test]
    fn a_recipe_of_format_1_is_judged_by_what_it_showed() {
        let recipe = recipe("fragrance", "5.0", None, true);
        assert_eq!(found(&recipe, "5.1"), []);
        let off = found(&recipe, "5.14");
        assert!(off[0].sentence.contains("target 5 g, deviation 2.8 %"), "{}", off[0].sentence);
    }

    #[test]
    fn the_function_of_a_line_decides_its_tolerance_however_it_is_spelt() {
        for (function, within) in [("active", false), ("Preservative", false), ("fragrance", true)] {
            let recipe = recipe(function, "5", Some("5"), false);
            assert_eq!(found(&recipe, "5.1").is_empty(), within, "{function}");
        }
    }

    #[test]
    fn the_tail_of_a_division_makes_no_finding_of_a_yield() {
        let recipe = recipe("fragrance", "100", Some("99.99999999999999999999999999"), false);
        let entries = [entry(EntryKind::Weighing, "100"), entry(EntryKind::Yield, "100")];
        assert_eq!(findings(&recipe, &entries, &rules(), NaiveDate::default()), []);
    }
}
