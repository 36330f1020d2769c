//! Checks before the start of a batch: line clearance, cleaning and sanitising, check-weight, thermometer, pH meter, room
//! conditions; and the equipment that it is made with.
//!
//! They say nothing of the recipe, so they stand in an open table, but whoever reads them proves that they may read the
//! record. What a meter shows decides whether it passed, and the database repeats the comparison.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use schema::{batch, batch_check};
use serde_json::json;
use store::known_as;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, violates, word};
use uuid::Uuid;
use wire::bench::BatchState;
use wire::checks::{Check, NewCheck};
use wire::ids::BatchId;

use crate::batches;
use crate::checked::{Row, check, named, of_record};
use crate::kept::{BATCH, CHECK};
use crate::readings::{self, Read};

/// Adds a check to a record. A correction names the corrected check and its reason; both stay.
///
/// # Errors
/// Returns [`Error::Forbidden`] if the caller is not the maker, [`Error::State`] if the record is closed,
/// [`Error::Invalid`] for refused fields, and [`Error::Conflict`] for a check that was corrected before.
pub async fn check_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewCheck,
) -> Result<Check> {
    let read = readings::read(request)?;
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::own(tx, id).await?;
                let state: BatchState = word(&record.row().state)?;
                if !matches!(state, BatchState::Planned | BatchState::Making | BatchState::Returned) {
                    return Err(Error::state(
                        state,
                        "This record accepts no checks. Checks are accepted while a batch is planned, making or returned.",
                    ));
                }
                insert(tx, &record, request, &read).await
            },
            async |tx, check| {
                let record = batches::own(tx, id).await?;
                let mut all = of_record(tx, &record).await?;
                let place = all.iter().position(|one| one.id.0 == check).ok_or(Error::NotFound("check"))?;
                let names = known_as::people(tx, [all[place].by.0]).await?;
                Ok(named(all.swap_remove(place), &names))
            },
        )
        .await
}

/// The caller's last check of each meter, in whatever batch: whoever checks it again has no need to type what it is.
///
/// # Errors
/// Returns [`Error::Forbidden`] for an API client.
pub async fn last_checks(store: &Store, credentials: &Credentials) -> Result<Vec<Check>> {
    store
        .read(credentials, async |tx| {
            let me = tx.person()?.id;
            let rows: Vec<Row> = batch_check::table
                .filter(batch_check::by_id.eq(me.0))
                .order(batch_check::id.desc())
                .limit(40)
                .select(Row::as_select())
                .load(tx.conn())
                .await?;
            let mut last: Vec<Check> = Vec::new();
            for row in rows.into_iter().filter(|row| row.tolerance.is_some()) {
                if !last.iter().any(|check| check.kind.as_str() == row.kind) {
                    last.push(check(row, &[])?);
                }
            }
            Ok(last)
        })
        .await
}

async fn insert<'t>(tx: &mut Tx<'t>, record: &Record<'t>, request: &NewCheck, read: &Read) -> Result<Uuid> {
    let batch = record.batch();
    let before = of_record(tx, record).await?;
    if let Some(corrects) = request.corrects {
        match before.iter().find(|check| check.id == corrects) {
            None => return Err(Error::field("/corrects", "This batch record has no check with this ID.")),
            Some(old) if old.kind != request.kind => {
                let cure = format!(
                    "The corrected check is of the kind {}. Send a correction of the same kind.",
                    old.kind
                );
                return Err(Error::field("/kind", cure));
            }
            Some(_) => {}
        }
    }
    let trimmed = |text: &Option<String>| text.as_deref().map(|text| text.trim().to_owned());
    let row = Row {
        id: tx.new_id(),
        batch_id: batch.0,
        number: i32::try_from(before.len()).unwrap_or(i32::MAX - 1) + 1,
        kind: request.kind.as_str().to_owned(),
        instrument: trimmed(&request.instrument),
        reference: trimmed(&request.reference),
        reading: trimmed(&request.reading),
        tolerance: trimmed(&request.tolerance),
        humidity: trimmed(&request.humidity),
        reference_value: read.reference,
        reading_value: read.reading,
        tolerance_value: read.tolerance,
        humidity_percent: read.humidity,
        passed: read.passed,
        note: trimmed(&request.note),
        after_entry: record.row().last_entry,
        after_submission: record.row().last_submission,
        corrects_id: request.corrects.map(|id| id.0),
        reason: trimmed(&request.reason),
        by_id: tx.person()?.id.0,
        at: tx.now(),
    };
    diesel::insert_into(batch_check::table).values(&row).execute(tx.conn()).await.map_err(|error| {
        match violates(&error, "batch_check_corrected_once") {
            true => {
                Error::Conflict("This check was corrected before. Correct the correction instead.".into())
            }
            false => error.into(),
        }
    })?;
    diesel::update(batch::table.find(batch.0))
        .set(batch::version.eq(batch::version + 1))
        .execute(tx.conn())
        .await?;
    let action = if request.corrects.is_some() { "check_corrected" } else { "check_written" };
    let written = NewEvent::new("batch", batch.0, action)
        .detail(json!({ "check": row.id, "corrects": row.corrects_id }))
        .keeps(&BATCH, [batch.0])
        .keeps(&CHECK, [row.id]);
    tx.record(written);
    Ok(row.id)
}
