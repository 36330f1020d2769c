//! What dating goes by, and what it answers.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;

use super::rules::{Expiry, Period, RouteClass, Storage};
use crate::{Figure, Fraction, Preparation, Source, Sourced, Text};

/// What is known of the water in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WaterActivity {
    /// As measured, 0 to 1, with where the measurement is filed.
    Measured(Sourced<Decimal>),
    /// Watery or not by the class of preparation.
    ByClass {
        /// Whether the class is watery.
        watery: bool,
    },
    /// Nothing: taken as watery.
    NotKnown,
}

/// A nested preparation or a lot with its date.
#[derive(Debug, Clone)]
pub struct DatedPart {
    /// Its name.
    pub name: Text,
    /// Until when it is good.
    pub expiry: Expiry,
    /// Whether its date is one of growth in its water, as an infusion's is. Such a date ends to matter where it goes, still
    /// in date, into something that preserves itself. That of an oil, which turns rancid wherever it is, never does.
    pub watery: bool,
}

/// What is known of a preparation for dating it.
#[derive(Debug, Clone)]
pub struct DatingFacts {
    /// The day of making.
    pub made_on: NaiveDate,
    /// The regime.
    pub regime: Text,
    /// The kind.
    pub preparation: Preparation,
    /// How it is used.
    pub route: RouteClass,
    /// Whether it is liquid.
    pub liquid: bool,
    /// The water in it.
    pub water: WaterActivity,
    /// Whether the watery phase is preserved, by [`super::preservation()`].
    pub preserved: bool,
    /// Alcohol of the watery part by volume at 20 °C, where it is known.
    pub alcohol: Option<Fraction>,
    /// Sugar by mass of the watery phase, where it is known.
    pub sugar: Option<Fraction>,
    /// What is in it that some rule is about, such as raw egg: the keys by which the rules name it.
    pub holds: Vec<Text>,
    /// Whether it is kept at all. What is not is used on the day of making, whatever the rules would allow.
    pub kept: bool,
    /// How it is kept.
    pub storage: Storage,
    /// What it is made of that has a date of its own.
    pub parts: Vec<DatedPart>,
    /// The day on which the jar was opened and how long it is good then.
    pub opened: Option<(NaiveDate, Period)>,
    /// Evidence of how long it is stable, as filed. It takes the place of the 14 days of what is unpreserved; beside every
    /// other rule it binds where it is shorter.
    pub stability_evidence: Option<Sourced<Period>>,
    /// Rule sets that the clinic has switched off, with the recorded reason.
    pub switched_off: Vec<(Text, Text)>,
}

/// What a rule set, a part or a ceiling came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "outcome")]
pub enum RuleOutcome {
    /// It gives a date.
    Dated {
        /// The last day.
        date: NaiveDate,
        /// It holds only if the jar is kept like one of these; empty when it is, or in any way.
        only_if_kept: Vec<Storage>,
    },
    /// It is not in force on the day of making.
    NotInForce,
    /// It is not meant for this regime or kind.
    OutOfScope,
    /// None of its rules applies.
    NoRuleApplies,
    /// It was the date of something watery that is kept in another way now.
    NoLongerGoverns {
        /// What keeps it now.
        reason: Text,
    },
    /// The clinic switched it off.
    SwitchedOff {
        /// The recorded reason.
        reason: Text,
    },
}

/// What one rule said.
#[derive(Debug, Clone, Serialize)]
pub struct RuleAnswer {
    /// The rule set, part or ceiling.
    pub by: Text,
    /// The rule of the set.
    pub rule: Option<Text>,
    /// What it came to.
    pub outcome: RuleOutcome,
    /// The date with its explanation, where there is one.
    pub figure: Option<Figure>,
    /// Where it comes from, where a rule or source gave it.
    pub source: Option<Source>,
}

/// The use-by date.
#[derive(Debug, Clone, Serialize)]
pub struct UseBy {
    /// The last day; none where no rule dates it.
    pub date: Option<NaiveDate>,
    /// What limited it.
    pub limited_by: Option<Text>,
    /// The answer with its explanation.
    pub figure: Figure,
    /// Whether it counts as watery, and why.
    pub watery: Figure,
    /// Whether it counts as watery.
    pub is_watery: bool,
    /// Whether it must be kept in a refrigerator for the date to hold: at room temperature it would end sooner, or
    /// there would be none.
    pub refrigerate: bool,
    /// What every rule said.
    pub answers: Vec<RuleAnswer>,
}
