//! The use-by date.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::figure::{Figure, FigureSource};
use crate::formulary::{Regime, StabilityEvidence};
use crate::words::words;

/// The facts of a preparation for dating it. An unknown fact is taken at its worst.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct UseByQuestion {
    /// The day of making.
    #[schema(example = "2026-03-21")]
    pub made_on: NaiveDate,
    /// The regime it is made as.
    pub regime: Regime,
    /// The kind of preparation.
    #[schema(example = "cream")]
    pub preparation: String,
    /// How it is used: `skin`, `mucosa` or `mouth`.
    #[schema(example = "skin")]
    pub route: String,
    /// How it is kept: `refrigerator` or `room temperature`.
    #[schema(example = "refrigerator")]
    pub storage: String,
    /// Water activity as measured, 0 to 1. Without it the kind of preparation decides, and where that can be
    /// either it counts as watery.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub water_activity: Option<String>,
    /// Whether it is liquid; by its kind where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = false)]
    pub liquid: Option<bool>,
    /// The possible preservatives in the watery phase; none if omitted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub watery_phase: Option<WateryPhase>,
    /// Materials in it that a rule of its own dates, such as raw egg yolk.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!([]))]
    pub holds: Vec<String>,
    /// Its parts that have their own dates: nested preparations, lots.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!([{ "name": "olive oil", "expiry": "2026-08" }]))]
    pub parts: Vec<DatedPart>,
    /// When a jar was opened, and for how long it is good then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub opened: Option<Opened>,
    /// Evidence of stability that is filed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub stability: Option<StabilityEvidence>,
    /// Rule sets to leave out, each with the reason.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!([]))]
    pub switched_off: Vec<SwitchedOff>,
}

/// The watery phase.
#[derive(Clone, Debug, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WateryPhase {
    /// Alcohol of ethanol and water alone, by volume at 20 °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub alcohol: Option<String>,
    /// Glycerol, by mass of the watery phase.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub glycerol: Option<String>,
    /// Sugar, by mass of the watery phase.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub sugar: Option<String>,
    /// Of an electuary: whether nothing moist but honey, sugar or syrup is in it. Otherwise its sugar does not count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub dry_powder: Option<bool>,
    /// Acetic acid of vinegar, by mass of the watery phase.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub acetic_acid: Option<String>,
    /// The pH as measured, 0 to 14; below 7 less alcohol is enough.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "4.8")]
    pub ph: Option<String>,
    /// An acid preservative or its salt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub preservative: Option<AcidPreservative>,
}

/// An acid preservative in the watery phase.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AcidPreservative {
    /// A material of the materia medica.
    #[schema(example = "potassium sorbate")]
    pub material: String,
    /// Its share of the watery phase, by mass, as it is weighed.
    #[schema(example = "0.5 %")]
    pub share: String,
    /// The share of undissociated acid in the watery phase that is enough, by the preservative's documentation or a
    /// challenge test.
    #[schema(example = "0.1 %")]
    pub enough: String,
}

/// Something it is made of, with its date.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DatedPart {
    /// What it is.
    #[schema(example = "olive oil")]
    pub name: String,
    /// Until when it is good: a day, or a month, which ends with its last day.
    #[schema(example = "2026-08")]
    pub expiry: String,
}

/// An opened jar.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Opened {
    /// When.
    #[schema(example = "2026-04-01")]
    pub on: NaiveDate,
    /// For how long it is good then, like `28 days` or `3 months`.
    #[schema(example = "28 days")]
    pub good_for: String,
}

/// A rule set that is left out.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SwitchedOff {
    /// Its key.
    #[schema(example = "compounding-2023")]
    pub rule_set: String,
    /// Why.
    #[schema(example = "not in force here")]
    pub reason: String,
}

words! {
    /// The result of one rule.
    RuleOutcome {
        /// It gives a date.
        Dated = "dated",
        /// It is not in force on the day of making.
        NotInForce = "not in force",
        /// It is not meant for what this is made as, or for this kind.
        OutOfScope = "out of scope",
        /// None of its rules applies.
        NoRuleApplies = "no rule applies",
        /// It was the date of something watery that is kept in another way now, with the reason.
        NoLongerGoverns = "no longer governs",
        /// It was left out, with a reason.
        SwitchedOff = "switched off",
    }
}

/// The answer of one rule set, part, ceiling or storage.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RuleSaid {
    /// The rule set, part, ceiling or manner of keeping.
    #[schema(example = "published compounding rules of 2023")]
    pub by: String,
    /// Which rule of the set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "aqueous-preserved")]
    pub rule: Option<String>,
    /// The result.
    pub outcome: RuleOutcome,
    /// Its own date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-04-25")]
    pub date: Option<NaiveDate>,
    /// The date holds only if it is kept in one of these ways.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!([]))]
    pub only_if_kept: Vec<String>,
    /// Why it was left out, or why it no longer governs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub reason: Option<String>,
    /// The date with its explanation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub figure: Option<Figure>,
    /// Where the rule comes from, and whether that was verified.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<FigureSource>,
}

/// The use-by date.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct UseByAnswer {
    /// The last day; absent where no rule dates it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-04-25")]
    pub date: Option<NaiveDate>,
    /// The rule that limits the date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "published compounding rules of 2023")]
    pub limited_by: Option<String>,
    /// Whether the date holds only in a refrigerator.
    pub refrigerate: bool,
    /// The date, whether it counts as watery, and whether it is preserved, each with the reason.
    pub figures: Vec<Figure>,
    /// The answer of every rule.
    pub rules: Vec<RuleSaid>,
}
