//! An event as it is stored.

use canonical::Form;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use schema::event;
use serde_json::Value;
use uuid::Uuid;
use wire::ids::{EventId, HolderId, PersonId};
use wire::journal::Event;

use super::chain::Link;

/// An event as it is stored.
#[derive(Debug, Queryable, Selectable)]
#[diesel(table_name = event, check_for_backend(diesel::pg::Pg))]
pub struct EventRow {
    pub(super) id: Uuid,
    pub(super) subject_kind: String,
    pub(super) subject_id: Uuid,
    pub(super) number: i64,
    pub(super) at: DateTime<Utc>,
    pub(super) actor_id: Option<Uuid>,
    pub(super) on_authority_of: Option<Uuid>,
    pub(super) action: String,
    pub(super) before_digest: Option<Vec<u8>>,
    pub(super) after_digest: Option<Vec<u8>>,
    pub(super) detail: Value,
    pub(super) previous_hash: Vec<u8>,
    pub(super) hash: Vec<u8>,
    pub(super) form: i16,
}

impl EventRow {
    /// The event's id, by which lists of events are ordered.
    #[must_use]
    pub const fn id(&self) -> Uuid {
        self.id
    }

    /// The event as it is hashed.
    pub(super) fn link(&self, form: Form) -> Link<'_> {
        Link {
            form,
            id: self.id,
            subject_kind: &self.subject_kind,
            subject: self.subject_id,
            number: self.number,
            at: self.at,
            actor: self.actor_id,
            on_authority_of: self.on_authority_of,
            action: &self.action,
            before: self.before_digest.as_deref(),
            after: self.after_digest.as_deref(),
            detail: &self.detail,
            previous: &self.previous_hash,
        }
    }
}

impl From<EventRow> for Event {
    fn from(row: EventRow) -> Self {
        Self {
            id: EventId(row.id),
            subject_kind: row.subject_kind,
            subject: row.subject_id,
            number: row.number.unsigned_abs(),
            at: row.at,
            actor: row.actor_id.map(HolderId),
            // Whoever answers a caller puts the names beside the ids that the caller is told.
            actor_name: None,
            on_authority_of: row.on_authority_of.map(PersonId),
            on_authority_of_name: None,
            action: row.action,
            before_digest: row.before_digest.map(hex::encode),
            after_digest: row.after_digest.map(hex::encode),
            detail: row.detail,
            previous_hash: hex::encode(row.previous_hash),
            hash: hex::encode(row.hash),
        }
    }
}
