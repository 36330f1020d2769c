//! The chains of events.

use diesel::sql_types::{BigInt, Uuid as SqlUuid};
use uuid::Uuid;

use super::Verdict;
use crate::error::Result;
use crate::journal::breaks::Breaks;
use crate::journal::chain::BEGINNING;
use crate::journal::stored::{COLUMNS, Stored};
use crate::journal::stream::stream;
use crate::tx::Tx;
use canonical::Form;

/// The event before, as far as the next one is concerned.
struct Last {
    subject: Uuid,
    number: i64,
    hash: Vec<u8>,
}

/// Reads every event, chain by chain, and recomputes every hash.
pub(super) async fn verify(tx: &mut Tx<'_>, verdict: &mut Verdict) -> Result<()> {
    let mut last: Option<Last> = None;
    let every = format!("SELECT {COLUMNS} FROM event e ORDER BY e.subject_id, e.number");
    stream(tx, &every, |row: Stored| {
        verdict.events += 1;
        match last.take().filter(|last| last.subject == row.subject_id) {
            Some(last) => check(&row, last.number + 1, &last.hash, &mut verdict.breaks),
            None => {
                verdict.chains += 1;
                check(&row, 1, &BEGINNING, &mut verdict.breaks);
            }
        }
        if row.form == Form::One.number() && row.digests() > 0 {
            verdict.older.events += 1;
            verdict.older.digests += row.digests();
        }
        last = Some(Last { subject: row.subject_id, number: row.number, hash: row.hash });
        Ok(())
    })
    .await?;
    heads(tx, &mut verdict.breaks).await
}

fn check(row: &Stored, expected: i64, follows: &[u8], breaks: &mut Breaks) {
    let (subject, number) = (row.subject_id, row.number);
    if number != expected {
        breaks.push(format!("{subject}: event {expected} is missing before event {number}"));
    } else if row.previous_hash != follows {
        breaks.push(format!("{subject}: event {number} does not follow the one before it"));
    }
    if !row.holds() {
        breaks.push(format!("{subject}: event {number} was changed after it was written"));
    }
}

#[derive(diesel::QueryableByName)]
struct At {
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
    #[diesel(sql_type = BigInt)]
    number: i64,
}

/// A chain that was cut off at its end shows only at its head.
async fn heads(tx: &mut Tx<'_>, breaks: &mut Breaks) -> Result<()> {
    let cut = "SELECT h.subject_id, h.number FROM event_head h
         WHERE NOT EXISTS (SELECT FROM event e
             WHERE e.subject_id = h.subject_id AND e.number = h.number AND e.hash = h.hash)
         ORDER BY h.subject_id";
    stream(tx, cut, |At { subject_id, number }| {
        breaks.push(format!(
            "{subject_id}: the chain's head names event {number}, which is not there as it was"
        ));
        Ok(())
    })
    .await?;
    // Neither may a head be taken away, nor events stand behind it.
    let behind = "SELECT e.subject_id, e.number FROM event e
         WHERE NOT EXISTS (SELECT FROM event_head h WHERE h.subject_id = e.subject_id AND h.number >= e.number)
         ORDER BY e.subject_id, e.number";
    stream(tx, behind, |At { subject_id, number }| {
        breaks.push(format!("{subject_id}: event {number} stands behind the chain's head"));
        Ok(())
    })
    .await
}
