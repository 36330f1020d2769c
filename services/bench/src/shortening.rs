//! Bringing the last day of a batch forward after an observation. It is never put off.

use chrono::Days;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use schema::batch_shortening;
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::BatchId;
use wire::observations::{NewShortening, Observations};
use wire::problem::FieldError;

use crate::kept::SHORTENING;
use crate::observed::{not_discarded, rows, text, told};
use crate::{batches, last_day};

/// Brings the last day of a batch forward after an observation: of its jars, their labels and pages, and of its lots.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::Forbidden`] unless an instructor is calling, [`Error::State`] once what was
/// made was discarded, and [`Error::Invalid`] for refused fields, such as a day that is not earlier.
pub async fn shorten(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewShortening,
) -> Result<Observations> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::access(tx, id, true).await?;
                tx.instructor()?;
                bring_forward(tx, &record, request).await
            },
            async |tx, _| {
                let record = batches::access(tx, id, false).await?;
                told(tx, &record).await
            },
        )
        .await
}

async fn bring_forward<'t>(tx: &mut Tx<'t>, record: &Record<'t>, request: &NewShortening) -> Result<Uuid> {
    let id = record.batch();
    not_discarded(record)?;
    let seen = rows(tx, id).await?;
    let mut errors = Vec::new();
    let corrected = seen.iter().any(|row| row.corrects_id == Some(request.observation.0));
    match seen.iter().any(|row| row.id == request.observation.0) {
        false => {
            let cure = "This batch has no observation with this ID. Read its observations again.";
            errors.push(FieldError::new("/observation", cure));
        }
        true if corrected => {
            let cure = "This observation was corrected. Name the correction instead.";
            errors.push(FieldError::new("/observation", cure));
        }
        true => {}
    }
    let reason = text(Some(&request.reason), "/reason", &mut errors);
    if reason.is_none() {
        let cure = "Enter why its last day is brought forward, in 1 to 1000 characters.";
        errors.push(FieldError::new("/reason", cure));
    }
    let today = policy::rules(tx).await?.date(tx.now());
    let yesterday = today - Days::new(1);
    let now = last_day::of_batch(tx, id).await?;
    let day = request.last_day;
    if day < yesterday || now.is_some_and(|now| day >= now) {
        let cure = match now {
            Some(now) if now <= yesterday => format!("The last day was {now}. It cannot be brought forward."),
            Some(now) => format!(
                "The last day is {now}, and it can only be brought forward. Enter an earlier day, {yesterday} at the earliest."
            ),
            None => format!("Enter {yesterday} or a later day."),
        };
        errors.push(FieldError::new("/last_day", cure));
    }
    let Some(reason) = reason.filter(|_| errors.is_empty()) else { return Err(Error::Invalid(errors)) };
    let last: Option<i32> = batch_shortening::table
        .filter(batch_shortening::batch_id.eq(id.0))
        .select(diesel::dsl::max(batch_shortening::number))
        .first(tx.conn())
        .await?;
    let written = tx.new_id();
    diesel::insert_into(batch_shortening::table)
        .values((
            batch_shortening::id.eq(written),
            batch_shortening::batch_id.eq(id.0),
            batch_shortening::number.eq(last.unwrap_or(0) + 1),
            batch_shortening::observation_id.eq(request.observation.0),
            batch_shortening::last_day.eq(day),
            batch_shortening::on_day.eq(today),
            batch_shortening::reason.eq(reason),
            batch_shortening::by_id.eq(tx.person()?.id.0),
            batch_shortening::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    let event = NewEvent::new("batch", id.0, "shortened")
        .detail(json!({ "shortening": written, "observation": request.observation }))
        .keeps(&SHORTENING, [written]);
    tx.record(event);
    stock::keep_no_later(tx, id, day, &record.row().number).await?;
    Ok(written)
}
