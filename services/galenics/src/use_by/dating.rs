//! Dating a preparation.

use super::facts::{DatedPart, DatingFacts, RuleAnswer, RuleOutcome, UseBy, WaterActivity};
use super::preservation::{GROWTH, is_activity, no_activity};
use super::rules::{Conditions, DayCounting, Period, RuleSet, Storage};
use crate::{Figure, Input, Refusal, Rule, Source, Sourced, Status, Text, Unknown, units};
use chrono::NaiveDate;

static MEASURED: Rule = Rule::new(
    "watery_by_activity",
    "{=}: the measured water activity is {activity}; watery means 0.60 or more",
    Source::fixed("USP <795> of 2023, line between aqueous and nonaqueous", Status::Verified),
);
static BY_CLASS: Rule = Rule::definition(
    "watery_by_class",
    "{=} by the kind of preparation; the water activity was not measured",
);
static USE_BY: Rule = Rule::definition("use_by", "use by {=}; the strictest applicable rule is {limit}");
static DATE: Rule = Rule::definition("date_by_rule", "{period} from {made}: {=} ({counting})");
static PART: Rule = Rule::definition("date_by_part", "{part} expires on {=}");
static NOT_KEPT: Rule =
    Rule::definition("date_not_kept", "use on the day of making, {made}; do not keep the rest");
static OPENED: Rule =
    Rule::definition("date_once_opened", "opened on {made}, {period}: {=} (days follow the day of opening)");
static CEILING: Rule = Rule::new(
    "date_unpreserved_watery",
    "watery and unpreserved: refrigerate and use by {=}, {period} from {made} ({counting})",
    Source::fixed(
        "USP <795>, unpreserved aqueous preparations: 14 days refrigerated; days counted as in a university's compounding procedure",
        Status::Verified,
    ),
);
/// The days of the ceiling are counted as the published rule sets count theirs.
const CEILING_COUNTS: DayCounting = DayCounting::MakingIsDayOne;

/// Dates a preparation.
///
/// # Errors
/// Refuses a water activity outside 0 to 1, a month that is none, a rule set that is switched off without a
/// reason, and a jar opened before it was made.
pub fn use_by(facts: &DatingFacts, sets: &[RuleSet]) -> Result<UseBy, Refusal> {
    if let Some((key, _)) = facts.switched_off.iter().find(|(_, reason)| reason.trim().is_empty()) {
        return Err(Refusal::out_of_range(
            "switched_off",
            format!("State why the rule set {key} is switched off."),
        ));
    }
    let (watery, watery_figure) = watery(&facts.water)?;
    let answers = answers(facts, sets, watery)?;
    let strictest = strictest(&answers);
    let refrigerate = match facts.storage {
        _ if !facts.kept => false,
        Storage::RoomTemperature => only_in_the_cold(&answers),
        // Kept cold, it is asked what would hold if it were not.
        Storage::Refrigerator => {
            let warm = DatingFacts { storage: Storage::RoomTemperature, ..facts.clone() };
            let warm = self::answers(&warm, sets, watery)?;
            let sooner = match (self::strictest(&warm), &strictest) {
                (Some((warm, _)), Some((cold, _))) => warm < *cold,
                (None, cold) => cold.is_some(),
                (Some(_), None) => false,
            };
            sooner || only_in_the_cold(&warm)
        }
    };
    let figure = match &strictest {
        Some((date, by)) => Figure::day(*date, &USE_BY, vec![Input::words("limit", by.clone())]),
        None => Figure::unknown_for(missing_rule(facts, watery), "", &USE_BY, Vec::new()),
    };
    let (date, limited_by) = strictest.map_or((None, None), |(date, by)| (Some(date), Some(by)));
    Ok(UseBy { date, limited_by, figure, watery: watery_figure, is_watery: watery, refrigerate, answers })
}

/// The rule that is missing where none dates a preparation.
fn missing_rule(facts: &DatingFacts, watery: bool) -> Unknown {
    let state = match (watery, facts.preserved) {
        (false, _) => "not watery",
        (true, true) => "watery and preserved",
        (true, false) => "watery and unpreserved",
    };
    Unknown::of(format!(
        "dating rule for {} that is {state}, made as {}",
        facts.preparation,
        facts.regime.replace('-', " ")
    ))
}

/// What every rule set, part and ceiling says.
fn answers(facts: &DatingFacts, sets: &[RuleSet], watery: bool) -> Result<Vec<RuleAnswer>, Refusal> {
    let mut answers: Vec<RuleAnswer> = sets.iter().map(|set| by_set(facts, set, watery)).collect();
    for part in &facts.parts {
        answers.push(by_part(part, facts, watery)?);
    }
    if !facts.kept {
        let inputs = vec![Input::words("made", facts.made_on.to_string())];
        let by = "its storage, which says that it is not kept";
        answers.push(dated(by, None, (facts.made_on, Vec::new()), &NOT_KEPT, inputs, None));
    }
    if let Some((opened_on, period)) = facts.opened {
        if opened_on < facts.made_on {
            return Err(Refusal::out_of_range(
                "opened",
                "The day of opening is before the day of making. Check \
                 both dates.",
            ));
        }
        let date = end(period, opened_on, DayCounting::AfterMaking)?;
        let inputs = period_inputs(opened_on, period, DayCounting::AfterMaking);
        answers.push(dated("once opened", None, (date, Vec::new()), &OPENED, inputs, None));
    }
    if let Some(evidence) = &facts.stability_evidence {
        answers.push(by_evidence(facts, evidence)?);
    } else if watery && !facts.preserved {
        answers.push(unpreserved_watery(facts)?);
    }
    Ok(answers)
}

/// The earliest date, and what gave it.
fn strictest(answers: &[RuleAnswer]) -> Option<(NaiveDate, Text)> {
    let dates = answers.iter().filter_map(|answer| match &answer.outcome {
        RuleOutcome::Dated { date, .. } => Some((*date, answer.by.clone())),
        _ => None,
    });
    dates.min_by_key(|(date, _)| *date)
}

/// Whether a rule gives what is kept at room temperature a date that holds only in a refrigerator.
fn only_in_the_cold(answers: &[RuleAnswer]) -> bool {
    answers.iter().any(|answer| {
        matches!(&answer.outcome, RuleOutcome::Dated { only_if_kept, .. } if *only_if_kept == [Storage::Refrigerator])
    })
}

/// Until when it is stable by the evidence filed.
fn by_evidence(facts: &DatingFacts, evidence: &Sourced<Period>) -> Result<RuleAnswer, Refusal> {
    let counting = DayCounting::AfterMaking;
    let date = end(evidence.value, facts.made_on, counting)?;
    let inputs = period_inputs(facts.made_on, evidence.value, counting);
    let source = Some(evidence.source.clone());
    Ok(dated("stability evidence", None, (date, Vec::new()), &DATE, inputs, source))
}

/// How long what is watery and unpreserved may be kept without evidence: 14 days in the cold.
fn unpreserved_watery(facts: &DatingFacts) -> Result<RuleAnswer, Refusal> {
    let period = Period::Days(14);
    let date = end(period, facts.made_on, CEILING_COUNTS)?;
    let cold = match facts.storage {
        Storage::Refrigerator => Vec::new(),
        Storage::RoomTemperature => vec![Storage::Refrigerator],
    };
    let inputs = period_inputs(facts.made_on, period, CEILING_COUNTS);
    let source = Some(CEILING.source.clone());
    Ok(dated("unpreserved and watery", None, (date, cold), &CEILING, inputs, source))
}

fn watery(water: &WaterActivity) -> Result<(bool, Figure), Refusal> {
    let answer = |watery: bool| if watery { "watery" } else { "not watery" };
    match water {
        WaterActivity::Measured(activity) if !is_activity(activity.value) => Err(no_activity()),
        WaterActivity::Measured(activity) => {
            let watery = activity.value >= GROWTH;
            let inputs =
                vec![Input::constant("activity", activity.value, units::RATIO, activity.source.clone())];
            Ok((watery, Figure::words(answer(watery), &MEASURED, inputs)))
        }
        WaterActivity::ByClass { watery } => {
            Ok((*watery, Figure::words(answer(*watery), &BY_CLASS, Vec::new())))
        }
        WaterActivity::NotKnown => Ok((true, Figure::words(answer(true), &BY_CLASS, Vec::new()))),
    }
}

fn end(period: Period, from: NaiveDate, counting: DayCounting) -> Result<NaiveDate, Refusal> {
    period.end(from, counting).ok_or(Refusal::out_of_range(
        "period",
        "The period is too long. Enter a shorter one, such as 24 months.",
    ))
}

fn period_inputs(from: NaiveDate, period: Period, counting: DayCounting) -> Vec<Input> {
    let (period, counting) = match period {
        Period::Days(days) => (format!("{days} days"), counting.as_str()),
        Period::Months(months) => (format!("{months} months"), "a calendar period"),
    };
    vec![
        Input::words("made", from.to_string()),
        Input::words("period", period),
        Input::words("counting", counting),
    ]
}

fn dated(
    by: impl Into<Text>,
    rule: Option<Text>,
    (date, only_if_kept): (NaiveDate, Vec<Storage>),
    why: &'static Rule,
    inputs: Vec<Input>,
    source: Option<Source>,
) -> RuleAnswer {
    let figure = Some(Figure::day(date, why, inputs));
    RuleAnswer { by: by.into(), rule, outcome: RuleOutcome::Dated { date, only_if_kept }, figure, source }
}

fn by_part(part: &DatedPart, facts: &DatingFacts, watery: bool) -> Result<RuleAnswer, Refusal> {
    let date = part.expiry.last_day().ok_or(Refusal::out_of_range(
        "parts",
        format!("The month of {} does not exist. Write it as 2026-03.", part.name),
    ))?;
    let inputs = vec![Input::words("part", part.name.clone())];
    let kept_by = match (watery, facts.preserved) {
        (true, false) => None,
        (true, true) => Some("the finished preparation is preserved"),
        (false, _) => Some("the finished preparation is not watery"),
    };
    if let Some(reason) = kept_by.filter(|_| part.watery && facts.made_on <= date) {
        let reason =
            format!("on its own it expires on {date}; this no longer applies, because {reason}").into();
        let figure = Some(Figure::day(date, &PART, inputs));
        let outcome = RuleOutcome::NoLongerGoverns { reason };
        return Ok(RuleAnswer { by: part.name.clone(), rule: None, outcome, figure, source: None });
    }
    Ok(dated(part.name.clone(), None, (date, Vec::new()), &PART, inputs, None))
}

fn by_set(facts: &DatingFacts, set: &RuleSet, watery: bool) -> RuleAnswer {
    let without =
        |outcome| RuleAnswer { by: set.name.clone(), rule: None, outcome, figure: None, source: None };
    if let Some((_, reason)) = facts.switched_off.iter().find(|(key, _)| *key == set.key) {
        return without(RuleOutcome::SwitchedOff { reason: reason.clone() });
    }
    if !set.in_force(facts.made_on) {
        return without(RuleOutcome::NotInForce);
    }
    let regimes = &set.scope.regimes;
    let preparations = &set.scope.preparations;
    if !(regimes.is_empty() || regimes.contains(&facts.regime))
        || !(preparations.is_empty() || preparations.contains(&facts.preparation))
    {
        return without(RuleOutcome::OutOfScope);
    }
    let Some(rule) = set.rules.iter().find(|rule| applies(&rule.when, facts, watery)) else {
        return without(RuleOutcome::NoRuleApplies);
    };
    let Some(date) = rule.period.end(facts.made_on, set.counting) else {
        return without(RuleOutcome::NoRuleApplies);
    };
    let kept_right = rule.storage.is_empty() || rule.storage.contains(&facts.storage);
    let only_if_kept = if kept_right { Vec::new() } else { rule.storage.clone() };
    let inputs = period_inputs(facts.made_on, rule.period, set.counting);
    dated(
        set.name.clone(),
        Some(rule.key.clone()),
        (date, only_if_kept),
        &DATE,
        inputs,
        Some(rule.source.clone()),
    )
}

fn applies(when: &Conditions, facts: &DatingFacts, watery: bool) -> bool {
    when.watery.is_none_or(|wanted| wanted == watery)
        && when.preserved.is_none_or(|wanted| wanted == facts.preserved)
        && (when.routes.is_empty() || when.routes.contains(&facts.route))
        && when.liquid.is_none_or(|wanted| wanted == facts.liquid)
        && when.kept.is_none_or(|wanted| wanted == facts.storage)
        && when.alcohol_at_least.is_none_or(|least| facts.alcohol.is_some_and(|alcohol| alcohol >= least))
        && when.sugar_at_least.is_none_or(|least| facts.sugar.is_some_and(|sugar| sugar >= least))
        && (when.holds.is_empty() || when.holds.iter().any(|key| facts.holds.contains(key)))
}
