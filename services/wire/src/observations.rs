//! What is seen of a batch in its retained samples, and the earlier last day that follows from it.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::bench::Disposition;
use crate::ids::{BatchId, ObservationId, PersonId};
use crate::words::words;

words! {
    /// What can be seen or smelled of a batch that does not keep.
    SampleSign {
        /// Its phases have separated.
        Separated = "separated",
        /// It smells rancid.
        RancidSmell = "rancid_smell",
        /// There is mould on it.
        Mould = "mould",
        /// Its colour has changed.
        ColourChanged = "colour_changed",
        /// Its smell has changed.
        SmellChanged = "smell_changed",
    }
}

impl SampleSign {
    /// Whether nobody should go on using what shows this, so that a recall is offered.
    #[must_use]
    pub const fn calls_for_recall(self) -> bool {
        matches!(self, Self::Separated | Self::Mould)
    }
}

/// Writing an observation down.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "jar": 12, "seen": ["smell_changed"], "note": "A little like old nuts." }))]
pub struct NewObservation {
    /// The number of the jar that was looked at. It is here: not handed out, or returned.
    #[schema(example = 12)]
    pub jar: u32,
    /// What was seen or smelled. Empty where nothing had changed.
    #[schema(example = json!(["smell_changed"]))]
    pub seen: Vec<SampleSign>,
    /// More about it, 1 to 1000 characters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "A little like old nuts.")]
    pub note: Option<String>,
    /// The observation that this one corrects. Both stay, and the day stays that of the corrected one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub corrects: Option<ObservationId>,
    /// Why it is corrected, 1 to 1000 characters. With `corrects` only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub reason: Option<String>,
}

/// What somebody saw of a batch in one of its jars.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Observation {
    /// The observation.
    pub id: ObservationId,
    /// The number of the jar.
    #[schema(example = 12)]
    pub jar: u32,
    /// The day.
    #[schema(example = "2026-12-07")]
    pub on: NaiveDate,
    /// What was seen or smelled. Empty where nothing had changed.
    #[schema(example = json!(["smell_changed"]))]
    pub seen: Vec<SampleSign>,
    /// More about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "A little like old nuts.")]
    pub note: Option<String>,
    /// The observation that it corrects.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub corrects: Option<ObservationId>,
    /// Why it corrects that one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub reason: Option<String>,
    /// The observation that corrects this one, which then no longer counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub corrected_by: Option<ObservationId>,
    /// Who saw it.
    pub by: PersonId,
    /// The name of the person who saw it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When it was written down.
    pub at: DateTime<Utc>,
}

/// Bringing the last day of a batch forward.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "observation": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80", "last_day": "2026-12-14", "reason": "It turns rancid early."
}))]
pub struct NewShortening {
    /// The observation that it follows from. It was not corrected.
    pub observation: ObservationId,
    /// The new last day: earlier than the one that binds, and yesterday at the earliest, after which nobody uses it any more.
    #[schema(example = "2026-12-14")]
    pub last_day: NaiveDate,
    /// Why, 1 to 1000 characters.
    #[schema(example = "It turns rancid early.")]
    pub reason: String,
}

/// That the last day of a batch was brought forward.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Shortening {
    /// The observation that it follows from.
    pub observation: ObservationId,
    /// The last day since then.
    #[schema(example = "2026-12-14")]
    pub last_day: NaiveDate,
    /// Why.
    #[schema(example = "It turns rancid early.")]
    pub reason: String,
    /// Who decided it.
    pub by: PersonId,
    /// The name of the person who decided it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// What was seen of a batch, and what follows from it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Observations {
    /// The batch.
    pub batch: BatchId,
    /// Its number.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// What was made.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// Whether what is in the jars may be used.
    pub disposition: Disposition,
    /// The last day that binds: of the labels, the pages of the jars, the shelf and handing out. Absent where none is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-12-14")]
    pub last_day: Option<NaiveDate>,
    /// The day on which it is looked at next. Absent where no jar is kept as a sample, after the last day, and once the batch
    /// was recalled or discarded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-12-07")]
    pub next_on: Option<NaiveDate>,
    /// The numbers of the jars that are kept as samples.
    #[schema(example = json!([12]))]
    pub samples: Vec<u32>,
    /// The numbers of the other jars that are here and can be looked at.
    #[schema(example = json!([3, 4]))]
    pub others: Vec<u32>,
    /// The observations, the newest first.
    pub observations: Vec<Observation>,
    /// How its last day was brought forward, the newest first.
    pub shortenings: Vec<Shortening>,
}

/// A batch whose samples are to be looked at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DueObservation {
    /// The batch.
    pub batch: BatchId,
    /// Its number.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// What was made.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// Who made it.
    pub maker: PersonId,
    /// The name of the person who made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub maker_name: Option<String>,
    /// The day on which it was to be looked at.
    #[schema(example = "2026-12-07")]
    pub due: NaiveDate,
    /// Whether that day has passed.
    pub overdue: bool,
}
