//! What becomes of a jar that stands on the shelf besides being handed out: its content is filled into smaller ones, or it is
//! kept as a sample.
//!
//! A jar that was handed out becomes neither, whether or not it came back. Never here: an amount of the recipe.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryableByName;
use diesel::prelude::*;
use diesel::sql_types::{Bool, Date, Integer, Nullable, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use release::Record;
use schema::{jar, jar_decanting, jar_filling};
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use uuid::Uuid;
use wire::bench::Disposition;
use wire::filed::{Decanting, FilledJar};
use wire::ids::{BatchId, JarId, PersonId};
use wire::jars::{Jars, NewDecanting, NewSample};
use wire::problem::FieldError;

use crate::jars::{Filling, MOST, fill_of, last_number, may_be_filled, put, told};
use crate::kept::{DECANTING, FILLING, SAMPLE};
use crate::left::plain;
use crate::observed::text;
use crate::{batches, last_day, samples};

/// The most sizes into which a jar is decanted in one go.
const SIZES: usize = 10;

/// Fills the content of a jar into smaller ones of its batch. They have numbers, codes and pages of their own, and its last
/// day; the jar is empty from then on.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::NotFound`] if no jar of the caller's libraries has this id,
/// [`Error::State`] for a jar that is not here or must not be used, and [`Error::Invalid`] for refused fields, such as more
/// than it holds.
pub async fn decant(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: JarId,
    request: &NewDecanting,
) -> Result<Jars> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let (record, jar) = on_shelf(tx, id).await?;
                fill(tx, &record, &jar, request).await
            },
            async |tx, _| of_jar(tx, id).await,
        )
        .await
}

/// Keeps a jar that stands on the shelf as a sample.
///
/// # Errors
/// As [`decant`]; returns [`Error::Invalid`] without a reason.
pub async fn keep_as_sample(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: JarId,
    request: &NewSample,
) -> Result<Jars> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let (record, jar) = on_shelf(tx, id).await?;
                let mut errors = Vec::new();
                let reason = because(&request.reason, &mut errors);
                if !errors.is_empty() {
                    return Err(Error::Invalid(errors));
                }
                let today = policy::rules(tx).await?.date(tx.now());
                samples::keep(tx, record.batch(), &[jar.id], (today, reason.as_deref())).await?;
                let event = NewEvent::new("batch", record.batch().0, "sample_kept");
                tx.record(event.detail(json!({ "jar": jar.id })).keeps(&SAMPLE, [jar.id]));
                Ok(jar.id)
            },
            async |tx, _| of_jar(tx, id).await,
        )
        .await
}

fn because(typed: &str, errors: &mut Vec<FieldError>) -> Option<String> {
    let reason = text(Some(typed), "/reason", errors);
    if reason.is_none() {
        errors.push(FieldError::new("/reason", "Enter the reason in 1 to 1000 characters."));
    }
    reason
}

/// Which jars of a record were filled into others, the first one first, without names.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_record<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<Decanting>> {
    type Emptied = (Uuid, i32, String, NaiveDate, String, Uuid, DateTime<Utc>);
    let emptied: Vec<Emptied> = jar_decanting::table
        .inner_join(jar::table.on(jar::id.eq(jar_decanting::jar_id)))
        .inner_join(jar_filling::table.on(jar_filling::id.eq(jar::filling_id)))
        .filter(jar_decanting::batch_id.eq(record.batch().0))
        .order((jar_decanting::at, jar::number))
        .select((
            jar::id,
            jar::number,
            jar_filling::fill,
            jar_decanting::on_day,
            jar_decanting::reason,
            jar_decanting::by_id,
            jar_decanting::at,
        ))
        .load(tx.conn())
        .await?;
    if emptied.is_empty() {
        return Ok(Vec::new());
    }
    let filled: Vec<(Option<Uuid>, i32, String)> = jar::table
        .inner_join(jar_filling::table.on(jar_filling::id.eq(jar::filling_id)))
        .filter(jar_filling::batch_id.eq(record.batch().0))
        .filter(jar_filling::decanted_from.is_not_null())
        .order(jar::number)
        .select((jar_filling::decanted_from, jar::number, jar_filling::fill))
        .load(tx.conn())
        .await?;
    let jar = |number: i32, fill: String| FilledJar { number: number.unsigned_abs(), fill };
    let into = |of: Uuid| {
        let from_it = filled.iter().filter(move |(from, ..)| *from == Some(of));
        from_it.map(|(_, number, fill)| jar(*number, fill.clone())).collect()
    };
    let told = |(id, number, fill, on, reason, by, at): Emptied| Decanting {
        from: jar(number, fill),
        into: into(id),
        on,
        reason,
        by: PersonId(by),
        by_name: None,
        at,
    };
    Ok(emptied.into_iter().map(told).collect())
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    batch_id: Uuid,
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = Text)]
    fill: String,
    #[diesel(sql_type = Numeric)]
    grams: Decimal,
    #[diesel(sql_type = Nullable<Date>)]
    use_by: Option<NaiveDate>,
    #[diesel(sql_type = Bool)]
    sample: bool,
    #[diesel(sql_type = Bool)]
    handed: bool,
    #[diesel(sql_type = Bool)]
    empty: bool,
}

async fn found(tx: &mut Tx<'_>, id: JarId) -> Result<Row> {
    let row: Option<Row> = diesel::sql_query(
        "SELECT j.id, j.batch_id, j.number, f.fill, f.grams, f.use_by,
             EXISTS (SELECT FROM retained_sample s WHERE s.jar_id = j.id) AS sample,
             EXISTS (SELECT FROM jar_handing h WHERE h.jar_id = j.id) AS handed,
             EXISTS (SELECT FROM jar_decanting d WHERE d.jar_id = j.id) AS empty
         FROM jar j JOIN jar_filling f ON f.id = j.filling_id WHERE j.id = $1",
    )
    .bind::<SqlUuid, _>(id.0)
    .get_result(tx.conn())
    .await
    .optional()?;
    row.ok_or(Error::NotFound("jar"))
}

/// The record of a jar's batch; to whoever may not see it, there is no such jar.
async fn record_of<'t>(tx: &mut Tx<'t>, jar: &Row, lock: bool) -> Result<Record<'t>> {
    match batches::access(tx, BatchId(jar.batch_id), lock).await {
        Err(Error::NotFound(_)) => Err(Error::NotFound("jar")),
        other => other,
    }
}

async fn of_jar(tx: &mut Tx<'_>, id: JarId) -> Result<Jars> {
    let jar = found(tx, id).await?;
    let record = record_of(tx, &jar, false).await?;
    told(tx, &record).await
}

/// A jar that is here, full and usable, under the lock of its batch.
async fn on_shelf<'t>(tx: &mut Tx<'t>, id: JarId) -> Result<(Record<'t>, Row)> {
    let before = found(tx, id).await?;
    let record = record_of(tx, &before, true).await?;
    // As it stands now that nobody else takes it.
    let jar = found(tx, id).await?;
    let disposition: Disposition = word(&record.row().disposition)?;
    may_be_filled(word(&record.row().state)?, disposition)?;
    let refused = match &jar {
        jar if jar.handed => {
            Some("It was handed out. What was handed out never goes back to the shelf, opened or not.")
        }
        jar if jar.sample => Some("It is kept as a sample, and stays one."),
        jar if jar.empty => Some("It is empty: its content was filled into others. Choose one of those."),
        _ => None,
    };
    match refused {
        Some(why) => Err(Error::state(disposition, why)),
        None => Ok((record, jar)),
    }
}

async fn fill<'t>(tx: &mut Tx<'t>, record: &Record<'t>, jar: &Row, request: &NewDecanting) -> Result<Uuid> {
    let id = record.batch();
    let rules = policy::rules(tx).await?;
    let today = rules.date(tx.now());
    let until = [jar.use_by, last_day::of_batch(tx, id).await?].into_iter().flatten().min();
    if until.is_some_and(|until| until < today) {
        return Err(Error::Conflict("The last day of this jar has passed. Discard it.".into()));
    }
    let mut errors = Vec::new();
    let reason = because(&request.reason, &mut errors);
    if !(1..=SIZES).contains(&request.into.len()) {
        errors.push(FieldError::new("/into", format!("Enter 1 to {SIZES} sizes of jars.")));
    }
    let last = last_number(tx, id).await?;
    let room = MOST.saturating_sub(last.unsigned_abs());
    let (mut all, mut jars, mut parts) = (Decimal::ZERO, 0_u32, Vec::new());
    for (place, part) in request.into.iter().enumerate() {
        jars = jars.saturating_add(part.jars);
        if part.jars == 0 || jars > room {
            let cure =
                format!("Enter a number of jars. A batch has at most {MOST}, and this one has {last}.");
            errors.push(FieldError::new(format!("/into/{place}/jars"), cure));
            continue;
        }
        match fill_of(&part.fill, part.density.as_deref(), rules.customary) {
            Ok(fill) => {
                all += fill.grams * Decimal::from(part.jars);
                parts.push((part.jars, fill));
            }
            Err(error) => {
                let field = format!("/into/{place}{}", error.pointer);
                errors.push(FieldError::new(field, error.detail));
            }
        }
    }
    if errors.is_empty() && all > jar.grams {
        let said = format!(
            "The jars hold {} g together, and jar {} holds {}, which is {} g. Fill fewer jars, or put less into each.",
            plain(all.round_dp(3)),
            jar.number,
            jar.fill,
            plain(jar.grams.round_dp(3))
        );
        errors.push(FieldError::new("/into", said));
    }
    let Some(reason) = reason.filter(|_| errors.is_empty()) else { return Err(Error::Invalid(errors)) };
    diesel::insert_into(jar_decanting::table)
        .values((
            jar_decanting::jar_id.eq(jar.id),
            jar_decanting::batch_id.eq(id.0),
            jar_decanting::on_day.eq(today),
            jar_decanting::reason.eq(reason),
            jar_decanting::by_id.eq(tx.person()?.id.0),
            jar_decanting::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    let mut event = NewEvent::new("batch", id.0, "jar_decanted").detail(json!({ "jar": jar.id }));
    event = event.keeps(&DECANTING, [jar.id]);
    for (jars, fill) in &parts {
        let filling = Filling { jars: *jars, fill, use_by: until, decanted_from: Some(jar.id) };
        let (filling, _) = put(tx, id, &filling).await?;
        event = event.keeps(&FILLING, [filling]);
    }
    tx.record(event);
    Ok(jar.id)
}
