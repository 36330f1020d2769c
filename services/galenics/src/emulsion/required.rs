//! The HLB that an oil phase requires, and the HLB of the emulsifiers: means weighted by mass.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Figure, Input, Refusal, Rule, Source, Sourced, Status, Text, Unknown, number::divide, units, words::words,
};

static REQUIRED: Rule = Rule::new(
    "hlb_required",
    "required HLB, mean of the oils by mass: {=}",
    Source::fixed("weighted mean of the required HLB of the oils", Status::Verified),
);
static HAVE: Rule = Rule::new(
    "hlb_of_emulsifiers",
    "HLB of the emulsifiers, mean by mass: {=}",
    Source::fixed("weighted mean of the HLB of the emulsifiers", Status::Verified),
);
static KNOWN: Rule = Rule::definition("hlb_known_share", "share with a known HLB: {=}");
static NOT_APPLICABLE: Rule = Rule::definition("hlb_does_not_apply", "HLB does not apply to {why}");

words! {
    /// The type of an emulsion.
    EmulsionType, "type of emulsion" {
        OilInWater = "oil-in-water",
        WaterInOil = "water-in-oil",
    }
}

words! {
    /// Why HLB does not apply to an emulsifier.
    NotApplicable, "reason why HLB does not apply" {
        SoapInPlace = "soap formed in place",
        Lecithin = "lecithin",
        Egg = "egg",
        EmulsifyingWax = "emulsifying wax dosed by use rate",
        PlainBeeswax = "plain beeswax",
    }
}

/// An oil of the oil phase.
#[derive(Debug, Clone)]
pub struct OilHlb {
    /// Its name.
    pub name: Text,
    /// How much of it, in any one unit of mass.
    pub amount: Decimal,
    /// What it requires for the type of emulsion in question.
    pub required: Option<Sourced<Decimal>>,
}

/// An emulsifier.
#[derive(Debug, Clone)]
pub struct EmulsifierHlb {
    /// Its name.
    pub name: Text,
    /// How much of it, in any one unit of mass.
    pub amount: Decimal,
    /// Its HLB, why it has none that applies, or nothing where it is not known.
    pub hlb: Option<Result<Sourced<Decimal>, NotApplicable>>,
}

/// An HLB, or why there is none, with the share of the phase for which it is known.
#[derive(Debug, Clone, Serialize)]
pub struct HlbAnswer {
    /// The HLB; words where it does not apply; unknown where a value is missing.
    pub hlb: Figure,
    /// The share by mass for which a value is known.
    pub known_share: Figure,
}

/// The HLB that an oil phase requires.
///
/// # Errors
/// Refuses an empty phase, negative amounts, and a required HLB outside 0 to 20: past 20 somebody divided by
/// the wrong total.
pub fn required_hlb(oils: &[OilHlb]) -> Result<HlbAnswer, Refusal> {
    let rows = oils.iter().map(|oil| (&oil.name, oil.amount, oil.required.as_ref()));
    mean(rows, "oils", &REQUIRED, "required HLB", Decimal::from(20))
}

/// The HLB of the emulsifiers together; words where for one of them it does not apply.
///
/// # Errors
/// Refuses no emulsifiers, negative amounts, and an HLB outside 0 to 50; sodium lauryl sulfate has 40.
pub fn emulsifier_hlb(emulsifiers: &[EmulsifierHlb]) -> Result<HlbAnswer, Refusal> {
    let exempt = emulsifiers.iter().find_map(|emulsifier| match &emulsifier.hlb {
        Some(Err(why)) => Some((emulsifier, *why)),
        _ => None,
    });
    let rows = emulsifiers.iter().map(|emulsifier| {
        let known = emulsifier.hlb.as_ref().and_then(|hlb| hlb.as_ref().ok());
        (&emulsifier.name, emulsifier.amount, known)
    });
    let answer = mean(rows, "emulsifiers", &HAVE, "HLB", Decimal::from(50))?;
    let Some((emulsifier, why)) = exempt else { return Ok(answer) };
    // A name that says the reason already is not said twice.
    let reason = match why.as_str().strip_prefix(emulsifier.name.as_str()) {
        Some("") => emulsifier.name.to_string(),
        Some(rest) if rest.starts_with(' ') => format!("{}:{rest}", emulsifier.name),
        _ => format!("{}: {why}", emulsifier.name),
    };
    let hlb = Figure::words("HLB does not apply", &NOT_APPLICABLE, vec![Input::words("why", reason)]);
    Ok(HlbAnswer { hlb, ..answer })
}

fn mean<'a>(
    rows: impl Iterator<Item = (&'a Text, Decimal, Option<&'a Sourced<Decimal>>)>,
    field: &'static str,
    rule: &'static Rule,
    what: &str,
    most: Decimal,
) -> Result<HlbAnswer, Refusal> {
    let (mut whole, mut known, mut weighted) = (Decimal::ZERO, Decimal::ZERO, Decimal::ZERO);
    let mut inputs = Vec::new();
    let mut missing: Option<Unknown> = None;
    for (name, amount, value) in rows {
        if amount < Decimal::ZERO {
            return Err(Refusal::out_of_range(field, format!("The amount of {name} must not be negative.")));
        }
        whole = whole.checked_add(amount).ok_or(Refusal::too_large(field))?;
        let Some(value) = value else {
            let unknown = Unknown::of(format!("{what} of {name}"));
            missing = Some(missing.map_or(unknown.clone(), |so_far| so_far.and(&unknown)));
            continue;
        };
        if value.value < Decimal::ZERO || value.value > most {
            return Err(Refusal::out_of_range(field, format!("The {what} of {name} must be 0 to {most}.")));
        }
        known = known.checked_add(amount).ok_or(Refusal::too_large(field))?;
        weighted = amount
            .checked_mul(value.value)
            .and_then(|part| weighted.checked_add(part))
            .ok_or(Refusal::too_large(field))?;
        inputs.push(Input::number(format!("amount of {name}"), amount, units::RATIO));
        inputs.push(Input::constant(name.clone(), value.value, units::RATIO, value.source.clone()));
    }
    let share = divide(known, whole)
        .ok_or(Refusal::out_of_range(field, "Enter at least one with an amount above 0."))?;
    let value = match missing {
        Some(unknown) => Err(unknown),
        None => Ok(divide(weighted, whole).ok_or(Refusal::too_large(field))?),
    };
    Ok(HlbAnswer {
        hlb: Figure::from_result(value, units::RATIO, rule, inputs),
        known_share: Figure::number(share, units::SHARE_OF_MASS, &KNOWN, Vec::new()),
    })
}
