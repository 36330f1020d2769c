//! What creating requests did, so that a repeated one does nothing twice.
//!
//! Kept: who, key, route, digest of the request, status and the id of what was made. Never: a body or a secret.

use canonical::Sha;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::idempotency;
use uuid::Uuid;

use crate::error::{Error, Result};
use crate::tx::Tx;

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
struct Locked {
    #[diesel(sql_type = diesel::sql_types::Bool)]
    locked: bool,
}

/// What an earlier request with the same key made. Takes the key's lock first, without waiting for it.
pub(crate) async fn earlier(tx: &mut Tx<'_>, once: &IdempotencyKey) -> Result<Option<Uuid>> {
    let principal = tx.actor()?.holder().0;
    let digest = canonical::digest([&principal.as_bytes()[..], once.key.as_bytes()]);
    let lock = i64::from_be_bytes(digest.first_chunk().copied().unwrap_or_default());
    let taken = diesel::sql_query("SELECT pg_try_advisory_xact_lock($1) AS locked")
        .bind::<diesel::sql_types::BigInt, _>(lock)
        .get_result::<Locked>(tx.conn())
        .await?;
    if !taken.locked {
        return Err(Error::KeyInFlight);
    }
    let row: Option<(String, Vec<u8>, Uuid)> = idempotency::table
        .find((principal, &once.key))
        .select((idempotency::route, idempotency::request_digest, idempotency::resource_id))
        .first(tx.conn())
        .await
        .optional()?;
    match row {
        None => Ok(None),
        Some((route, digest, made)) if route == once.route && digest == once.digest => Ok(Some(made)),
        Some(_) => Err(Error::KeyReused),
    }
}

/// Keeps what this request made.
pub(crate) async fn keep(tx: &mut Tx<'_>, once: &IdempotencyKey, made: Uuid) -> Result<()> {
    let principal = tx.actor()?.holder().0;
    let now = tx.now();
    diesel::insert_into(idempotency::table)
        .values((
            idempotency::principal_id.eq(principal),
            idempotency::key.eq(&once.key),
            idempotency::route.eq(&once.route),
            idempotency::request_digest.eq(&once.digest[..]),
            idempotency::status.eq(201_i16),
            idempotency::resource_id.eq(made),
            idempotency::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    Ok(())
}
