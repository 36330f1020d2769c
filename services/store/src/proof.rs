//! Proving the credentials: the first statement of every transaction that has a caller.
//!
//! A transaction that writes also holds the caller's right until it ends. Whatever ends or changes the right of a person
//! locks the person's row for itself first, so the row of the person is what both sides meet at: of a demotion and a
//! writing request, the one that comes second waits for the other, and then finds what the other left. Reads lock
//! nothing.

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use schema::{api_client, person, session};
use uuid::Uuid;
use wire::ids::{ApiClientId, PersonId, SessionId};

use crate::actor::{Actor, Credentials, PersonActor};
use crate::error::{Error, Result};
use crate::words::word;

/// What a caller is told whose session has ended.
pub const ENDED: Error = Error::Unauthenticated("The session has ended. Sign in again.");

/// How a transaction holds the right of its caller until it ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hold {
    /// Not at all: it only reads.
    Nothing,
    /// With other writing transactions of the same person. Whatever changes the right waits.
    Shared,
    /// Alone: it changes the right itself, such as by signing out.
    Alone,
}

/// Proves the credentials by one row found by its key.
pub(crate) async fn prove(
    conn: &AsyncPgConnection,
    credentials: &Credentials,
    now: DateTime<Utc>,
    hold: Hold,
) -> Result<Actor> {
    match credentials {
        Credentials::Session { session, person } => prove_session(conn, *session, *person, now, hold).await,
        Credentials::Key(hash) => prove_key(conn, hash, now, hold).await,
    }
}

async fn prove_session(
    mut conn: &AsyncPgConnection,
    id: SessionId,
    of: PersonId,
    now: DateTime<Utc>,
    hold: Hold,
) -> Result<Actor> {
    let live = session::id
        .eq(id.0)
        .and(session::ended_at.is_null())
        .and(session::idle_expires_at.gt(now))
        .and(session::valid_until.gt(now));
    let row: Option<(Uuid, String)> = if hold == Hold::Nothing {
        let found = session::table.filter(live).filter(session::person_id.eq(of.0));
        found.select((session::person_id, session::role)).first(&mut conn).await.optional()?
    } else {
        // The person stands first, since Postgres locks in this order: the session is locked, and read again, only after
        // whatever was changing the person has ended. A key share lock would not do: it does not read again what was
        // changed but for its keys.
        let found = person::table
            .inner_join(session::table.on(session::person_id.eq(person::id)))
            .filter(person::id.eq(of.0))
            .filter(live)
            .select((session::person_id, session::role));
        match hold {
            Hold::Alone => found.for_update().first(&mut conn).await.optional()?,
            Hold::Shared | Hold::Nothing => found.for_share().first(&mut conn).await.optional()?,
        }
    };
    let (person, role) = row.ok_or(ENDED)?;
    Ok(Actor::Person(PersonActor { id: PersonId(person), role: word(&role)?, session: id }))
}

async fn prove_key(
    mut conn: &AsyncPgConnection,
    hash: &Sha,
    now: DateTime<Utc>,
    hold: Hold,
) -> Result<Actor> {
    let valid = api_client::key_hash
        .eq(&hash[..])
        .and(api_client::state.eq("active"))
        .and(api_client::valid_until.gt(now));
    if hold != Hold::Nothing {
        // In the order of whatever closes the key: first the person who answers for it. The key is then read by a
        // statement of its own, so as it is by then; whatever revokes it locks it for itself.
        let responsible: Option<Uuid> = api_client::table
            .filter(valid)
            .select(api_client::responsible_id)
            .first(&mut conn)
            .await
            .optional()?;
        person::table
            .find(responsible.ok_or(KEY_NOT_KNOWN)?)
            .select(person::id)
            .for_share()
            .first::<Uuid>(&mut conn)
            .await?;
    }
    let found = api_client::table.filter(valid).select((
        api_client::id,
        api_client::responsible_id,
        api_client::scopes,
        api_client::last_used_at,
    ));
    let row: Option<(Uuid, Uuid, String, Option<DateTime<Utc>>)> = match hold {
        Hold::Nothing => found.first(&mut conn).await.optional()?,
        Hold::Shared | Hold::Alone => found.for_key_share().first(&mut conn).await.optional()?,
    };
    let (id, responsible, scopes, last_used_at) = row.ok_or(KEY_NOT_KNOWN)?;
    if last_used_at.is_none_or(|at| now - at > USE_NOTED_EVERY) {
        note_use(conn, ApiClientId(id), now).await?;
    }
    Ok(Actor::Client {
        id: ApiClientId(id),
        responsible: PersonId(responsible),
        scopes: scopes.split_whitespace().map(word).collect::<Result<_>>()?,
    })
}

/// What a caller is told whose key is not valid.
pub const KEY_NOT_KNOWN: Error = Error::Unauthenticated(
    "This API key is unknown, expired or revoked. Ask an administrator for a new one.",
);

/// A write per read would cost more than the read, so that a key was used is noted to the hour.
pub const USE_NOTED_EVERY: chrono::Duration = chrono::Duration::hours(1);

/// Notes that an API client's key was used.
async fn note_use(mut conn: &AsyncPgConnection, id: ApiClientId, now: DateTime<Utc>) -> Result<()> {
    diesel::update(api_client::table.find(id.0))
        .set(api_client::last_used_at.eq(now))
        .execute(&mut conn)
        .await?;
    Ok(())
}
