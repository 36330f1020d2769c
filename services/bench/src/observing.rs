//! Writing down what somebody sees of a batch in one of its jars.
//!
//! An observation stays; a correction stands beside it. Never here: an amount of the recipe.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::observing;
use release::Record;
use schema::{batch_observation, retained_sample};
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, violates};
use uuid::Uuid;
use wire::ids::BatchId;
use wire::observations::{NewObservation, Observations, SampleSign};
use wire::problem::FieldError;

use crate::batches;
use crate::kept::OBSERVATION;
use crate::observed::{jars, not_discarded, rows, text, told};

/// Writes an observation down. Whoever reads the record of the batch observes.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::State`] once what was made was discarded, [`Error::Conflict`] for an
/// observation that was corrected before, and [`Error::Invalid`] for refused fields, such as a jar that is not here.
pub async fn observe(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewObservation,
) -> Result<Observations> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::access(tx, id, true).await?;
                write(tx, &record, request).await
            },
            async |tx, _| {
                let record = batches::access(tx, id, false).await?;
                told(tx, &record).await
            },
        )
        .await
}

async fn write<'t>(tx: &mut Tx<'t>, record: &Record<'t>, request: &NewObservation) -> Result<Uuid> {
    let id = record.batch();
    let (jars, before) = (jars(tx, id).await?, rows(tx, id).await?);
    let mut errors = Vec::new();
    let jar = jars.iter().find(|jar| jar.number == request.jar);
    let old = match request.corrects {
        Some(corrects) => {
            let old = before.iter().find(|old| old.id == corrects.0);
            if old.is_none() {
                let cure = "This batch has no observation with this ID. Read its observations again.";
                errors.push(FieldError::new("/corrects", cure));
            }
            old
        }
        None => {
            not_discarded(record)?;
            None
        }
    };
    match jar {
        None if jars.is_empty() => {
            errors.push(FieldError::new("/jar", "No jar of this batch is filled. Fill its jars first."));
        }
        None => {
            let cure = format!("The batch has jars 1 to {}. Enter the number of one of these.", jars.len());
            errors.push(FieldError::new("/jar", cure));
        }
        Some(jar) if !jar.here && old.is_none() => {
            let cure = format!(
                "Jar {} was handed out or is empty. Enter the number of a jar that is here.",
                jar.number
            );
            errors.push(FieldError::new("/jar", cure));
        }
        Some(_) => {}
    }
    let note = text(request.note.as_deref(), "/note", &mut errors);
    let reason = text(request.reason.as_deref(), "/reason", &mut errors);
    match (request.corrects, &reason) {
        (Some(_), None) => {
            errors.push(FieldError::new("/reason", "Enter why it is corrected, in 1 to 1000 characters."));
        }
        (None, Some(_)) => {
            let cure = "Only a correction has a reason. Omit the field, or name the corrected observation.";
            errors.push(FieldError::new("/reason", cure));
        }
        _ => {}
    }
    let Some(jar) = jar.filter(|_| errors.is_empty()) else { return Err(Error::Invalid(errors)) };
    let rules = policy::rules(tx).await?;
    let on_day = old.map_or_else(|| rules.date(tx.now()), |old| old.on_day);
    // The plan begins on the day on which the first samples were put aside; without a sample, on that of the observation.
    let begun: Option<DateTime<Utc>> = retained_sample::table
        .filter(retained_sample::batch_id.eq(id.0))
        .select(diesel::dsl::min(retained_sample::at))
        .first(tx.conn())
        .await?;
    let from = begun.map_or(on_day, |at| rules.date(at));
    let next_on = observing::next(from, on_day).ok_or_else(|| Error::internal("no day follows"))?;
    let mut seen: Vec<SampleSign> = request.seen.clone();
    seen.sort_unstable();
    seen.dedup();
    let seen: Vec<&str> = seen.into_iter().map(SampleSign::as_str).collect();
    let written = tx.new_id();
    let number = before.last().map_or(0, |last| last.number) + 1;
    let refused = |error: diesel::result::Error| match violates(&error, "batch_observation_corrected_once") {
        true => {
            Error::Conflict("This observation was corrected before. Correct the correction instead.".into())
        }
        false => error.into(),
    };
    diesel::insert_into(batch_observation::table)
        .values((
            batch_observation::id.eq(written),
            batch_observation::batch_id.eq(id.0),
            batch_observation::jar_id.eq(jar.id),
            batch_observation::number.eq(number),
            batch_observation::on_day.eq(on_day),
            batch_observation::seen.eq(seen),
            batch_observation::note.eq(note),
            batch_observation::next_on.eq(next_on),
            batch_observation::corrects_id.eq(request.corrects.map(|id| id.0)),
            batch_observation::reason.eq(reason),
            batch_observation::by_id.eq(tx.person()?.id.0),
            batch_observation::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await
        .map_err(refused)?;
    let action = if request.corrects.is_some() { "observation_corrected" } else { "observed" };
    let event = NewEvent::new("batch", id.0, action)
        .detail(json!({ "observation": written, "corrects": request.corrects }))
        .keeps(&OBSERVATION, [written]);
    tx.record(event);
    Ok(written)
}
