//! Rule sets for dating, as data, and the arithmetic of their periods.

use chrono::{Days, Months, NaiveDate};
use serde::Serialize;

use crate::{Fraction, Preparation, Source, Text, words::words};

words! {
    /// How a preparation is used, as far as dating rules tell it apart.
    RouteClass, "route class" {
        Skin = "skin",
        Mucosa = "mucosa",
        Mouth = "mouth",
    }
}

words! {
    /// How a preparation is kept.
    Storage, "storage" {
        Refrigerator = "refrigerator",
        RoomTemperature = "room temperature",
    }
}

words! {
    /// How the days of a period are counted.
    #[derive(Default)]
    DayCounting, "day counting" {
        /// 14 days from 1 January end on 15 January.
        #[default]
        AfterMaking = "days follow the day of making",
        /// 14 days from 1 January end on 14 January.
        MakingIsDayOne = "the day of making is day 1",
    }
}

/// How long.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Period {
    /// So many days.
    Days(u32),
    /// So many calendar months: from 31 August six months end on the last of February.
    Months(u32),
}

impl Period {
    /// The last day of the period; `None` beyond the calendar.
    #[must_use]
    pub fn end(self, made_on: NaiveDate, counting: DayCounting) -> Option<NaiveDate> {
        match self {
            Self::Days(days) => {
                let days = match counting {
                    DayCounting::AfterMaking => days,
                    DayCounting::MakingIsDayOne => days.saturating_sub(1),
                };
                made_on.checked_add_days(Days::new(u64::from(days)))
            }
            Self::Months(months) => made_on.checked_add_months(Months::new(months)),
        }
    }
}

/// An expiry as a label states it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Expiry {
    /// A day.
    Day(NaiveDate),
    /// A month, which ends with its last day.
    Month {
        /// The year.
        year: i32,
        /// The month, 1 to 12.
        month: u32,
    },
}

impl Expiry {
    /// The last day of it; `None` for a month that is none.
    #[must_use]
    pub fn last_day(self) -> Option<NaiveDate> {
        match self {
            Self::Day(day) => Some(day),
            Self::Month { year, month } => {
                NaiveDate::from_ymd_opt(year, month, 1)?.checked_add_months(Months::new(1))?.pred_opt()
            }
        }
    }
}

/// For what a rule set is meant. An empty list means all.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Scope {
    /// The regimes.
    pub regimes: Vec<Text>,
    /// The kinds of preparation: a table for semisolids does not date a tincture.
    pub preparations: Vec<Preparation>,
}

/// When a rule applies. What is not said does not matter.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Conditions {
    /// Watery or not.
    pub watery: Option<bool>,
    /// Preserved or not.
    pub preserved: Option<bool>,
    /// How it is used.
    pub routes: Vec<RouteClass>,
    /// Liquid or not.
    pub liquid: Option<bool>,
    /// Alcohol of the watery part at least, by volume.
    pub alcohol_at_least: Option<Fraction>,
    /// Sugar of the watery phase at least, by mass.
    pub sugar_at_least: Option<Fraction>,
    /// Holding one of these, by the keys of the rules' author. Empty where it does not matter.
    pub holds: Vec<Text>,
    /// Kept like this.
    pub kept: Option<Storage>,
}

/// One rule of a set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DatingRule {
    /// A stable key.
    pub key: Text,
    /// When it applies.
    pub when: Conditions,
    /// How long.
    pub period: Period,
    /// How it must be kept for that; empty means in any way.
    pub storage: Vec<Storage>,
    /// Where it comes from.
    pub source: Source,
}

/// A set of rules, of which the first that applies dates the preparation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RuleSet {
    /// A stable key.
    pub key: Text,
    /// Its name.
    pub name: Text,
    /// The first day on which it is in force.
    pub in_force_from: Option<NaiveDate>,
    /// The last day on which it is in force.
    pub in_force_until: Option<NaiveDate>,
    /// For what it is meant.
    pub scope: Scope,
    /// How days are counted.
    pub counting: DayCounting,
    /// Its rules, the most particular first.
    pub rules: Vec<DatingRule>,
}

impl RuleSet {
    /// Whether it is in force on a day.
    #[must_use]
    pub fn in_force(&self, on: NaiveDate) -> bool {
        self.in_force_from.is_none_or(|from| from <= on)
            && self.in_force_until.is_none_or(|until| on <= until)
    }
}
