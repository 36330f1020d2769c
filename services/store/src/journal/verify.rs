//! Proving that no event was changed, removed or slipped in.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{event, event_head};
use uuid::Uuid;

use super::chain::BEGINNING;
use super::row::EventRow;
use crate::error::Result;
use crate::tx::Tx;

/// What verifying found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verdict {
    /// How many events were read.
    pub events: u64,
    /// How many chains they form.
    pub chains: u64,
    /// Where a chain does not hold, in words.
    pub breaks: Vec<String>,
}

/// How many events are read at a time.
const STRIDE: i64 = 1000;

/// Reads the whole journal, chain by chain, and recomputes every hash. Memory: one stride of events.
///
/// # Errors
/// When the database cannot be read.
pub async fn verify(tx: &mut Tx<'_>) -> Result<Verdict> {
    let mut verdict = Verdict { events: 0, chains: 0, breaks: Vec::new() };
    let mut at: Option<(Uuid, i64)> = None;
    let mut previous: Vec<u8> = BEGINNING.to_vec();
    loop {
        let mut rows = event::table
            .select(EventRow::as_select())
            .order((event::subject_id, event::number))
            .limit(STRIDE)
            .into_boxed();
        if let Some((subject, number)) = at {
            rows = rows.filter(
                event::subject_id.gt(subject).or(event::subject_id.eq(subject).and(event::number.gt(number))),
            );
        }
        let rows: Vec<EventRow> = rows.load(tx.conn()).await?;
        if rows.is_empty() {
            break;
        }
        for row in rows {
            let (expected, follows) = match at {
                Some((subject, number)) if subject == row.subject_id => (number + 1, previous.clone()),
                _ => {
                    verdict.chains += 1;
                    (1, BEGINNING.to_vec())
                }
            };
            verdict.events += 1;
            check(&row, expected, &follows, &mut verdict.breaks)?;
            at = Some((row.subject_id, row.number));
            previous = row.hash;
        }
    }
    heads(tx, &mut verdict).await?;
    Ok(verdict)
}

fn check(row: &EventRow, expected: i64, follows: &[u8], breaks: &mut Vec<String>) -> Result<()> {
    let (subject, number) = (row.subject_id, row.number);
    if number != expected {
        breaks.push(format!("{subject}: event {expected} is missing before event {number}"));
    } else if row.previous_hash != follows {
        breaks.push(format!("{subject}: event {number} does not follow the one before it"));
    }
    if row.recomputed()?[..] != row.hash[..] {
        breaks.push(format!("{subject}: event {number} was changed after it was written"));
    }
    Ok(())
}

/// A chain that was cut off at its end shows only at its head.
async fn heads(tx: &mut Tx<'_>, verdict: &mut Verdict) -> Result<()> {
    let cut: Vec<(Uuid, i64)> = event_head::table
        .left_join(
            event::table.on(event::subject_id
                .eq(event_head::subject_id)
                .and(event::number.eq(event_head::number))
                .and(event::hash.eq(event_head::hash))),
        )
        .filter(event::id.nullable().is_null())
        .select((event_head::subject_id, event_head::number))
        .order(event_head::subject_id)
        .limit(STRIDE)
        .load(tx.conn())
        .await?;
    for (subject, number) in cut {
        verdict
            .breaks
            .push(format!("{subject}: the chain's head names event {number}, which is not there as it was"));
    }
    // Neither may a head be taken away, nor events stand behind it.
    let behind: Vec<(Uuid, i64)> = event::table
        .left_join(
            event_head::table
                .on(event_head::subject_id.eq(event::subject_id).and(event_head::number.ge(event::number))),
        )
        .filter(event_head::subject_id.nullable().is_null())
        .select((event::subject_id, event::number))
        .order((event::subject_id, event::number))
        .limit(STRIDE)
        .load(tx.conn())
        .await?;
    for (subject, number) in behind {
        verdict.breaks.push(format!("{subject}: event {number} stands behind the chain's head"));
    }
    Ok(())
}
