//! Limits on a daily amount, as for pyrrolizidine alkaloids: from the lot's own assay and from how much is
//! used in a day. An untested lot is unknown, never zero.

use rust_decimal::Decimal;
use serde::Serialize;

use super::limit::Verdict;
use crate::{Figure, Input, Mass, Rule, Source, Sourced, Text, Unknown, number::divide, units};

static HOLDERS: Rule =
    Rule::definition("share_of_holders", "materials that may contain the substance: {=} of the product");
static AMOUNT: Rule =
    Rule::definition("daily_amount", "{used} a day × {share} of {lot} × {assay} = {=} a day");
static LARGEST: Rule =
    Rule::definition("largest_daily_use", "most that keeps within the limit of {limit}: {=} a day");

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

/// Something that may hold a substance: a lot with its share of what is made, and its own assay if it was tested.
#[derive(Debug, Clone)]
pub struct Holder {
    /// The lot or material.
    pub name: Text,
    /// Its share by mass of what is made.
    pub share: Figure,
    /// The substance in ug for each g of it.
    pub assay: Option<Sourced<Decimal>>,
}

impl DailyExposure {
    /// Everything that may hold a substance, taken together: the mean of the assays by mass, and none where one of them
    /// was never tested. `None` where nothing may hold it or a share is not known.
    #[must_use]
    pub fn together(holders: &[Holder], used: Mass) -> Option<Self> {
        let (mut shares, mut amounts) = (Decimal::ZERO, Some(Decimal::ZERO));
        for holder in holders {
            let share = holder.share.value()?;
            shares = shares.checked_add(share)?;
            amounts = match (amounts, &holder.assay) {
                (Some(sum), Some(assay)) => Some(sum.checked_add(share.checked_mul(assay.value)?)?),
                _ => None,
            };
        }
        let names: Vec<&str> = holders.iter().map(|holder| holder.name.as_str()).collect();
        let inputs = holders.iter().map(|holder| Input::figure(holder.name.clone(), &holder.share)).collect();
        let mean = amounts.and_then(|amounts| amounts.checked_div(shares));
        (!holders.is_empty()).then(|| Self {
            lot: names.join(" and ").into(),
            share: Figure::number(shares, units::SHARE_OF_MASS, &HOLDERS, inputs),
            assay: mean.map(Sourced::entered),
            used,
        })
    }
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
        (None, Ok(_)) => Err(Unknown::of(format!("{substance} in {} (not tested)", exposure.lot))),
        (None, Err(unknown)) => {
            Err(unknown.and(&Unknown::of(format!("{substance} in {} (not tested)", exposure.lot))))
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
