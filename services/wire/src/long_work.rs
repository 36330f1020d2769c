//! Work that takes days or weeks: pauses of a batch in the making, and when it is looked at meanwhile.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{BatchId, PersonId};
use crate::words::words;

words! {
    /// Why a batch is left for a while.
    PauseReason {
        /// Herb and menstruum stand together.
        Macerating = "macerating",
        /// Herb and oil stand in the sun.
        SolarInfusing = "solar_infusing",
        /// It dries.
        Drying = "drying",
        /// What is in it settles.
        Settling = "settling",
        /// Its maker was interrupted. The time counts for no step.
        Interrupted = "interrupted",
    }
}

impl PauseReason {
    /// Whether the work goes on by itself meanwhile, so that the time counts for a step that must last.
    #[must_use]
    pub const fn works_by_itself(self) -> bool {
        !matches!(self, Self::Interrupted)
    }
}

words! {
    /// What is done and looked at while a batch is left.
    LookFor {
        /// It is shaken or turned.
        Shake = "shake",
        /// How it looks.
        Appearance = "appearance",
        /// How moist it still is.
        Moisture = "moisture",
        /// How it smells.
        Smell = "smell",
        /// Whether there is mould on it.
        Mould = "mould",
    }
}

/// Pausing a batch that is being made.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "why": "macerating", "until": "2026-12-14", "note": "On the shelf by the window." }))]
pub struct NewPause {
    /// Why it is left.
    pub why: PauseReason,
    /// The day on which it is to be taken up again: today at the earliest, and 366 days from today at the latest.
    #[schema(example = "2026-12-14")]
    pub until: NaiveDate,
    /// More about it, 1 to 1000 characters. An interruption needs it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "On the shelf by the window.")]
    pub note: Option<String>,
}

/// A pause of a batch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Pause {
    /// Why it was left.
    pub why: PauseReason,
    /// The day on which it was to be taken up again.
    #[schema(example = "2026-12-14")]
    pub until: NaiveDate,
    /// More about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "On the shelf by the window.")]
    pub note: Option<String>,
    /// Who paused it.
    pub by: PersonId,
    /// The name of the person who paused it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// When it was taken up again; absent while it is paused.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resumed_at: Option<DateTime<Utc>>,
    /// Who took it up again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub resumed_by: Option<PersonId>,
    /// The name of the person who took it up again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub resumed_by_name: Option<String>,
}

/// Planning when a batch is looked at while it is being made. The last plan binds.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "what": ["shake", "mould"], "every_days": 1, "until": "2026-12-14" }))]
pub struct NewLookPlan {
    /// What is done and looked at. Empty, without the two other fields, where it is looked at no more.
    #[schema(example = json!(["shake", "mould"]))]
    pub what: Vec<LookFor>,
    /// Every how many days, from 1 to 31.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 1)]
    pub every_days: Option<u32>,
    /// The last day: at the earliest the first one on which it is looked at, and 366 days from today at the latest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-12-14")]
    pub until: Option<NaiveDate>,
}

/// When a batch is looked at while it is being made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LookPlan {
    /// What is done and looked at.
    #[schema(example = json!(["shake", "mould"]))]
    pub what: Vec<LookFor>,
    /// Every how many days.
    #[schema(example = 1)]
    pub every_days: u32,
    /// The last day.
    #[schema(example = "2026-12-14")]
    pub until: NaiveDate,
    /// Who planned it.
    pub by: PersonId,
    /// The name of the person who planned it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// How long work on a batch stands.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LongWork {
    /// The batch.
    pub batch: BatchId,
    /// Its number.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// What is made.
    #[schema(example = "Calendula oil")]
    pub title: String,
    /// Whether it is being made: only then it is paused, and looked at.
    pub making: bool,
    /// Whether it is paused.
    pub paused: bool,
    /// Its pauses, the newest first.
    pub pauses: Vec<Pause>,
    /// The plan that binds; absent where it is not looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plan: Option<LookPlan>,
    /// The day on which it is looked at next. Absent where no day follows, and once its record was submitted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-12-01")]
    pub look_on: Option<NaiveDate>,
}

/// A batch of the caller's that is to be looked at, or to be taken up again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DueWork {
    /// The batch.
    pub batch: BatchId,
    /// Its number.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// What is made.
    #[schema(example = "Calendula oil")]
    pub title: String,
    /// The day on which something was to be done first.
    #[schema(example = "2026-12-01")]
    pub due: NaiveDate,
    /// Whether that day has passed.
    pub overdue: bool,
    /// The day on which it was to be looked at; absent where that is not due.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-12-01")]
    pub look_on: Option<NaiveDate>,
    /// The day on which it was to be taken up again; absent where that is not due.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub resume_on: Option<NaiveDate>,
}
