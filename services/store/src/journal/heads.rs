//! The heads of the chains: where each subject's events end.
//!
//! A transaction locks the heads that exist, in the order of their subjects, and writes them before its events. A head
//! that another transaction began in the meantime is never overwritten: the later transaction fails and is tried again.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use diesel::upsert::excluded;
use diesel_async::RunQueryDsl;
use schema::event_head;
use uuid::Uuid;

use super::ROWS;
use super::chain::BEGINNING;
use super::event::NewEvent;
use crate::error::{Error, Result};
use crate::tx::Tx;

/// Where a chain stands: the kind of its subject, the number of its last event, and that event's hash.
pub(super) struct Head {
    pub(super) kind: String,
    pub(super) number: i64,
    pub(super) hash: Vec<u8>,
    /// Whether the head exists, so that this transaction holds its lock.
    locked: bool,
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

/// The chains' heads, locked in the order of their subjects.
pub(super) async fn lock(tx: &mut Tx<'_>, events: &[NewEvent]) -> Result<BTreeMap<Uuid, Head>> {
    let subjects: BTreeSet<Uuid> = events.iter().map(|event| event.subject).collect();
    let rows: Vec<(Uuid, String, i64, Vec<u8>)> = event_head::table
        .filter(event_head::subject_id.eq_any(subjects))
        .order(event_head::subject_id)
        .select((event_head::subject_id, event_head::subject_kind, event_head::number, event_head::hash))
        .for_update()
        .load(tx.conn())
        .await?;
    Ok(rows
        .into_iter()
        .map(|(id, kind, number, hash)| (id, Head { kind, number, hash, locked: true }))
        .collect())
}

/// Writes the heads, in the order of their subjects.
///
/// # Errors
/// [`Error::Contended`] with [`Overtaken`] when another transaction began one of the chains in the meantime.
pub(super) async fn keep(tx: &mut Tx<'_>, heads: BTreeMap<Uuid, Head>) -> Result<()> {
    let locked: Vec<Uuid> = heads.iter().filter(|(_, head)| head.locked).map(|(id, _)| *id).collect();
    let rows: Vec<_> = heads
        .into_iter()
        .map(|(subject, head)| {
            (
                event_head::subject_id.eq(subject),
                event_head::subject_kind.eq(head.kind),
                event_head::number.eq(head.number),
                event_head::hash.eq(head.hash),
            )
        })
        .collect();
    for some in rows.chunks(ROWS) {
        let upsert = diesel::insert_into(event_head::table)
            .values(some.to_vec())
            .on_conflict(event_head::subject_id)
            .do_update()
            .set((
                event_head::number.eq(excluded(event_head::number)),
                event_head::hash.eq(excluded(event_head::hash)),
            ));
        // Under our lock a head is as it was read. Any other head is not ours to overwrite.
        let written =
            diesel::query_dsl::methods::FilterDsl::filter(upsert, event_head::subject_id.eq_any(&locked))
                .execute(tx.conn())
                .await?;
        if written != some.len() {
            return Err(Overtaken("the first event of the same subject").into());
        }
    }
    Ok(())
}
