//! Rules of cautions: when a caution is raised, in which group it is read, and what it replaces.
//!
//! A rule stands once for all that carry its caution, so that a material that a clinic adds or changed is judged by the
//! same one.

use crate::binding::Exposure;
use crate::caution::Caution;
use crate::source::{Source, Status};
use crate::words::words;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

words! {
    /// The groups in which a caution set is read, in this order.
    pub enum Group {
        /// Who must not use it.
        MustNot = "must-not",
        /// Who asks a professional first.
        AskFirst = "ask-first",
        /// How it is used.
        HowToUse = "how-to-use",
        /// How it is kept.
        HowToKeep = "how-to-keep",
        /// For whoever makes it. Stays off the labels.
        ForTheMaker = "for-the-maker",
    }
}

words! {
    /// The part of a preparation's life that a caution is about.
    pub enum Stage {
        /// While it is made.
        Making = "making",
        /// While it is kept.
        Keeping = "keeping",
        /// When it is used.
        Use = "use",
    }
}

words! {
    /// How much of what carries a caution raises it.
    pub enum Amount {
        /// Any amount.
        Any = "any",
        /// No threshold is settled, so any amount raises it.
        NotSettled = "not-settled",
        /// More than a [`Threshold`] of the caution.
        Threshold = "threshold",
    }
}

words! {
    /// What a threshold is held against.
    pub enum Measure {
        /// Per cent by mass of the finished product.
        Share = "share",
        /// Milligrams a day.
        Day = "day",
        /// Milligrams a day for each kilogram of the person. Nobody's weight is known, so it never silences.
        DayPerKilogram = "day-per-kg",
    }
}

/// The form in which a material must be present for a caution about it to be raised.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "form", content = "kinds", rename_all = "snake_case")]
pub enum OnlyAs {
    /// Any form.
    Any,
    /// The material undiluted and nothing else.
    Pure,
    /// An ingredient of a preparation of one of these kinds, by key.
    In(Vec<String>),
}

/// A rule of a caution.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct CautionRule {
    /// Key of the caution.
    pub key: String,
    /// Where it is read.
    pub group: Group,
    /// What it is about.
    pub stage: Stage,
    /// Keys of the regimes under which it is raised; empty means all.
    pub regimes: Vec<String>,
    /// The form in which what carries it must be present.
    pub only_as: OnlyAs,
    /// How much raises it.
    pub amount: Amount,
    /// Keys of cautions that it replaces wherever they come from: following it obeys them in full.
    pub replaces: Vec<String>,
    /// Keys of cautions that it replaces for the same material.
    pub replaces_for_material: Vec<String>,
    /// The text for a small label. `None` if it stays off labels or has no shorter form.
    pub label: Option<String>,
}

/// A caution that says several others at once, in their place where all of them stand.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct JointCaution {
    /// The caution. It replaces what it joins.
    pub caution: Caution,
    /// Keys of the cautions that it joins.
    pub of: Vec<String>,
}

/// The amount of a subject above which a caution is raised. Several of one caution are added up as fractions.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Threshold {
    /// Key of the caution.
    pub caution: String,
    /// What is counted.
    pub subject: ThresholdSubject,
    /// What it is held against.
    pub measure: Measure,
    /// The caution is raised above this amount, in the unit of `measure`.
    pub more_than: Decimal,
    /// The kind of product that is meant. For others no amount of this row is settled.
    pub exposure: Exposure,
    /// Where the figure comes from.
    pub source: Source,
    /// How far it was checked: read, never remembered.
    pub status: Status,
}

/// What a threshold counts.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "kind", content = "key", rename_all = "snake_case")]
pub enum ThresholdSubject {
    /// A material, by key.
    Material(String),
    /// A substance in everything that holds it, by key.
    Substance(String),
}
