//! Writing an event at the end of its subject's chain.

use chrono::{DateTime, Utc};
use diesel::{ExpressionMethods, OptionalExtension, QueryDsl};
use diesel_async::RunQueryDsl;
use schema::{event, event_head};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::canonical::{self, Sha};
use crate::error::Result;
use crate::tx::{Actor, Tx};

/// What happened, without what the transaction knows already (who and when).
#[derive(Debug)]
pub(crate) struct NewEvent {
    /// What kind of thing changed.
    pub(crate) subject_kind: &'static str,
    /// The thing.
    pub(crate) subject: Uuid,
    /// What was done to it.
    pub(crate) action: &'static str,
    /// Its digest before, if it had one.
    pub(crate) before: Option<Sha>,
    /// Its digest after, if it has one.
    pub(crate) after: Option<Sha>,
    /// Ids and digests of what else was touched: strings only, never text that a person wrote.
    pub(crate) detail: Value,
}

impl NewEvent {
    /// An event without digests.
    pub(crate) fn new(subject_kind: &'static str, subject: Uuid, action: &'static str) -> Self {
        Self { subject_kind, subject, action, before: None, after: None, detail: json!({}) }
    }

    /// With the digest of what the subject became.
    pub(crate) fn after(mut self, after: Sha) -> Self {
        self.after = Some(after);
        self
    }

    /// With what else was touched.
    pub(crate) fn detail(mut self, detail: Value) -> Self {
        self.detail = detail;
        self
    }
}

/// The hash of the event before the first of a chain.
const BEGINNING: Sha = [0; 32];

/// One event as it is hashed.
pub(super) struct Link<'a> {
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
        canonical::digest([canonical::text(&fields).as_bytes(), self.previous])
    }
}

/// Writes an event. The head row is locked, so that two writers of one subject follow each other.
pub(crate) async fn record(tx: &mut Tx<'_>, new: NewEvent) -> Result<()> {
    let head: Option<(i64, Vec<u8>)> = event_head::table
        .find(new.subject)
        .select((event_head::number, event_head::hash))
        .for_update()
        .first(tx.conn())
        .await
        .optional()?;
    let first = head.is_none();
    let (last, previous) = head.unwrap_or_else(|| (0, BEGINNING.to_vec()));
    let number = last + 1;
    let (actor, on_authority_of) = match tx.actor_if_any() {
        Some(Actor::Person(person)) => (Some(person.id.0), None),
        Some(Actor::Client { id, responsible, .. }) => (Some(id.0), Some(responsible.0)),
        None => (None, None),
    };
    let id = tx.new_id();
    let link = Link {
        id,
        subject_kind: new.subject_kind,
        subject: new.subject,
        number,
        at: tx.now,
        actor,
        on_authority_of,
        action: new.action,
        before: new.before.as_ref().map(|digest| &digest[..]),
        after: new.after.as_ref().map(|digest| &digest[..]),
        detail: &new.detail,
        previous: &previous,
    };
    let hash = link.hash();
    let now = tx.now;
    if first {
        diesel::insert_into(event_head::table)
            .values((
                event_head::subject_id.eq(new.subject),
                event_head::subject_kind.eq(new.subject_kind),
                event_head::number.eq(number),
                event_head::hash.eq(&hash[..]),
            ))
            .execute(tx.conn())
            .await?;
    } else {
        diesel::update(event_head::table.find(new.subject))
            .set((event_head::number.eq(number), event_head::hash.eq(&hash[..])))
            .execute(tx.conn())
            .await?;
    }
    diesel::insert_into(event::table)
        .values((
            event::id.eq(id),
            event::subject_kind.eq(new.subject_kind),
            event::subject_id.eq(new.subject),
            event::number.eq(number),
            event::at.eq(now),
            event::actor_id.eq(actor),
            event::on_authority_of.eq(on_authority_of),
            event::action.eq(new.action),
            event::before_digest.eq(new.before.map(Vec::from)),
            event::after_digest.eq(new.after.map(Vec::from)),
            event::detail.eq(&new.detail),
            event::previous_hash.eq(&previous),
            event::hash.eq(&hash[..]),
        ))
        .execute(tx.conn())
        .await?;
    Ok(())
}
