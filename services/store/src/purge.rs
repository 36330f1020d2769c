//! Removing rows that are no longer needed, a bounded number at a time.

use chrono::{DateTime, Utc};
use diesel::sql_types::{BigInt, Bool, Timestamptz};
use diesel_async::RunQueryDsl;

use crate::error::Result;
use crate::store::Store;

/// How many rows go in one transaction, so that none of them takes long or holds many locks.
pub const BATCH: i64 = 1000;

/// A table whose rows are removed by age.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aged {
    /// What creating requests did.
    Idempotency,
    /// Refresh tokens, used ones too.
    RefreshTokens,
    /// Secrets of the pages.
    PageSessions,
    /// Counts of failed attempts.
    Attempts,
}

impl Aged {
    /// Each finds its rows by an index on their age. A row that somebody else is using is left for the next time.
    const fn statement(self) -> &'static str {
        match self {
            Self::Idempotency => {
                "DELETE FROM idempotency WHERE ctid = ANY (ARRAY(
                     SELECT ctid FROM idempotency WHERE at < $1 ORDER BY at LIMIT $2))"
            }
            Self::RefreshTokens => {
                "DELETE FROM refresh_token WHERE ctid = ANY (ARRAY(
                     SELECT ctid FROM refresh_token WHERE issued_at < $1 ORDER BY issued_at LIMIT $2
                     FOR UPDATE SKIP LOCKED))"
            }
            Self::PageSessions => {
                "DELETE FROM page_session WHERE ctid = ANY (ARRAY(
                     SELECT ctid FROM page_session WHERE issued_at < $1 ORDER BY issued_at LIMIT $2))"
            }
            Self::Attempts => {
                "DELETE FROM attempt WHERE ctid = ANY (ARRAY(
                     SELECT ctid FROM attempt WHERE last_at < $1 ORDER BY last_at LIMIT $2
                     FOR UPDATE SKIP LOCKED))"
            }
        }
    }
}

/// Only one process removes at a time; the others have nothing to do meanwhile.
const REMOVING: i64 = 0x70_75_72_67_65;

#[derive(diesel::QueryableByName)]
struct Locked {
    #[diesel(sql_type = Bool)]
    locked: bool,
}

/// Removes at most [`BATCH`] rows that are older than `before`, and answers how many there were; none while another
/// process removes.
///
/// # Errors
/// Returns the errors of the database.
pub async fn purge(store: &Store, table: Aged, before: DateTime<Utc>) -> Result<usize> {
    store
        .run_unauthenticated(async |tx| {
            let turn = diesel::sql_query("SELECT pg_try_advisory_xact_lock($1) AS locked")
                .bind::<BigInt, _>(REMOVING)
                .get_result::<Locked>(tx.conn())
                .await?;
            if !turn.locked {
                return Ok(0);
            }
            Ok(diesel::sql_query(table.statement())
                .bind::<Timestamptz, _>(before)
                .bind::<BigInt, _>(BATCH)
                .execute(tx.conn())
                .await?)
        })
        .await
}
