//! Deviations of a batch, which a second person authorises.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{EntryId, PersonId};

/// Authorising a deviation.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAuthorisation {
    /// The entry: a weighing with its `deviation`, or an entry of the kind `deviation`.
    pub entry: EntryId,
}

/// A deviation that was authorised.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Authorisation {
    /// The entry.
    pub entry: EntryId,
    /// Who authorised it.
    pub by: PersonId,
    /// The name of the person who authorised it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// `authorised by its maker`, where the policy allowed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}
