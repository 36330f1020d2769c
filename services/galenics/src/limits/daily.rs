//! Limits on a daily amount, as for pyrrolizidine alkaloids: from the lot's own assay and from how much is
//! used in a day. An untested lot is unknown, never zero.

use rust_decimal::Decimal;
use serde::Serialize;

use super::Verdict;
use crate::{Figure, Input, Mass, Rule, Source, Sourced, Text, Unknown, number::divide, units};

static AMOUNT: Rule =
    Rule::definition("daily_amount", "{used} a day with {share} of {lot} at {assay} bring {=} a day");
static LARGEST: Rule =
    Rule::definition("largest_daily_use", "with a limit of {limit} at most {=} a day could be used");

/// What of a substance one day brings.
#[derive(Debug, Clone)]
pub struct DailyExposure {
    /// The lot or material that brings it.
    pub lot: Text,
    /// Its share by mass of what is made, for an extract the dried herb behind it.
    pub share: Figure,
    /// The substance in ug for each g of it, by the lot's own assay.
    pub assay: Option<Sourced<Decimal>>,
    /// What is made that is used in a day.
    pub used: Mass,
}

/// A daily limit held against what a day brings.
#[derive(Debug, Clone, Serialize)]
pub struct DailyCheck {
    /// What it comes to.
    pub verdict: Verdict,
    /// The amount in ug a day.
    pub amount: Figure,
    /// How much of what is made could be used in a day, in g.
    pub largest_use: Figure,
    /// Where the limit comes from.
    pub source: Source,
}

/// Holds what a day brings of a substance against a limit in ug a day.
#[must_use]
pub fn check_daily(substance: &str, exposure: &DailyExposure, limit: &Sourced<Decimal>) -> DailyCheck {
    let amount = match (&exposure.assay, exposure.share.known()) {
        (None, Ok(_)) => Err(Unknown::of(format!("{substance} in {}, which was never tested", exposure.lot))),
        (None, Err(unknown)) => {
            Err(unknown.and(&Unknown::of(format!("{substance} in {}, which was never tested", exposure.lot))))
        }
        (Some(_), Err(unknown)) => Err(unknown),
        (Some(assay), Ok(share)) => {
            let out_of_range = || Unknown::of(format!("amount of {substance} within the range of a decimal"));
            exposure
                .used
                .g()
                .checked_mul(share)
                .and_then(|grams| grams.checked_mul(assay.value))
                .filter(|amount| *amount >= Decimal::ZERO)
                .ok_or_else(out_of_range)
        }
    };
    let verdict = match &amount {
        Err(_) => Verdict::Unknown,
        Ok(amount) if *amount > limit.value => Verdict::Exceeded,
        Ok(_) => Verdict::Within,
    };
    let largest = amount.clone().and_then(|amount| {
        divide(exposure.used.g(), amount)
            .and_then(|each| each.checked_mul(limit.value))
            .ok_or_else(|| Unknown::of(format!("any {substance} at all")))
    });
    let mut inputs = vec![
        Input::number("used", exposure.used.g(), units::GRAM),
        Input::figure("share", &exposure.share),
        Input::words("lot", exposure.lot.clone()),
    ];
    if let Some(assay) = &exposure.assay {
        inputs.push(Input::constant("assay", assay.value, "ug/g", assay.source.clone()));
    }
    let bound = vec![Input::constant("limit", limit.value, "ug", limit.source.clone())];
    DailyCheck {
        verdict,
        amount: Figure::from_result(amount, "ug", &AMOUNT, inputs),
        largest_use: Figure::from_result(largest, units::GRAM, &LARGEST, bound),
        source: limit.source.clone(),
    }
}
