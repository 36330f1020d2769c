//! Findings: deviations of a batch record from its recipe.
//!
//! Compares recorded values with the recipe and the policy. Never here: a verdict; that is the reviewer's.

use chrono::NaiveDate;
use galenics::as_made::deviation;
use galenics::tolerance::Tolerances;
use galenics::use_by::Expiry;
use galenics::{Decimal, TargetPh, units};
use recipes::Marc;
use recipes::stored::{Line, Recipe};
use release::entries::{Entry, Place};
use wire::bench::{EntryKind, Finding, FindingKind};

use judgement::{StepTemperature, lot};
use policy::Rules;

use crate::beside::Beside;
use crate::found::{missing, of_kind, shown};
use crate::yields::yielded;
use crate::{deviations, holds, method, readiness};

/// Every deviation in tolerance, date, temperature or yield, and every missing entry, in the order of the recipe.
pub(crate) fn findings(
    recipe: &Recipe,
    entries: &[Entry],
    rules: &Rules,
    made_on: NaiveDate,
    (marc, beside): (&Marc, &Beside),
) -> Vec<Finding> {
    // Corrected entries stay readable but do not count.
    let live: Vec<&Entry> = entries.iter().filter(|entry| entry.shown.corrected_by.is_none()).collect();
    let mut out = Vec::new();
    for line in recipe.lines() {
        weighing(recipe, line, &live, (rules, beside), &mut out);
        let of_line = of_kind(&live, EntryKind::Weighing)
            .filter(|entry| entry.shown.line.as_deref() == Some(line.line.as_str()));
        out.extend(of_line.filter_map(|entry| expired(line, entry, made_on)));
    }
    for (i, step) in recipe.method.iter().enumerate() {
        let number = u32::try_from(i + 1).unwrap_or(u32::MAX);
        let is_done = of_kind(&live, EntryKind::StepDone).any(|entry| entry.shown.step == Some(number));
        if step.rescue && !is_done {
            continue;
        }
        if let Some(text) = &step.temperature {
            temperature(number, text, &live, &mut out);
        }
        if !is_done {
            out.push(Finding {
                step: Some(number),
                sentence: format!("Step {number} ({}) is not recorded as done.", step.do_),
                ..missing("every step of the method must be recorded as done")
            });
        }
    }
    out.extend(method::steps(recipe, entries, &beside.pauses));
    yielded(recipe, &live, marc, &mut out);
    acidity(recipe, &live, &mut out);
    out.extend(labels(&live));
    let done: Vec<u32> = of_kind(&live, EntryKind::StepDone).filter_map(|entry| entry.shown.step).collect();
    if beside.checks_asked {
        let off = out.iter().filter(|finding| finding.kind == FindingKind::OutOfTolerance);
        let off: Vec<String> = off.filter_map(|finding| finding.line.clone()).collect();
        out.extend(deviations::unauthorised(&live, &beside.authorisations, &off));
        out.extend(holds::unreleased(recipe, &done, &beside.releases));
    }
    out.extend(readiness::checks(recipe, entries, beside));
    out
}

/// The deviations of an entry that was just written, at its line or step: what [`findings`] answers of it, but for
/// lines and steps that are still to come. Those of a yield rest on the whole record: see [`of_yield`]. So do those of the
/// order and the time of steps, which the record tells.
pub(crate) fn of_entry(
    recipe: &Recipe,
    entry: &Entry,
    place: &Place,
    rules: &Rules,
    made_on: NaiveDate,
) -> Vec<Finding> {
    let mut out = Vec::new();
    if entry.shown.corrected_by.is_some() {
        return out;
    }
    match entry.shown.kind {
        EntryKind::Weighing => {
            let line = recipe.lines().find(|line| Some(&line.line) == entry.shown.line.as_ref());
            if let Some(line) = line {
                out.extend(without_lot(line, entry));
                out.extend(off_target(recipe, line, entry, place.grams.unwrap_or_default(), rules));
                out.extend(expired(line, entry, made_on));
            }
        }
        EntryKind::Temperature => {
            let step = entry.shown.step.and_then(|step| usize::try_from(step).ok()?.checked_sub(1));
            let text = step.and_then(|step| recipe.method.get(step)?.temperature.as_ref());
            if let (Some(number), Some(text)) = (entry.shown.step, text)
                && let Ok(asked) = StepTemperature::parse(text)
            {
                out.extend(outside(number, text, &asked, entry));
                let ends: Vec<Decimal> = place.coldest.into_iter().chain(place.hottest).collect();
                out.extend(apart(number, text, &asked, (&ends, entry)));
            }
        }
        EntryKind::Ph => out.extend(off_target_ph(recipe, entry)),
        _ => {}
    }
    out
}

const EVERY_LINE: &str = "every line must be weighed and its lot recorded";

fn weighing(
    recipe: &Recipe,
    line: &Line,
    live: &[&Entry],
    (rules, beside): (&Rules, &Beside),
    out: &mut Vec<Finding>,
) {
    let of_line: Vec<&Entry> = of_kind(live, EntryKind::Weighing)
        .filter(|entry| entry.shown.line.as_deref() == Some(line.line.as_str()))
        .copied()
        .collect();
    let Some(last) = of_line.last() else {
        out.push(Finding {
            line: Some(line.line.clone()),
            asked: line.weigh.value.as_ref().map(|value| format!("{value} g")),
            sentence: format!("No weighing of {} (line {}) is recorded.", line.name, line.line),
            ..missing(EVERY_LINE)
        });
        return;
    };
    out.extend(of_line.iter().filter_map(|entry| without_lot(line, entry)));
    let weighed: Decimal = of_line.iter().filter_map(|entry| entry.measured.grams).sum();
    if let Some(off) = off_target(recipe, line, last, weighed, rules) {
        // What was right before the batch was adjusted has no reason: the rest is still to be weighed.
        let rest =
            adjusted(live, beside).is_some_and(|since| of_line.iter().all(|one| one.shown.number < since));
        let asks = beside.checks_asked && !rest;
        let reason = deviations::without_reason(line, &off, &of_line).filter(|_| asks);
        out.push(off);
        out.extend(reason);
    }
}

/// The number of the last adjustment that was authorised.
fn adjusted(live: &[&Entry], beside: &Beside) -> Option<u32> {
    let authorised = |entry: &&&Entry| beside.authorisations.iter().any(|one| one.entry == entry.shown.id);
    of_kind(live, EntryKind::Adjustment).filter(authorised).map(|entry| entry.shown.number).max()
}

fn without_lot(line: &Line, entry: &Entry) -> Option<Finding> {
    entry.shown.lot.is_none().then(|| Finding {
        line: Some(line.line.clone()),
        entry: Some(entry.shown.id),
        sentence: format!("The lot of {} (entry {}) is not recorded.", line.name, entry.shown.number),
        ..missing(EVERY_LINE)
    })
}

/// A line of which `weighed` is outside the tolerance, `last` being its last weighing.
fn off_target(
    recipe: &Recipe,
    line: &Line,
    last: &Entry,
    weighed: Decimal,
    rules: &Rules,
) -> Option<Finding> {
    let target = recipe.target(line)?;
    let function = line.function();
    let found = rules.tolerances().compare(function, target, weighed)?;
    if found.within {
        return None;
    }
    let tight = Tolerances::is_tight(function);
    let percent = if tight { rules.active_tolerance_percent } else { rules.tolerance_percent };
    let off = deviation(&found, found.share.unwrap_or_default(), (weighed, target), units::GRAM).sentence();
    let asked = line.weigh.value.as_deref().map_or_else(|| shown(target), plain);
    Some(Finding {
        kind: FindingKind::OutOfTolerance,
        line: Some(line.line.clone()),
        entry: Some(last.shown.id),
        recorded: Some(format!("{} g", weighed.normalize())),
        sentence: format!(
            "{} (line {}): {off}{}. The tolerance is {percent} %.",
            line.name,
            line.line,
            before_rounding(line, &asked, target),
        ),
        asked: Some(format!("{asked} g")),
        rule: format!(
            "the clinic's policy, version {}: {percent} % for {}",
            rules.version,
            if tight { "actives and preservatives" } else { "other lines" }
        ),
        ..missing(EVERY_LINE)
    })
}

/// What the recipe shows, where rounding to the balance made it another than the exact target, which counts.
fn before_rounding(line: &Line, asked: &str, target: Decimal) -> String {
    if line.rounding.is_some() && shown(target) != asked {
        format!(" before rounding to {asked} g")
    } else {
        String::new()
    }
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
fn expired(line: &Line, entry: &Entry, made_on: NaiveDate) -> Option<Finding> {
    let typed = entry.shown.lot_expires.as_ref()?;
    let last_day = lot::expiry(typed).ok().and_then(Expiry::last_day)?;
    (last_day < made_on).then(|| Finding {
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
    })
}

fn temperature(step: u32, text: &str, live: &[&Entry], out: &mut Vec<Finding>) {
    let readings: Vec<&&Entry> =
        of_kind(live, EntryKind::Temperature).filter(|entry| entry.shown.step == Some(step)).collect();
    if readings.is_empty() {
        out.push(Finding {
            sentence: format!("Step {step} specifies {text}, but no temperature is recorded."),
            ..of_step(step, text)
        });
        return;
    }
    let Ok(asked) = StepTemperature::parse(text) else { return };
    out.extend(readings.iter().filter_map(|entry| outside(step, text, &asked, entry)));
    let all: Vec<Decimal> = readings.iter().filter_map(|entry| entry.measured.celsius).collect();
    out.extend(readings.last().and_then(|last| apart(step, text, &asked, (&all, last))));
}

fn of_step(step: u32, text: &str) -> Finding {
    Finding {
        step: Some(step),
        asked: Some(text.to_owned()),
        ..missing("a step with a temperature must have a recorded temperature")
    }
}

fn outside(step: u32, text: &str, asked: &StepTemperature, entry: &Entry) -> Option<Finding> {
    let reading = entry.measured.celsius?;
    let rule = asked.broken_by(reading)?;
    let reading = reading.normalize();
    Some(Finding {
        kind: FindingKind::Temperature,
        entry: Some(entry.shown.id),
        recorded: Some(format!("{reading} °C")),
        sentence: format!("Step {step} specifies {text}, but {reading} °C was recorded."),
        rule: rule.to_owned(),
        ..of_step(step, text)
    })
}

/// Readings that are further apart than the step lets the phases be, at the last of them.
fn apart(
    step: u32,
    text: &str,
    asked: &StepTemperature,
    (readings, last): (&[Decimal], &Entry),
) -> Option<Finding> {
    let (coldest, hottest) = (readings.iter().min()?.normalize(), readings.iter().max()?.normalize());
    asked.too_far_apart(readings).then(|| Finding {
        kind: FindingKind::Temperature,
        entry: Some(last.shown.id),
        recorded: Some(format!("{coldest} °C to {hottest} °C")),
        sentence: format!(
            "Step {step} specifies {text}, but the recorded temperatures differ by more: {coldest} °C to {hottest} °C."
        ),
        rule: "the phase temperatures must not differ by more than the step permits".to_owned(),
        ..of_step(step, text)
    })
}

/// Labels that were printed and are neither used nor destroyed, or the other way round.
fn labels(live: &[&Entry]) -> Option<Finding> {
    let sum =
        |kind| -> i64 { of_kind(live, kind).filter_map(|one| one.measured.labels).map(i64::from).sum() };
    let printed = sum(EntryKind::LabelsPrinted);
    let (used, destroyed) = (sum(EntryKind::LabelsUsed), sum(EntryKind::LabelsDestroyed));
    (printed != used + destroyed).then(|| Finding {
        asked: Some(printed.to_string()),
        recorded: Some((used + destroyed).to_string()),
        sentence: format!(
            "Labels printed: {printed}. Labels used: {used}, destroyed: {destroyed}. The numbers must add up."
        ),
        ..missing("every label that was printed is used or destroyed (common practice, no source)")
    })
}

/// The last pH against the target of the formula.
fn acidity(recipe: &Recipe, live: &[&Entry], out: &mut Vec<Finding>) {
    match of_kind(live, EntryKind::Ph).last() {
        Some(last) => out.extend(off_target_ph(recipe, last)),
        None => out.extend(target_ph(recipe).map(|(_, shown)| Finding {
            sentence: format!("The target is {shown}, but no pH is recorded."),
            asked: Some(shown),
            ..missing(TARGET_PH)
        })),
    }
}

pub(crate) const TARGET_PH: &str = "a target pH is measured and met";

/// The target pH of the formula, and how it is shown.
fn target_ph(recipe: &Recipe) -> Option<(TargetPh, String)> {
    let target = TargetPh::parse(recipe.target_ph.as_deref()?).ok()?;
    let shown = format!("pH {}", target.text().trim_start_matches(['p', 'P', 'h', 'H', ' ']));
    Some((target, shown))
}

fn off_target_ph(recipe: &Recipe, entry: &Entry) -> Option<Finding> {
    let (target, shown) = target_ph(recipe)?;
    let reading = entry.measured.ph?;
    if target.is_met_by(reading) {
        return None;
    }
    let reading = reading.normalize();
    Some(Finding {
        kind: FindingKind::Ph,
        entry: Some(entry.shown.id),
        recorded: Some(format!("pH {reading}")),
        sentence: format!(
            "The target is {shown}, but pH {reading} was recorded last (entry {}). Adjust it and measure again.",
            entry.shown.number
        ),
        asked: Some(shown),
        ..missing(TARGET_PH)
    })
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
            grams: None,
            converted_by: None,
            by_name: None,
            celsius: None,
            ph: None,
            water_activity: None,
            lot: Some("LO-1".into()),
            lot_id: None,
            lot_expires: None,
            assay: None,
            price: None,
            note: None,
            corrects: None,
            reason: None,
            deviation: None,
            authorised: None,
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
            drops_per_ml: wire::policy::DropsPerMl::default(),
        }
    }

    fn found(recipe: &Recipe, weighed: &str) -> Vec<Finding> {
        let entries = [entry(EntryKind::Weighing, weighed), entry(EntryKind::Yield, "5")];
        findings(recipe, &entries, &rules(), NaiveDate::default(), (&Marc::new(), &Beside::default()))
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
        let told =
            "0.11 g over (2.183 %): 5.15 g weighed for 5.04 g before rounding to 5 g. The tolerance is 2 %.";
        assert!(off[0].sentence.contains(told), "{}", off[0].sentence);
    }

    #[test]
    fn a_recipe_of_format_1_is_judged_by_what_it_showed() {
        let recipe = recipe("fragrance", "5.0", None, true);
        assert_eq!(found(&recipe, "5.1"), []);
        let off = found(&recipe, "5.14");
        assert!(
            off[0].sentence.contains("0.14 g over (2.8 %): 5.14 g weighed for 5 g. The"),
            "{}",
            off[0].sentence
        );
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
        assert_eq!(
            findings(&recipe, &entries, &rules(), NaiveDate::default(), (&Marc::new(), &Beside::default())),
            []
        );
    }
}
