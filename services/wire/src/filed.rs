//! The record of a batch for the file: its record, with what stands beside it.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::bench::BatchRecord;
use crate::ids::{PersonId, PhotographId};
use crate::long_work::LookFor;
use crate::photographs::{PhotographSubject, PhotographWithdrawal};

/// From when to when somebody had a batch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Tenure {
    /// Who had it.
    pub maker: PersonId,
    /// The name of the person who had it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub maker_name: Option<String>,
    /// Since when: it was opened, or its offer was accepted.
    pub from: DateTime<Utc>,
    /// When the next maker accepted it; absent of who has it now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub until: Option<DateTime<Utc>>,
    /// The offer that was accepted; absent of who opened it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offer: Option<AcceptedOffer>,
}

/// An offer that was accepted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct AcceptedOffer {
    /// Who offered it: who had it, or an instructor.
    pub by: PersonId,
    /// The name of the person who offered it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "I am away next week.")]
    pub reason: Option<String>,
}

/// A plan of when a batch is looked at while it is being made, as it was written. Each later one takes its place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FiledLookPlan {
    /// What is done and looked at. Empty where it is looked at no more.
    #[schema(example = json!(["shake", "mould"]))]
    pub what: Vec<LookFor>,
    /// Every how many days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 1)]
    pub every_days: Option<u32>,
    /// The last day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-12-14")]
    pub until: Option<NaiveDate>,
    /// Who planned it.
    pub by: PersonId,
    /// The name of the person who planned it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A photograph, by what its file is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FiledPhotograph {
    /// The photograph.
    pub id: PhotographId,
    /// Its number among the photographs of the batch.
    #[schema(example = 3)]
    pub number: u32,
    /// What it shows.
    pub subject: PhotographSubject,
    /// The number of the entry that it belongs to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 12)]
    pub entry: Option<u32>,
    /// SHA-256 of its file, in hexadecimal digits.
    #[schema(example = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
    pub sha256: String,
    /// Set where it was withdrawn: its file is removed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub withdrawn: Option<PhotographWithdrawal>,
    /// Who took it.
    pub by: PersonId,
    /// The name of the person who took it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When it came.
    pub at: DateTime<Utc>,
}

/// A jar by its number and by what it held when it was filled.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FilledJar {
    /// Its number within the batch.
    #[schema(example = 3)]
    pub number: u32,
    /// What it was filled with, as typed.
    #[schema(example = "30 g")]
    pub fill: String,
}

/// That the content of a jar was filled into others.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Decanting {
    /// The jar that is empty since.
    pub from: FilledJar,
    /// The jars that were filled from it.
    pub into: Vec<FilledJar>,
    /// The day.
    #[schema(example = "2026-12-14")]
    pub on: NaiveDate,
    /// Why.
    #[schema(example = "A small jar is needed.")]
    pub reason: String,
    /// Who did it.
    pub by: PersonId,
    /// The name of the person who did it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A record for the file: everything that a printed record is set from.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct FiledRecord {
    /// The record.
    pub record: BatchRecord,
    /// Who had the batch, and from when to when: who opened it first.
    pub makers: Vec<Tenure>,
    /// When it was to be looked at while it was being made, the first plan first.
    pub look_plans: Vec<FiledLookPlan>,
    /// Its photographs in the order in which they came, withdrawn ones too.
    pub photographs: Vec<FiledPhotograph>,
    /// Which of its jars were filled into others, the first one first.
    pub decantings: Vec<Decanting>,
}
