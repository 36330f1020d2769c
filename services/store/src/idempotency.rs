//! What creating requests did, so that a repeated one does nothing twice.
//!
//! Kept: who, key, route, digest of the request, status and the id of what was made. Never: a body or a secret.

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Binary, Bool, Nullable, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use schema::idempotency;
use uuid::Uuid;

use crate::error::{Error, Result, violates};
use crate::prepared::Prepare;

/// A creating request that may be repeated: its key, what it was, and a digest of its body.
#[derive(Clone, Debug)]
pub struct IdempotencyKey {
    /// The `Idempotency-Key`.
    pub key: String,
    /// Method and path.
    pub route: String,
    /// Digest of the body.
    pub digest: Sha,
}

#[derive(QueryableByName)]
struct Earlier {
    #[diesel(sql_type = Bool)]
    locked: bool,
    #[diesel(sql_type = Nullable<Text>)]
    route: Option<String>,
    #[diesel(sql_type = Nullable<Binary>)]
    digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    made: Option<Uuid>,
}

/// What an earlier request with the same key made. Takes the key's lock first, without waiting for it. One statement: a
/// request that ends while it runs is met again by [`keep`].
pub(crate) async fn earlier(
    conn: &AsyncPgConnection,
    principal: Uuid,
    once: &IdempotencyKey,
) -> Result<Option<Uuid>> {
    let digest = canonical::digest([&principal.as_bytes()[..], once.key.as_bytes()]);
    let lock = i64::from_be_bytes(digest.first_chunk().copied().unwrap_or_default());
    let found: Earlier = diesel::sql_query(
        "SELECT pg_try_advisory_xact_lock($1) AS locked, i.route, i.request_digest AS digest, i.resource_id AS made
         FROM (VALUES (1)) AS one LEFT JOIN idempotency i ON i.principal_id = $2 AND i.key = $3",
    )
    .bind::<BigInt, _>(lock)
    .bind::<SqlUuid, _>(principal)
    .bind::<Text, _>(&once.key)
    .prepared()
    .get_result(&mut &*conn)
    .await?;
    if !found.locked {
        return Err(Error::KeyInFlight);
    }
    match (found.route, found.digest, found.made) {
        (Some(route), Some(digest), made) if route == once.route && digest == once.digest => Ok(made),
        (None, ..) => Ok(None),
        _ => Err(Error::KeyReused),
    }
}

/// What a creating request made, to be kept when its transaction ends.
pub(crate) struct Made {
    pub(crate) principal: Uuid,
    pub(crate) once: IdempotencyKey,
    pub(crate) id: Uuid,
    pub(crate) at: DateTime<Utc>,
}

/// Keeps what this request made.
pub(crate) async fn keep(conn: &AsyncPgConnection, made: Option<Made>) -> Result<()> {
    let Some(Made { principal, once, id, at }) = made else { return Ok(()) };
    diesel::insert_into(idempotency::table)
        .values((
            idempotency::principal_id.eq(principal),
            idempotency::key.eq(&once.key),
            idempotency::route.eq(&once.route),
            idempotency::request_digest.eq(&once.digest[..]),
            idempotency::status.eq(201_i16),
            idempotency::resource_id.eq(id),
            idempotency::at.eq(at),
        ))
        .prepared()
        .execute(&mut &*conn)
        .await
        .map_err(|error| {
            // The first request with the key ended while this one looked: tried again, this one finds what that made.
            if violates(&error, "idempotency_pkey") { Error::Contended(error.into()) } else { error.into() }
        })?;
    Ok(())
}
