//! Results of the calculators in the types of `wire`.
//!
//! Conversion only. May use [`figures`](crate::figures). Never here: a calculation.

use galenics::cost::Cost;
use galenics::dose::Dose;
use galenics::use_by::{Preservation, RuleAnswer, RuleOutcome as Outcome, UseBy};
use wire::calculations::cost::CostAnswer;
use wire::calculations::use_by::{RuleOutcome, RuleSaid, UseByAnswer};
use wire::figure::Figure;

use crate::figures::Detail;

/// A cost in the types of `wire`. Its sentences name the currency of `found`.
#[must_use]
pub fn cost_said(found: &Cost, detail: Detail) -> CostAnswer {
    let mut figures = vec![detail.figure("total", &found.total)];
    figures.extend(found.each.as_ref().map(|each| detail.figure("each container", each)));
    figures.extend(found.draws.iter().map(|draw| detail.figure(draw.name.to_string(), &draw.figure)));
    figures.iter_mut().for_each(|figure| in_currency(figure, &found.currency));
    CostAnswer { currency: found.currency.to_string(), figures }
}

/// Replaces the unit `money`, which the calculation uses for every currency, in a figure and its inputs.
fn in_currency(figure: &mut Figure, currency: &str) {
    if figure.unit == galenics::units::MONEY {
        figure.unit = currency.to_owned();
    }
    if figure.unknown.is_none()
        && let Some(sentence) = &mut figure.sentence
    {
        *sentence = sentence.replace(" money", &format!(" {currency}"));
    }
    let inputs = figure.inputs.iter_mut().filter_map(|input| input.figure.as_deref_mut());
    inputs.for_each(|inner| in_currency(inner, currency));
}

/// One application in the types of `wire`: its size, its ethanol, the dried herb behind it and the most of each
/// restricted constituent.
#[must_use]
pub fn dose_said(found: &Dose, detail: Detail) -> Vec<Figure> {
    let mut figures =
        vec![detail.figure("one application", &found.application), detail.figure("ethanol", &found.ethanol)];
    let herbs = found.herbs.iter();
    figures.extend(herbs.map(|herb| detail.figure(format!("dried herb of {}", herb.name), &herb.figure)));
    let held = found.constituents.iter();
    figures.extend(held.map(|held| detail.figure(format!("at most of {}", held.name), &held.figure)));
    figures
}

/// A use-by date in the types of `wire`, with the outcome of every rule.
#[must_use]
pub fn use_by_said(found: UseBy, preserved: &Preservation, detail: Detail) -> UseByAnswer {
    UseByAnswer {
        date: found.date,
        limited_by: found.limited_by.map(|by| by.to_string()),
        refrigerate: found.refrigerate,
        figures: vec![
            detail.figure("use by", &found.figure),
            detail.figure("watery", &found.watery),
            detail.figure("preserved", &preserved.figure),
        ],
        rules: found.answers.into_iter().map(|answer| rule(answer, detail)).collect(),
    }
}

fn rule(answer: RuleAnswer, detail: Detail) -> RuleSaid {
    let (mut date, mut only_if_kept, mut reason) = (None, Vec::new(), None);
    let outcome = match answer.outcome {
        Outcome::Dated { date: day, only_if_kept: kept } => {
            date = Some(day);
            only_if_kept = kept.iter().map(ToString::to_string).collect();
            RuleOutcome::Dated
        }
        Outcome::NotInForce => RuleOutcome::NotInForce,
        Outcome::OutOfScope => RuleOutcome::OutOfScope,
        Outcome::NoRuleApplies => RuleOutcome::NoRuleApplies,
        Outcome::NoLongerGoverns { reason: why } => {
            reason = Some(why.to_string());
            RuleOutcome::NoLongerGoverns
        }
        Outcome::SwitchedOff { reason: why } => {
            reason = Some(why.to_string());
            RuleOutcome::SwitchedOff
        }
    };
    RuleSaid {
        by: answer.by.to_string(),
        rule: answer.rule.map(|rule| rule.to_string()),
        outcome,
        date,
        only_if_kept,
        reason,
        figure: answer.figure.as_ref().map(|of| detail.figure("date", of)),
        source: answer.source.as_ref().and_then(|source| detail.source(source)),
    }
}
