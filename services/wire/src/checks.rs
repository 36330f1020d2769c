//! Checks before the start of a batch, and the equipment that it is made with.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{CheckId, PersonId};
use crate::words::words;

words! {
    /// What is checked before a batch is made.
    CheckKind {
        /// Nothing of another product stands on the bench: `passed`; `note` where it is not so.
        LineClearance = "line_clearance",
        /// The surfaces and vessels are cleaned and sanitised: `passed`; `note` with what, or what is missing.
        Cleaning = "cleaning",
        /// The balance shows a known weight: `instrument`, `reference`, `reading`, `tolerance`, each with its unit.
        CheckWeight = "check_weight",
        /// The thermometer shows a known temperature: `instrument`, `reference`, `reading`, `tolerance`.
        Thermometer = "thermometer",
        /// The pH meter shows the pH of a buffer: `instrument`, `reference`, `reading`, `tolerance`.
        PhMeter = "ph_meter",
        /// Room conditions: `reading`, a temperature, and `humidity`.
        Room = "room",
        /// A vessel or machine that it is made with: `instrument`.
        Equipment = "equipment",
    }
}

/// A new check.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "kind": "check_weight", "instrument": "bench balance 2", "reference": "100 g",
    "reading": "100.02 g", "tolerance": "0.05 g" }))]
pub struct NewCheck {
    /// What is checked.
    pub kind: CheckKind,
    /// The balance, thermometer, pH meter or piece of equipment: 1 to 200 characters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "bench balance 2")]
    pub instrument: Option<String>,
    /// What a meter should show: a mass such as `100 g`, a temperature such as `0 C`, or the pH of a buffer such as `7.00`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "100 g")]
    pub reference: Option<String>,
    /// What the meter shows; of room conditions the temperature, such as `21 C`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "100.02 g")]
    pub reading: Option<String>,
    /// How far the reading may be off, as stated for the meter: `0.05 g`, `0.5 C`, or `0.05` of a pH.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.05 g")]
    pub tolerance: Option<String>,
    /// The relative humidity of the room, such as `45 %`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub humidity: Option<String>,
    /// Of line clearance and cleaning: whether it is as it must be. Of a meter, the reading decides.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub passed: Option<bool>,
    /// A remark of 1 to 1000 characters, such as what it was sanitised with. Needed where `passed` is false.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub note: Option<String>,
    /// The check that this one corrects; it stays readable.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub corrects: Option<CheckId>,
    /// Why; needed with `corrects`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub reason: Option<String>,
}

/// A check of a batch record.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Check {
    /// The check.
    pub id: CheckId,
    /// Its number among the checks of the record.
    pub number: u32,
    /// What was checked.
    pub kind: CheckKind,
    /// The balance, thermometer, pH meter or piece of equipment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "bench balance 2")]
    pub instrument: Option<String>,
    /// What the meter should show, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "100 g")]
    pub reference: Option<String>,
    /// What it showed, as typed; of room conditions the temperature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "100.02 g")]
    pub reading: Option<String>,
    /// How far it may be off, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.05 g")]
    pub tolerance: Option<String>,
    /// The relative humidity, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "45 %")]
    pub humidity: Option<String>,
    /// Whether it passed. Absent where nothing is judged: of room conditions and equipment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub passed: Option<bool>,
    /// The remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The number of the last entry when it was written: 0 before the first.
    pub after_entry: u32,
    /// The check that this one corrects.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrects: Option<CheckId>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// The check that corrects this one: it stays readable but no longer counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrected_by: Option<CheckId>,
    /// Who checked.
    pub by: PersonId,
    /// The name of the person who checked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}
