//! Observations of a batch as they are read, and which of its jars can be looked at.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use schema::{batch_observation, batch_shortening, jar, jar_decanting, retained_sample};
use store::{Credentials, Error, Result, Store, Tx, known_as, word};
use uuid::Uuid;
use wire::bench::Disposition;
use wire::ids::{BatchId, ObservationId, PersonId};
use wire::observations::{Observation, Observations, Shortening};
use wire::problem::FieldError;

use crate::{batches, handing, last_day, samples};

/// What was seen of a batch, and when it is looked at next.
///
/// # Errors
/// As [`batch`](crate::batch()).
pub async fn observations(store: &Store, credentials: &Credentials, id: BatchId) -> Result<Observations> {
    store
        .read(credentials, async |tx| {
            let record = batches::access(tx, id, false).await?;
            told(tx, &record).await
        })
        .await
}

/// An observation, as it is stored.
#[derive(Queryable, Selectable)]
#[diesel(table_name = batch_observation, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Row {
    pub(crate) id: Uuid,
    pub(crate) jar_id: Uuid,
    pub(crate) number: i32,
    pub(crate) on_day: NaiveDate,
    pub(crate) seen: Vec<String>,
    pub(crate) note: Option<String>,
    pub(crate) corrects_id: Option<Uuid>,
    pub(crate) reason: Option<String>,
    pub(crate) by_id: Uuid,
    pub(crate) at: DateTime<Utc>,
}

/// The observations of a batch, the first one first.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn rows(tx: &mut Tx<'_>, id: BatchId) -> Result<Vec<Row>> {
    Ok(batch_observation::table
        .filter(batch_observation::batch_id.eq(id.0))
        .order(batch_observation::number)
        .select(Row::as_select())
        .load(tx.conn())
        .await?)
}

/// A jar of the batch: its id, its number, whether it is a sample, and whether it is here.
pub(crate) struct InReach {
    pub(crate) id: Uuid,
    pub(crate) number: u32,
    pub(crate) sample: bool,
    pub(crate) here: bool,
}

/// The jars of a batch, by their numbers.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn jars(tx: &mut Tx<'_>, id: BatchId) -> Result<Vec<InReach>> {
    type Row = (Uuid, i32, Option<Uuid>, Option<Uuid>);
    let all: Vec<Row> = jar::table
        .left_join(retained_sample::table.on(retained_sample::jar_id.eq(jar::id)))
        .left_join(jar_decanting::table.on(jar_decanting::jar_id.eq(jar::id)))
        .filter(jar::batch_id.eq(id.0))
        .order(jar::number)
        .select((jar::id, jar::number, retained_sample::jar_id.nullable(), jar_decanting::jar_id.nullable()))
        .load(tx.conn())
        .await?;
    let ids: Vec<Uuid> = all.iter().map(|(id, ..)| *id).collect();
    let out: Vec<Uuid> = handing::handed(tx, &ids)
        .await?
        .into_iter()
        .filter(|(_, handed)| handed.returned.is_none())
        .map(|(jar, _)| jar)
        .collect();
    let one = |(id, number, sample, empty): Row| InReach {
        id,
        number: number.unsigned_abs(),
        sample: sample.is_some(),
        here: empty.is_none() && !out.contains(&id),
    };
    Ok(all.into_iter().map(one).collect())
}

/// A text of 1 to 1000 characters without the spaces around it; nothing where it is empty.
pub(crate) fn text(typed: Option<&str>, field: &str, errors: &mut Vec<FieldError>) -> Option<String> {
    let text = typed.map(str::trim).filter(|text| !text.is_empty())?;
    if text.chars().count() > 1000 {
        errors.push(FieldError::new(field, "Enter 1 to 1000 characters."));
    }
    Some(text.to_owned())
}

/// Refuses what nothing is left of.
///
/// # Errors
/// Returns [`Error::State`] once it was discarded.
pub(crate) fn not_discarded(record: &Record<'_>) -> Result<()> {
    match word(&record.row().disposition)? {
        Disposition::Discarded => Err(Error::state(
            Disposition::Discarded,
            "This batch was discarded. Nothing of it is left to look at.",
        )),
        _ => Ok(()),
    }
}

/// The observations as who reads the record of their batch sees them.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn told<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Observations> {
    let (id, row) = (record.batch(), record.row());
    let (jars, seen) = (jars(tx, id).await?, rows(tx, id).await?);
    let shortened: Vec<(Uuid, NaiveDate, String, Uuid, DateTime<Utc>)> = batch_shortening::table
        .filter(batch_shortening::batch_id.eq(id.0))
        .order(batch_shortening::number.desc())
        .select((
            batch_shortening::observation_id,
            batch_shortening::last_day,
            batch_shortening::reason,
            batch_shortening::by_id,
            batch_shortening::at,
        ))
        .load(tx.conn())
        .await?;
    let by = seen.iter().map(|row| row.by_id).chain(shortened.iter().map(|(.., by, _)| *by));
    let names = known_as::people(tx, by).await?;
    let disposition: Disposition = word(&row.disposition)?;
    let last_day = last_day::of_batch(tx, id).await?;
    let today = policy::rules(tx).await?.date(tx.now());
    let over = last_day.is_some_and(|last| last < today)
        || matches!(disposition, Disposition::Recalled | Disposition::Discarded);
    let next_on = samples::next_on(tx, id).await?;
    // A day after the last one is none on which anybody looks.
    let next_on = next_on.filter(|next| !over && last_day.is_none_or(|last| *next <= last));
    let number_of = |id: Uuid| jars.iter().find(|jar| jar.id == id).map_or(0, |jar| jar.number);
    let corrected_by = |id: Uuid| seen.iter().find(|row| row.corrects_id == Some(id)).map(|row| row.id);
    let observations = seen.iter().rev().map(|row| {
        Ok(Observation {
            id: ObservationId(row.id),
            jar: number_of(row.jar_id),
            on: row.on_day,
            seen: row.seen.iter().map(|sign| word(sign)).collect::<Result<_>>()?,
            note: row.note.clone(),
            corrects: row.corrects_id.map(ObservationId),
            reason: row.reason.clone(),
            corrected_by: corrected_by(row.id).map(ObservationId),
            by: PersonId(row.by_id),
            by_name: names.of(row.by_id),
            at: row.at,
        })
    });
    let shortening =
        |(observation, last_day, reason, by, at): (Uuid, NaiveDate, String, Uuid, DateTime<Utc>)| {
            Shortening {
                observation: ObservationId(observation),
                last_day,
                reason,
                by: PersonId(by),
                by_name: names.of(by),
                at,
            }
        };
    Ok(Observations {
        batch: id,
        number: row.number.clone(),
        title: formulary::facts(tx, record.revision()).await?.title,
        disposition,
        last_day,
        next_on,
        samples: jars.iter().filter(|jar| jar.sample).map(|jar| jar.number).collect(),
        others: jars.iter().filter(|jar| !jar.sample && jar.here).map(|jar| jar.number).collect(),
        observations: observations.collect::<Result<_>>()?,
        shortenings: shortened.into_iter().map(shortening).collect(),
    })
}
