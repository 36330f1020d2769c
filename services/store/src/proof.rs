//! Proving the credentials: the first statement of every transaction that has a caller.

use chrono::{DateTime, Utc};
use diesel::{ExpressionMethods, OptionalExtension, QueryDsl};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use schema::{api_client, session};
use uuid::Uuid;
use wire::ids::{ApiClientId, PersonId};

use crate::actor::{Actor, Credentials, PersonActor};
use crate::error::{Error, Result};
use crate::words::word;

/// What a caller is told whose session has ended.
pub const ENDED: Error = Error::Unauthenticated("The session has ended. Sign in again.");

/// Proves the credentials by one row found by its key.
pub(crate) async fn prove(
    conn: &mut AsyncPgConnection,
    credentials: &Credentials,
    now: DateTime<Utc>,
) -> Result<Actor> {
    match credentials {
        Credentials::Session { session: id, person } => {
            let row: Option<(Uuid, String)> = session::table
                .filter(session::id.eq(id.0))
                .filter(session::person_id.eq(person.0))
                .filter(session::ended_at.is_null())
                .filter(session::idle_expires_at.gt(now))
                .filter(session::valid_until.gt(now))
                .select((session::person_id, session::role))
                .first(conn)
                .await
                .optional()?;
            let (person, role) = row.ok_or(ENDED)?;
            Ok(Actor::Person(PersonActor { id: PersonId(person), role: word(&role)?, session: *id }))
        }
        Credentials::Key(hash) => {
            let row: Option<(Uuid, Uuid, String, Option<DateTime<Utc>>)> = api_client::table
                .filter(api_client::key_hash.eq(&hash[..]))
                .filter(api_client::state.eq("active"))
                .filter(api_client::valid_until.gt(now))
                .select((
                    api_client::id,
                    api_client::responsible_id,
                    api_client::scopes,
                    api_client::last_used_at,
                ))
                .first(conn)
                .await
                .optional()?;
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
    }
}

/// What a caller is told whose key is not valid.
pub const KEY_NOT_KNOWN: Error = Error::Unauthenticated(
    "This API key is unknown, expired or revoked. Ask an administrator for a new one.",
);

/// A write per read would cost more than the read, so that a key was used is noted to the hour.
pub const USE_NOTED_EVERY: chrono::Duration = chrono::Duration::hours(1);

/// Notes that an API client's key was used.
async fn note_use(conn: &mut AsyncPgConnection, id: ApiClientId, now: DateTime<Utc>) -> Result<()> {
    diesel::update(api_client::table.find(id.0)).set(api_client::last_used_at.eq(now)).execute(conn).await?;
    Ok(())
}
