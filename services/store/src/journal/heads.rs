//! The heads of the chains: where each subject's events end.
//!
//! A transaction locks the heads that exist, in the order of their subjects, and writes them before its events. A head
//! that another transaction began in the meantime is never overwritten: the later transaction fails and is tried again.

use std::collections::{BTreeMap, BTreeSet};

use diesel::QueryableByName;
use diesel::sql_types::{Array, BigInt, Binary, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

use super::chain::BEGINNING;
use super::event::NewEvent;
use crate::error::{Error, Result};
use crate::prepared::Prepare;

/// Where a chain stands: the kind of its subject, the number of its last event, and that event's hash.
pub(super) struct Head {
    pub(super) kind: String,
    pub(super) number: i64,
    pub(super) hash: Vec<u8>,
    /// Whether the head exists, so that this transaction holds its lock.
    pub(super) locked: bool,
}

impl Head {
    /// The head of a chain without an event.
    pub(super) fn beginning(kind: &str) -> Self {
        Self { kind: kind.to_owned(), number: 0, hash: BEGINNING.to_vec(), locked: false }
    }
}

/// Another transaction wrote to the same chain or vouched for the same row after this one had read it.
#[derive(Clone, Copy, Debug, thiserror::Error)]
#[error("another transaction wrote {0} at the same time: repeat the request")]
pub struct Overtaken(pub &'static str);

impl From<Overtaken> for Error {
    /// The request may succeed when it is repeated, as after a serialization failure.
    fn from(overtaken: Overtaken) -> Self {
        Self::Contended(overtaken.into())
    }
}

#[derive(QueryableByName)]
struct HeadRow {
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
    #[diesel(sql_type = Text)]
    subject_kind: String,
    #[diesel(sql_type = BigInt)]
    number: i64,
    #[diesel(sql_type = Binary)]
    hash: Vec<u8>,
}

/// The chains' heads, locked in the order of their subjects.
pub(super) async fn lock(conn: &AsyncPgConnection, events: &[NewEvent]) -> Result<BTreeMap<Uuid, Head>> {
    let subjects: BTreeSet<Uuid> = events.iter().map(|event| event.subject).collect();
    let rows: Vec<HeadRow> = diesel::sql_query(
        "SELECT subject_id, subject_kind, number, hash FROM event_head
         WHERE subject_id = ANY ((SELECT $1)::uuid[]) ORDER BY subject_id FOR UPDATE",
    )
    .bind::<Array<SqlUuid>, _>(Vec::from_iter(subjects))
    .prepared()
    .load(&mut &*conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| {
            let head = Head { kind: row.subject_kind, number: row.number, hash: row.hash, locked: true };
            (row.subject_id, head)
        })
        .collect())
}
