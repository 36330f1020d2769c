//! Rule sets that date a preparation.

use crate::source::{Source, Status};
use crate::words::words;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

words! {
    /// How the days of a period are counted.
    pub enum DayCounting {
        /// 14 days from 1 January end on 15 January.
        AfterMaking = "days follow the day of making",
        /// 14 days from 1 January end on 14 January.
        MakingIsDayOne = "the day of making is day 1",
    }
}

words! {
    /// How a preparation is kept.
    pub enum Kept {
        /// In a refrigerator.
        Refrigerator = "refrigerator",
        /// At room temperature.
        RoomTemperature = "room temperature",
    }
}

words! {
    /// How a preparation is used, as far as dating rules tell it apart.
    pub enum DatingRoute {
        /// On the skin.
        Skin = "skin",
        /// On mucous membranes other than the mouth.
        Mucosa = "mucosa",
        /// By mouth.
        Mouth = "mouth",
    }
}

/// How long: days, or calendar months, which are not so many days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DatingPeriod {
    /// So many days.
    Days(u32),
    /// So many calendar months.
    Months(u32),
}

impl std::str::FromStr for DatingPeriod {
    type Err = crate::UnknownWord;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let refuse = || crate::UnknownWord {
            found: text.to_owned(),
            accepted: "a whole number above 0 and days or months, such as 14 days or 6 months".to_owned(),
        };
        let (count, unit) = text.split_once(' ').ok_or_else(refuse)?;
        let count: u32 = count.parse().ok().filter(|count| (1..=3650).contains(count)).ok_or_else(refuse)?;
        match unit {
            "days" => Ok(Self::Days(count)),
            "months" => Ok(Self::Months(count)),
            _ => Err(refuse()),
        }
    }
}

/// A set of rules, of which the first that applies dates a preparation.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct DatingSet {
    /// Stable key.
    pub key: String,
    /// English name.
    pub name: String,
    /// First day in force, `2023-11-01`.
    pub in_force_from: Option<String>,
    /// Last day in force.
    pub in_force_until: Option<String>,
    /// Keys of the regimes it is meant for; empty means all.
    pub regimes: Vec<String>,
    /// Keys of the kinds of preparation it is meant for; empty means all. A table for semisolids does not date a
    /// tincture.
    pub preparations: Vec<String>,
    /// How its days are counted.
    pub counting: DayCounting,
    /// Its rules, the most particular first.
    pub rules: Vec<DatingRule>,
    /// Where it comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// One rule of a set. What is not said does not matter.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct DatingRule {
    /// Key, its own within the set.
    pub key: String,
    /// Watery or not.
    pub watery: Option<bool>,
    /// Preserved or not.
    pub preserved: Option<bool>,
    /// How it is used; empty means in any way.
    pub routes: Vec<DatingRoute>,
    /// Liquid or not.
    pub liquid: Option<bool>,
    /// Alcohol of the watery part at least, per cent by volume.
    pub alcohol_at_least_percent: Option<Decimal>,
    /// Sugar of the watery phase at least, per cent by mass.
    #[serde(default)]
    pub sugar_at_least_percent: Option<Decimal>,
    /// Keys of materials; applies only to what holds one of them. Empty means to anything.
    #[serde(default)]
    pub holds: Vec<String>,
    /// Applies only to what is kept like this.
    pub kept: Option<Kept>,
    /// How long.
    pub period: DatingPeriod,
    /// How it must be kept for that; empty means in any way.
    pub storage: Vec<Kept>,
    /// Where it comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}
