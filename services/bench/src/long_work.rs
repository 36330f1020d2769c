//! Leaving a batch in the making for a while, taking it up again, and planning when it is looked at meanwhile.
//!
//! That somebody looked is told by an entry of the record: an observation, or what was seen of appearance, smell or
//! separation. Only kind and time of entries are read here, in the database.

use chrono::{Days, NaiveDate};
use diesel::prelude::*;
use diesel::sql_types::{Date, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use release::Record;
use schema::{batch, batch_look_plan, batch_pause, batch_resumption};
use serde_json::json;
use store::known_as;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, violates, word};
use uuid::Uuid;
use wire::bench::BatchState;
use wire::ids::BatchId;
use wire::long_work::{LongWork, LookFor, LookPlan, NewLookPlan, NewPause};
use wire::problem::FieldError;

use crate::kept::{BATCH, LOOK_PLAN, PAUSE, RESUMPTION};
use crate::observed::text;
use crate::{batches, looks, pauses};

/// The most days that a pause or a plan reaches ahead (common practice, no source): nothing macerates or dries for longer
/// than a year.
const AHEAD: u64 = 366;

/// How long work on a batch stands: its pauses, and when it is looked at.
///
/// # Errors
/// As [`batch`](crate::batch()).
pub async fn long_work(store: &Store, credentials: &Credentials, id: BatchId) -> Result<LongWork> {
    store.read(credentials, async |tx| shown(tx, id).await).await
}

/// Leaves a batch for a while. Until it is taken up again, nothing but observations, deviations and corrections is written.
///
/// # Errors
/// Returns [`Error::Forbidden`] if the caller is not the maker, [`Error::State`] unless it is being made and is not paused,
/// and [`Error::Invalid`] for refused fields.
pub async fn pause(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewPause,
) -> Result<LongWork> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = making(tx, id, "paused").await?;
                pause_insert(tx, &record, request).await
            },
            async |tx, _| shown(tx, id).await,
        )
        .await
}

/// Takes a batch up again.
///
/// # Errors
/// Returns [`Error::Forbidden`] if the caller is not the maker, and [`Error::State`] unless it is paused.
pub async fn resume(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
) -> Result<LongWork> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = making(tx, id, "taken up again").await?;
                resumption_insert(tx, &record).await
            },
            async |tx, _| shown(tx, id).await,
        )
        .await
}

/// Plans when a batch is looked at while it is being made, instead of the plan before.
///
/// # Errors
/// Returns [`Error::Forbidden`] if the caller is not the maker, [`Error::State`] unless it is being made, and
/// [`Error::Invalid`] for refused fields.
pub async fn plan_looks(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewLookPlan,
) -> Result<LongWork> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = making(tx, id, "looked at by a plan").await?;
                plan_insert(tx, &record, request).await
            },
            async |tx, _| shown(tx, id).await,
        )
        .await
}

/// The caller's own record, locked, while it is being made.
async fn making<'t>(tx: &mut Tx<'t>, id: BatchId, what: &str) -> Result<Record<'t>> {
    let record = batches::own(tx, id).await?;
    let state: BatchState = word(&record.row().state)?;
    match state {
        BatchState::Making => Ok(record),
        BatchState::Planned => Err(Error::state(
            state,
            format!("Nothing of this batch is made yet. Write its first entry before it is {what}."),
        )),
        _ => Err(Error::state(state, format!("Only a batch that is being made is {what}."))),
    }
}

async fn pause_insert<'t>(tx: &mut Tx<'t>, record: &Record<'t>, request: &NewPause) -> Result<Uuid> {
    let before = pauses::of_record(tx, record).await?;
    pauses::goes_on(&before, "Take it up again before you pause it anew.")?;
    let today = policy::rules(tx).await?.date(tx.now());
    let mut errors = Vec::new();
    let note = text(request.note.as_deref(), "/note", &mut errors);
    if note.is_none() && !request.why.works_by_itself() {
        errors.push(FieldError::new("/note", "Enter what interrupted the work, in 1 to 1000 characters."));
    }
    if let Some(cure) = not_ahead(request.until, today, today) {
        errors.push(FieldError::new("/until", cure));
    }
    if !errors.is_empty() {
        return Err(Error::Invalid(errors));
    }
    let (id, written) = (record.batch(), tx.new_id());
    diesel::insert_into(batch_pause::table)
        .values((
            batch_pause::id.eq(written),
            batch_pause::batch_id.eq(id.0),
            batch_pause::number.eq(next(before.len())),
            batch_pause::why.eq(request.why.as_str()),
            batch_pause::note.eq(note),
            batch_pause::on_day.eq(today),
            batch_pause::until_day.eq(request.until),
            batch_pause::by_id.eq(tx.person()?.id.0),
            batch_pause::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    changed(tx, id).await?;
    let event = NewEvent::new("batch", id.0, "paused").detail(json!({ "pause": written }));
    tx.record(event.keeps(&BATCH, [id.0]).keeps(&PAUSE, [written]));
    Ok(written)
}

async fn resumption_insert<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Uuid> {
    let id = record.batch();
    let open: Option<Uuid> = batch_pause::table
        .left_join(batch_resumption::table.on(batch_resumption::pause_id.eq(batch_pause::id)))
        .filter(batch_pause::batch_id.eq(id.0))
        .filter(batch_resumption::pause_id.is_null())
        .select(batch_pause::id)
        .first(tx.conn())
        .await
        .optional()?;
    let Some(open) = open else {
        return Err(Error::state("making", "This batch is not paused. Go on with it at the bench."));
    };
    diesel::insert_into(batch_resumption::table)
        .values((
            batch_resumption::pause_id.eq(open),
            batch_resumption::batch_id.eq(id.0),
            batch_resumption::by_id.eq(tx.person()?.id.0),
            batch_resumption::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await
        .map_err(|error| match violates(&error, "batch_resumption_pkey") {
            true => Error::Conflict("This batch was taken up again before. Read its record again.".into()),
            false => error.into(),
        })?;
    changed(tx, id).await?;
    let event = NewEvent::new("batch", id.0, "resumed").detail(json!({ "pause": open }));
    tx.record(event.keeps(&BATCH, [id.0]).keeps(&RESUMPTION, [open]));
    Ok(open)
}

async fn plan_insert<'t>(tx: &mut Tx<'t>, record: &Record<'t>, request: &NewLookPlan) -> Result<Uuid> {
    let id = record.batch();
    let today = policy::rules(tx).await?.date(tx.now());
    planned(request, today)?;
    let mut what = request.what.clone();
    what.sort_unstable();
    what.dedup();
    let what: Vec<&str> = what.into_iter().map(LookFor::as_str).collect();
    let before: i64 = batch_look_plan::table
        .filter(batch_look_plan::batch_id.eq(id.0))
        .count()
        .get_result(tx.conn())
        .await?;
    let written = tx.new_id();
    diesel::insert_into(batch_look_plan::table)
        .values((
            batch_look_plan::id.eq(written),
            batch_look_plan::batch_id.eq(id.0),
            batch_look_plan::number.eq(next(usize::try_from(before).unwrap_or(usize::MAX))),
            batch_look_plan::what.eq(what),
            batch_look_plan::on_day.eq(today),
            batch_look_plan::every_days.eq(request.every_days.and_then(|days| i32::try_from(days).ok())),
            batch_look_plan::until_day.eq(request.until),
            batch_look_plan::by_id.eq(tx.person()?.id.0),
            batch_look_plan::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    changed(tx, id).await?;
    let event = NewEvent::new("batch", id.0, "looks_planned").detail(json!({ "plan": written }));
    tx.record(event.keeps(&BATCH, [id.0]).keeps(&LOOK_PLAN, [written]));
    Ok(written)
}

/// Refuses a plan that is not whole.
fn planned(request: &NewLookPlan, today: NaiveDate) -> Result<()> {
    let mut errors = Vec::new();
    let ends = request.what.is_empty();
    let days = request.every_days;
    match (ends, days) {
        (false, Some(1..=31)) | (true, None) => {}
        (false, _) => errors.push(FieldError::new("/every_days", "Enter a number of days from 1 to 31.")),
        (true, Some(_)) => errors.push(FieldError::new(
            "/what",
            "Enter what is looked at. To look at it no more, omit the days and the last day too.",
        )),
    }
    match (ends, request.until) {
        (false, None) => {
            errors.push(FieldError::new("/until", "Enter the last day on which it is looked at."));
        }
        (false, Some(until)) => {
            let first = today.checked_add_days(Days::new(days.unwrap_or(1).into())).unwrap_or(today);
            errors.extend(not_ahead(until, first, today).map(|cure| FieldError::new("/until", cure)));
        }
        (true, Some(_)) => errors.push(FieldError::new(
            "/until",
            "A plan that ends the looking has no last day. Omit the field, or enter what is looked at.",
        )),
        (true, None) => {}
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

/// Why a day is not accepted: it comes before the first one, or too far ahead of today.
fn not_ahead(day: NaiveDate, first: NaiveDate, today: NaiveDate) -> Option<String> {
    let last = today.checked_add_days(Days::new(AHEAD)).unwrap_or(today);
    (!(first..=last).contains(&day)).then(|| format!("Enter a day from {first} to {last}."))
}

fn next(before: usize) -> i32 {
    i32::try_from(before).unwrap_or(i32::MAX - 1) + 1
}

/// Whoever has read the record reads it again.
async fn changed(tx: &mut Tx<'_>, id: BatchId) -> Result<()> {
    diesel::update(batch::table.find(id.0))
        .set(batch::version.eq(batch::version + 1))
        .execute(tx.conn())
        .await?;
    Ok(())
}

#[derive(QueryableByName)]
struct LookOn {
    #[diesel(sql_type = Nullable<Date>)]
    on_day: Option<NaiveDate>,
}

async fn shown(tx: &mut Tx<'_>, id: BatchId) -> Result<LongWork> {
    let record = batches::access(tx, id, false).await?;
    told(tx, &record).await
}

/// Long work as who reads the record sees it.
async fn told<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<LongWork> {
    let (id, row) = (record.batch(), record.row());
    let paused = pauses::of_record(tx, record).await?;
    // The last plan binds, or ends the looking.
    let plan = looks::of_record(tx, record).await?.pop();
    let people = paused.iter().flat_map(pauses::people).chain(plan.iter().map(|plan| plan.by.0));
    let names = known_as::people(tx, people.collect::<Vec<_>>()).await?;
    let making = word::<BatchState>(&row.state)? == BatchState::Making;
    let zone = policy::rules(tx).await?.time_zone.name();
    let look: LookOn = diesel::sql_query("SELECT batch_look_on($1, $2) AS on_day")
        .bind::<SqlUuid, _>(id.0)
        .bind::<Text, _>(zone)
        .get_result(tx.conn())
        .await?;
    let plan = plan.and_then(|plan| {
        Some(LookPlan {
            what: plan.what,
            every_days: plan.every_days?,
            until: plan.until?,
            by: plan.by,
            by_name: names.of(plan.by.0),
            at: plan.at,
        })
    });
    Ok(LongWork {
        batch: id,
        number: row.number.clone(),
        title: formulary::facts(tx, record.revision()).await?.title,
        making,
        paused: making && pauses::open(&paused).is_some(),
        pauses: paused.into_iter().rev().map(|pause| pauses::named(pause, &names)).collect(),
        plan,
        look_on: look.on_day.filter(|_| making),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plan_is_whole_or_ends_the_looking() {
        let today: NaiveDate = "2026-12-01".parse().unwrap();
        let plan = |what: &[LookFor], every_days, until: Option<&str>| {
            let until = until.map(|day| day.parse().unwrap());
            planned(&NewLookPlan { what: what.to_vec(), every_days, until }, today)
        };
        let shake = [LookFor::Shake];
        assert!(plan(&[], None, None).is_ok());
        assert!(plan(&shake, Some(3), Some("2026-12-04")).is_ok());
        assert!(plan(&shake, Some(3), Some("2026-12-03")).is_err(), "nobody would look even once");
        assert!(plan(&shake, Some(1), Some("2027-12-03")).is_err(), "more than a year ahead");
        for refused in [
            plan(&shake, None, Some("2026-12-04")),
            plan(&shake, Some(0), Some("2026-12-04")),
            plan(&shake, Some(32), Some("2027-02-04")),
            plan(&shake, Some(1), None),
            plan(&[], Some(1), None),
            plan(&[], None, Some("2026-12-04")),
        ] {
            assert!(refused.is_err());
        }
    }
}
