//! Whether the watery phase is preserved: by its alcohol, glycerol, sugar or vinegar, by sugar with alcohol in a syrup or
//! with vinegar in an oxymel, or by the undissociated part of an acid preservative at the pH that was measured. A preservative that is in the formula and not shown to work at
//! its pH does not count. Nothing grows where the measured water activity is low enough, whatever is in it.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Figure, Fraction, Input, Refusal, Rule, Source, Sourced, Status, Text,
    number::{dec, divide, from_f64, to_f64},
    units,
};

static UNDISSOCIATED: Rule = Rule::new(
    "undissociated_share",
    "undissociated share of an acid of pKa {pka} at pH {ph}: {=}",
    Source::fixed("Henderson and Hasselbalch: 1 / (1 + 10^(pH - pKa))", Status::Definition),
);
static PRESERVED: Rule =
    Rule::definition("preserved", "{=}: {agent} is {share} of the water phase; {least} is enough");
static SYRUP: Rule = Rule::new(
    "preserved_syrup",
    "{=}: alcohol is {share} of the volume that sugar leaves free; {least} is enough",
    Source::fixed(
        "a gram of sucrose preserves 0.529 mL of water; what is left free needs 18 % of alcohol (teaching laboratory of a \
         school of pharmacy)",
        Status::Secondary,
    ),
);
static OXYMEL: Rule = Rule::new(
    "preserved_oxymel",
    "{=}: sugar is {sugar} and acetic acid {acid} of the water phase; the shares of what each needs alone come to {share}",
    Source::fixed(
        "shares of what each preserves with alone are added, as formulators do with glycerol and ethanol; for honey and \
         vinegar by analogy",
        Status::CommonPractice,
    ),
);
static LITTLE_ACTIVITY: Rule = Rule::new(
    "preserved_by_activity",
    "{=}: the measured water activity is {activity}; nothing grows below {least}",
    Source::fixed(
        "below a water activity of 0.60 nothing grows (pages of food science); USP <795> of 2023 draws its line between \
         aqueous and nonaqueous there",
        Status::Secondary,
    ),
);
static UNPRESERVED: Rule = Rule::definition("unpreserved", "{=}: {why}");

/// What is below is acid.
const NEUTRAL: Decimal = dec("7");

/// Water activity at which growth becomes possible.
pub const GROWTH: Decimal = dec("0.60");

pub(super) fn is_activity(value: Decimal) -> bool {
    (Decimal::ZERO..=Decimal::ONE).contains(&value)
}

pub(super) fn no_activity() -> Refusal {
    Refusal::out_of_range("water_activity", "The water activity must be 0 to 1.")
}

/// The share of an acid that is undissociated at a pH: `1 / (1 + 10^(pH - pKa))`.
///
/// # Errors
/// Refuses a pH outside 0 to 14 and a pKa outside 0 to 14.
/// ```
/// use galenics::{Source, Sourced, Status, number::dec, use_by::undissociated_share};
/// let pka = Sourced::new(dec("4.76"), Source::fixed("pKa of sorbic acid", Status::FromMemory));
/// assert_eq!(undissociated_share(dec("4.76"), &pka)?.to_string(), "50 %");
/// # Ok::<(), galenics::Refusal>(())
/// ```
pub fn undissociated_share(ph: Decimal, pka: &Sourced<Decimal>) -> Result<Figure, Refusal> {
    let range = Decimal::ZERO..=Decimal::from(14);
    for (field, value) in [("ph", ph), ("pka", pka.value)] {
        if !range.contains(&value) {
            return Err(Refusal::out_of_range(field, "The pH and the pKa must be 0 to 14."));
        }
    }
    let share = 1.0 / (1.0 + 10_f64.powf(to_f64(ph) - to_f64(pka.value)));
    let inputs = vec![
        Input::number("ph", ph, units::RATIO),
        Input::constant("pka", pka.value, units::RATIO, pka.source.clone()),
    ];
    let share = from_f64(share).ok_or_else(|| Refusal::too_large("ph"))?;
    Ok(Figure::number(share, units::SHARE, &UNDISSOCIATED, inputs))
}

/// An acid preservative in the watery phase.
#[derive(Debug, Clone)]
pub struct AcidPreservative {
    /// Its name.
    pub name: Text,
    /// Its share of the watery phase by mass, as acid.
    pub share: Fraction,
    /// Its pKa.
    pub pka: Sourced<Decimal>,
    /// The undissociated share of the watery phase that is enough.
    pub enough: Sourced<Fraction>,
}

/// How the sugar of a watery phase counts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum SugarCounts {
    /// By itself.
    #[default]
    Alone,
    /// By itself, or with alcohol: of a syrup.
    WithAlcohol,
    /// By itself, or with vinegar: of an oxymel.
    WithVinegar,
    /// Not at all, for this reason: of an electuary into which something moist goes.
    Not(Text),
}

/// What is known of the watery phase.
#[derive(Debug, Clone, Default)]
pub struct PreservationFacts {
    /// Alcohol of the watery part by volume at 20 °C.
    pub alcohol: Option<Fraction>,
    /// Whether it is acid or neutral or from fresh plant: neutral and fresh ask for more alcohol.
    pub acid: bool,
    /// Glycerol by mass of the watery phase.
    pub glycerol: Option<Fraction>,
    /// Sugar by mass of the watery phase.
    pub sugar: Option<Fraction>,
    /// How it counts.
    pub sugar_counts: SugarCounts,
    /// Acetic acid of vinegar by mass of the watery phase.
    pub vinegar: Option<Fraction>,
    /// Water by mass of the watery phase.
    pub water: Option<Fraction>,
    /// Ethanol that is shown to remain, by mass of the watery phase.
    pub ethanol: Option<Fraction>,
    /// An acid preservative.
    pub preservative: Option<AcidPreservative>,
    /// The pH as measured.
    pub ph: Option<Decimal>,
    /// The water activity as measured, 0 to 1.
    pub water_activity: Option<Sourced<Decimal>>,
}

/// How much preserves, as data.
#[derive(Debug, Clone, Serialize)]
pub struct PreservationRules {
    /// Alcohol by volume of the watery part when it is acid.
    pub alcohol_acid: Sourced<Fraction>,
    /// Alcohol by volume of the watery part when it is neutral or from fresh plant.
    pub alcohol_neutral: Sourced<Fraction>,
    /// Glycerol by mass of the watery phase.
    pub glycerol: Sourced<Fraction>,
    /// Sugar by mass of the watery phase.
    pub sugar: Sourced<Fraction>,
    /// Acetic acid of vinegar by mass of the watery phase.
    pub vinegar: Sourced<Fraction>,
    /// Alcohol by volume of what the sugar of a syrup leaves free.
    pub alcohol_of_free_water: Sourced<Fraction>,
    /// Undissociated acid of an acid preservative, by mass of the watery phase, where nothing else is known of it.
    pub undissociated_acid: Sourced<Fraction>,
}

impl PreservationRules {
    /// Sugar (65 % w/w), alcohol of weaker syrups (18 % of what the sugar leaves free) and vinegar by published figures;
    /// for the rest the habits of the trade, remembered and not from an authority: alcohol 20 % v/v when acid and 25 %
    /// when neutral or from fresh plant, glycerol 55 % w/w, undissociated acid of a preservative 0.1 % w/w of the watery
    /// phase.
    #[must_use]
    pub fn remembered() -> Self {
        let from_memory = |percent: Decimal, text| {
            let share = Fraction::percent(percent).unwrap_or(Fraction::ONE);
            Sourced::new(share, Source::fixed(text, Status::FromMemory))
        };
        Self {
            alcohol_acid: from_memory(dec("20"), "alcohol 20 % v/v preserves an acid liquid"),
            alcohol_neutral: from_memory(
                dec("25"),
                "alcohol 25 % v/v preserves a neutral liquid or fresh juice",
            ),
            glycerol: from_memory(dec("55"), "glycerol 50 to 55 % w/w preserves; the larger is taken"),
            sugar: Sourced::new(
                Fraction::percent(dec("65")).unwrap_or(Fraction::ONE),
                Source::fixed(
                    "Syrup USP, 850 g of sucrose in a litre or 65 % w/w: the least that keeps a neutral syrup by itself \
                     (teaching laboratory of a school of pharmacy)",
                    Status::Verified,
                ),
            ),
            vinegar: Sourced::new(
                Fraction::percent(dec("4.5")).unwrap_or(Fraction::ONE),
                Source::fixed(
                    "vinegar of about 5 % acetic acid keeps by itself (pages on keeping food); 4.5 % rounds to it",
                    Status::Secondary,
                ),
            ),
            alcohol_of_free_water: Sourced::new(
                Fraction::percent(dec("18")).unwrap_or(Fraction::ONE),
                Source::fixed("alcohol 18 % v/v preserves free water", Status::Secondary),
            ),
            undissociated_acid: from_memory(
                dec("0.1"),
                "0.1 % w/w of an acid preservative, undissociated, preserves",
            ),
        }
    }
}

/// Whether the watery phase is preserved, and by what.
#[derive(Debug, Clone, Serialize)]
pub struct Preservation {
    /// Whether it is.
    pub preserved: bool,
    /// The answer with its reason.
    pub figure: Figure,
}

/// Judges the watery phase.
///
/// # Errors
/// Refuses a pH outside 0 to 14 and a water activity outside 0 to 1.
pub fn preservation(facts: &PreservationFacts, rules: &PreservationRules) -> Result<Preservation, Refusal> {
    if let Some(activity) = &facts.water_activity {
        if !is_activity(activity.value) {
            return Err(no_activity());
        }
        if activity.value < GROWTH {
            return Ok(little_activity(activity));
        }
    }
    let alcohol_rule = if facts.acid { &rules.alcohol_acid } else { &rules.alcohol_neutral };
    let barred = match &facts.sugar_counts {
        SugarCounts::Not(why) => Some(why),
        SugarCounts::Alone | SugarCounts::WithAlcohol | SugarCounts::WithVinegar => None,
    };
    let by_share = [
        ("alcohol", facts.alcohol, alcohol_rule),
        ("glycerol", facts.glycerol, &rules.glycerol),
        ("sugar", facts.sugar.filter(|_| barred.is_none()), &rules.sugar),
        ("acetic acid", facts.vinegar, &rules.vinegar),
    ];
    for (agent, share, enough) in by_share {
        if let Some(share) = share.filter(|share| *share >= enough.value) {
            return Ok(preserved(agent.into(), share.get(), enough));
        }
    }
    let together = match facts.sugar_counts {
        SugarCounts::WithAlcohol => syrup(facts, rules),
        SugarCounts::WithVinegar => oxymel(facts, rules),
        SugarCounts::Alone | SugarCounts::Not(_) => None,
    };
    if let Some(figure) = together {
        return Ok(Preservation { preserved: true, figure });
    }
    let Some(acid) = &facts.preservative else {
        return Ok(unpreserved(barred.map_or_else(|| nothing(facts), ToString::to_string)));
    };
    let Some(ph) = facts.ph else {
        return Ok(unpreserved(format!("{} works only at a low pH, and the pH was not measured", acid.name)));
    };
    let undissociated = undissociated_share(ph, &acid.pka)?.known().unwrap_or_default() * acid.share.get();
    if undissociated >= acid.enough.value.get() {
        let agent = format!("undissociated {}", acid.name);
        return Ok(preserved(agent.into(), undissociated, &acid.enough));
    }
    Ok(unpreserved(format!(
        "at pH {} too little of {} is undissociated to preserve; lower the pH",
        ph.normalize(),
        acid.name
    )))
}

/// Water that a gram of sucrose keeps from spoiling, in mL: 450 mL by the 850 g of a litre of syrup.
const PRESERVED_BY_A_GRAM: Decimal = dec("0.529");
/// Densities at 20 °C, in g/mL.
const WATER: Decimal = dec("0.9982");
const ETHANOL: Decimal = dec("0.78924");

/// A weaker syrup whose alcohol is enough for the water that its sugar does not preserve.
fn syrup(facts: &PreservationFacts, rules: &PreservationRules) -> Option<Figure> {
    let (sugar, water, ethanol) = (facts.sugar?.get(), facts.water?.get(), facts.ethanol?.get());
    if sugar.is_zero() {
        return None;
    }
    let alcohol = divide(ethanol, ETHANOL)?;
    let free = divide(water, WATER)? + alcohol - sugar.checked_mul(PRESERVED_BY_A_GRAM)?;
    let share = if free <= alcohol { Decimal::ONE } else { divide(alcohol, free)? };
    let enough = &rules.alcohol_of_free_water;
    (share >= enough.value.get()).then(|| {
        let inputs = vec![
            Input::number("share", share, units::SHARE),
            Input::constant("least", enough.value.get(), units::SHARE, enough.source.clone()),
        ];
        Figure::words("preserved", &SYRUP, inputs)
    })
}

/// Honey and vinegar that come together to what preserves.
fn oxymel(facts: &PreservationFacts, rules: &PreservationRules) -> Option<Figure> {
    let (sugar, acid) = (facts.sugar?, facts.vinegar?);
    let of_each = |share: Fraction, enough: &Sourced<Fraction>| divide(share.get(), enough.value.get());
    let sum = of_each(sugar, &rules.sugar)? + of_each(acid, &rules.vinegar)?;
    (sum >= Decimal::ONE).then(|| {
        let inputs = vec![
            Input::number("sugar", sugar.get(), units::SHARE),
            Input::number("acid", acid.get(), units::SHARE),
            Input::number("share", sum, units::SHARE),
        ];
        Figure::words("preserved", &OXYMEL, inputs)
    })
}

/// What is said where nothing preserves. That something is acid is no answer by itself: a rule for that is published of
/// vinegar alone, and of an acid preservative.
fn nothing(facts: &PreservationFacts) -> String {
    match facts.ph.filter(|ph| *ph < NEUTRAL) {
        Some(ph) => format!(
            "at pH {} no rule is recorded by which acid alone preserves, but of vinegar from 4.5 % of acetic acid in the water \
             phase",
            ph.normalize()
        ),
        None => "no preservative is shown to be effective in the water phase".to_owned(),
    }
}

fn little_activity(activity: &Sourced<Decimal>) -> Preservation {
    let inputs = vec![
        Input::constant("activity", activity.value, units::RATIO, activity.source.clone()),
        Input::number("least", GROWTH, units::RATIO),
    ];
    Preservation { preserved: true, figure: Figure::words("preserved", &LITTLE_ACTIVITY, inputs) }
}

fn preserved(agent: Text, share: Decimal, enough: &Sourced<Fraction>) -> Preservation {
    let inputs = vec![
        Input::words("agent", agent),
        Input::number("share", share, units::SHARE),
        Input::constant("least", enough.value.get(), units::SHARE, enough.source.clone()),
    ];
    Preservation { preserved: true, figure: Figure::words("preserved", &PRESERVED, inputs) }
}

fn unpreserved(why: String) -> Preservation {
    let figure = Figure::words("unpreserved", &UNPRESERVED, vec![Input::words("why", why)]);
    Preservation { preserved: false, figure }
}
