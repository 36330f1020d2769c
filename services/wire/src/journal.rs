//! Events: who did what to what, and when.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::ids::{EventId, HolderId, PersonId};

/// One event. It carries ids and digests, never content.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Event {
    /// The event.
    pub id: EventId,
    /// What kind of thing changed.
    #[schema(example = "revision")]
    pub subject_kind: String,
    /// The thing that changed.
    pub subject: Uuid,
    /// The event's number in the subject's chain.
    pub number: u64,
    /// When.
    pub at: DateTime<Utc>,
    /// Who; absent for the service itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub actor: Option<HolderId>,
    /// The name of the person or API client, where the ID is told. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub actor_name: Option<String>,
    /// The person on whose authority an API client acted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_authority_of: Option<PersonId>,
    /// That person's name, where the ID is told. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub on_authority_of_name: Option<String>,
    /// The action.
    #[schema(example = "approved")]
    pub action: String,
    /// Digest of the subject before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before_digest: Option<String>,
    /// Digest of the subject after.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after_digest: Option<String>,
    /// Ids and digests of what else it touched.
    #[schema(value_type = Object)]
    pub detail: serde_json::Value,
    /// Hash of the event before in the subject's chain.
    pub previous_hash: String,
    /// Hash of this event.
    pub hash: String,
}

/// Which events.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct EventQuery {
    /// The thing that changed: a revision, a batch, a person... Needed unless an administrator asks.
    pub subject: Option<Uuid>,
    /// Who did it (administrators only, unless it is yourself).
    pub actor: Option<HolderId>,
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
    /// The `next` of the previous page.
    pub after: Option<String>,
}
