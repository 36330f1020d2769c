//! An event as the database holds it, read so that no damage to it stops the reading.

use canonical::{Form, Sha};
use chrono::{DateTime, Utc};
use diesel::sql_types::{BigInt, Binary, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use serde_json::Value;
use uuid::Uuid;

use super::chain::Link;

/// The columns of [`Stored`] of the event `e`. The detail is read as text, and an instant that no clock of ours shows
/// as the beginning of the epoch: what cannot be parsed is then a changed event and not an error.
pub(super) const COLUMNS: &str = "e.id, e.subject_kind, e.subject_id, e.number, \
     CASE WHEN e.at BETWEEN timestamptz '0001-01-01Z' AND timestamptz '9999-12-31Z' THEN e.at \
     ELSE timestamptz 'epoch' END AS at, \
     e.actor_id, e.on_authority_of, e.action, e.before_digest, e.after_digest, e.detail::text AS detail, \
     e.previous_hash, e.hash, e.form";

/// An event as the database holds it.
#[derive(diesel::QueryableByName)]
pub(super) struct Stored {
    #[diesel(sql_type = SqlUuid)]
    pub(super) id: Uuid,
    #[diesel(sql_type = Text)]
    subject_kind: String,
    #[diesel(sql_type = SqlUuid)]
    pub(super) subject_id: Uuid,
    #[diesel(sql_type = BigInt)]
    pub(super) number: i64,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    actor_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    on_authority_of: Option<Uuid>,
    #[diesel(sql_type = Text)]
    action: String,
    #[diesel(sql_type = Nullable<Binary>)]
    before_digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Binary>)]
    after_digest: Option<Vec<u8>>,
    #[diesel(sql_type = Text)]
    detail: String,
    #[diesel(sql_type = Binary)]
    pub(super) previous_hash: Vec<u8>,
    #[diesel(sql_type = Binary)]
    pub(super) hash: Vec<u8>,
    #[diesel(sql_type = SmallInt)]
    pub(super) form: i16,
}

impl Stored {
    /// The hash over the other columns, where they can be read at all.
    fn recomputed(&self) -> Option<Sha> {
        let form = Form::numbered(self.form).ok()?;
        let detail: Value = serde_json::from_str(&self.detail).ok()?;
        let link = Link {
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
            detail: &detail,
            previous: &self.previous_hash,
        };
        Some(link.hash())
    }

    /// Whether the event is as it was written.
    pub(super) fn holds(&self) -> bool {
        self.recomputed().is_some_and(|hash| hash[..] == self.hash[..])
    }

    /// How many digests the event carries of what its subject was and became.
    pub(super) fn digests(&self) -> u64 {
        u64::from(self.before_digest.is_some()) + u64::from(self.after_digest.is_some())
    }
}
