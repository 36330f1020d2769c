//! One event as it is hashed, and the chain that the events of a subject form.

use canonical::{Form, Sha};
use chrono::{DateTime, Utc};
use serde_json::{Value, json};
use uuid::Uuid;

/// The hash of the event before the first of a chain.
pub(super) const BEGINNING: Sha = [0; 32];

/// One event as it is hashed.
pub(super) struct Link<'a> {
    pub(super) form: Form,
    pub(super) id: Uuid,
    pub(super) subject_kind: &'a str,
    pub(super) subject: Uuid,
    pub(super) number: i64,
    pub(super) at: DateTime<Utc>,
    pub(super) actor: Option<Uuid>,
    pub(super) on_authority_of: Option<Uuid>,
    pub(super) action: &'a str,
    pub(super) before: Option<&'a [u8]>,
    pub(super) after: Option<&'a [u8]>,
    pub(super) detail: &'a Value,
    pub(super) previous: &'a [u8],
}

impl Link<'_> {
    /// SHA-256 over the canonical form of every field and the hash of the event before.
    pub(super) fn hash(&self) -> Sha {
        let fields = json!({
            "id": self.id,
            "subject_kind": self.subject_kind,
            "subject": self.subject,
            "number": self.number.to_string(),
            "at": self.at.timestamp_micros().to_string(),
            "actor": self.actor,
            "on_authority_of": self.on_authority_of,
            "action": self.action,
            "before": self.before.map(hex::encode),
            "after": self.after.map(hex::encode),
            "detail": self.detail,
        });
        self.form.digest([self.form.text(&fields).as_bytes(), self.previous])
    }
}
