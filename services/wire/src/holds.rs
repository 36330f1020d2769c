//! Holds of a method, which a second person releases.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::PersonId;

/// Releasing a hold.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewHoldRelease {
    /// The step that holds, counted from 1. It is recorded as done.
    #[schema(example = 1)]
    pub step: u16,
}

/// A hold that was released.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct HoldRelease {
    /// The step that held.
    pub step: u32,
    /// Who released it.
    pub by: PersonId,
    /// The name of the person who released it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// `released by its maker`, where the policy allowed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}
