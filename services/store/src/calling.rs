//! Who opens a transaction, and the first statements of one that has a caller.

use chrono::{DateTime, Utc};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

use crate::actor::{Actor, Credentials};
use crate::error::Result;
use crate::idempotency::{self, IdempotencyKey};
use crate::pipeline::in_order;
use crate::proof::{self, Hold};

/// Who calls, and how the transaction holds their right.
#[derive(Clone, Copy)]
pub(crate) struct Calling<'c> {
    pub(crate) credentials: &'c Credentials,
    pub(crate) hold: Hold,
    /// What such transactions follow each other by.
    pub(crate) turn: Option<i64>,
    /// The key of a creating request.
    pub(crate) once: Option<&'c IdempotencyKey>,
}

/// What an earlier request with the same key made, where that was looked up.
pub(crate) type Earlier = Option<Result<Option<Uuid>>>;

/// Proves who is calling. The key of a creating request is looked up by the same round trip: both statements are sent at
/// once and run one after the other, so that the session is held first. What was found of the key is told only to who
/// was proved.
pub(crate) async fn opened(
    conn: &AsyncPgConnection,
    caller: Option<Calling<'_>>,
    now: DateTime<Utc>,
) -> Result<(Option<Actor>, Earlier)> {
    let Some(Calling { credentials, hold, turn, once }) = caller else { return Ok((None, None)) };
    if let Some(turn) = turn {
        diesel::sql_query("SELECT pg_advisory_xact_lock($1)")
            .bind::<diesel::sql_types::BigInt, _>(turn)
            .execute(&mut &*conn)
            .await?;
    }
    let earlier = async {
        match (once, credentials) {
            (Some(once), Credentials::Session { person, .. }) => {
                Ok(Some(idempotency::earlier(conn, person.0, once).await))
            }
            // Who holds a key is known only once it was found.
            _ => Ok(None),
        }
    };
    let (actor, earlier) = in_order(proof::prove(conn, credentials, now, hold), earlier).await?;
    Ok((Some(actor), earlier))
}
