//! Jars: what a batch made, divided, numbered and given a code each.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::{Customary, Decimal, Measure, Quantity};
use recipes::RecipeCache;
use recipes::label::ForRelease;
use release::{ForRules, Record, record};
use schema::{batch_label, jar, jar_filling, retained_sample};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use uuid::Uuid;
use wire::bench::{BatchState, Disposition};
use wire::ids::{BatchId, JarId, RevisionId};
use wire::jars::{Jar, Jars, NewJars};
use wire::label::BatchLabelQuery;
use wire::problem::FieldError;

use crate::kept::{FILLING, LABEL, SAMPLE};
use crate::label::labelled;
use crate::left::{self, Left, plain};
use crate::stored_label::StoredLabel;
use crate::{batches, codes, dispositions, handing, last_day, samples};

/// The most jars of a batch.
pub(crate) const MOST: u32 = 1000;

/// The most that are filled in one go.
const AT_ONCE: u32 = 500;

/// Fills jars from what a batch made. They are numbered on from the last one; each has a code of its own and the use-by date
/// of the batch, or an earlier one.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::GateClosed`] to whoever has not acknowledged the cautions of everything
/// nested in it, since the label would be that of the formula; [`Error::State`] unless the record is accepted and what it
/// made may still be used; [`Error::Conflict`] where no yield is recorded or its date has passed; [`Error::Invalid`] for
/// refused fields, such as a fill that adds up to more than is left.
pub async fn jars_fill(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewJars,
) -> Result<Jars> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::access(tx, id, true).await?;
                may_be_filled(word(&record.row().state)?, word(&record.row().disposition)?)?;
                let label = by_weighings(tx, cache, &record).await?;
                fill(tx, &record, &label, request).await
            },
            async |tx, _| {
                let record = batches::access(tx, id, false).await?;
                told(tx, &record).await
            },
        )
        .await
}

/// The jars of a batch, and what was decided about what is in them.
///
/// # Errors
/// As [`batch`](crate::batch()).
pub async fn jars(store: &Store, credentials: &Credentials, id: BatchId) -> Result<Jars> {
    store
        .read(credentials, async |tx| {
            let record = batches::access(tx, id, false).await?;
            told(tx, &record).await
        })
        .await
}

/// Refuses what no jar is filled from: a record that is not accepted, or what must not be used.
///
/// # Errors
/// Returns [`Error::State`] with how it stands.
pub(crate) fn may_be_filled(state: BatchState, disposition: Disposition) -> Result<()> {
    if state != BatchState::Accepted {
        let cure = "Jars are filled once the record is accepted.";
        return Err(Error::state(state, format!("This batch record is {state}. {cure}")));
    }
    match disposition {
        Disposition::PracticeOnly | Disposition::Quarantine | Disposition::Released => Ok(()),
        Disposition::Recalled | Disposition::Discarded => Err(Error::state(
            disposition,
            format!("This batch is {disposition}. No jar is filled from it any more."),
        )),
    }
}

/// The label of a batch by what was weighed, for a reader of every level.
///
/// # Errors
/// Returns [`Error::GateClosed`] for the first revision nested in it that is closed to the caller.
pub(crate) async fn by_weighings<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
) -> Result<ForRelease> {
    let closed: Option<RevisionId> = record::every_level(tx, record).await?.err();
    if let Some(closed) = closed {
        formulary::gate::open(tx, closed).await?;
        return Err(Error::internal("a level that is closed and open"));
    }
    labelled(tx, cache, record, &BatchLabelQuery::default()).await
}

/// Keeps what stands on the label, unless the last that was kept says the same. Answers what was kept.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn keep_label(tx: &mut Tx<'_>, id: BatchId, label: &ForRelease) -> Result<Option<Uuid>> {
    let facts = StoredLabel::of(&label.label, label.cautions.clone()).written()?;
    let use_by = day_of(label);
    let last: Option<(i32, String, Option<NaiveDate>)> = batch_label::table
        .filter(batch_label::batch_id.eq(id.0))
        .order(batch_label::number.desc())
        .select((batch_label::number, batch_label::facts, batch_label::use_by))
        .first(tx.conn())
        .await
        .optional()?;
    let number = match last {
        Some((_, before, day)) if before == facts && day == use_by => return Ok(None),
        Some((number, ..)) => number + 1,
        None => 1,
    };
    let kept = tx.new_id();
    diesel::insert_into(batch_label::table)
        .values((
            batch_label::id.eq(kept),
            batch_label::batch_id.eq(id.0),
            batch_label::number.eq(number),
            batch_label::facts.eq(facts),
            batch_label::use_by.eq(use_by),
            batch_label::by_id.eq(tx.person()?.id.0),
            batch_label::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    Ok(Some(kept))
}

/// The last day on a label.
pub(crate) fn day_of(label: &ForRelease) -> Option<NaiveDate> {
    label.label.use_by.as_ref().and_then(|use_by| use_by.day)
}

/// What a jar is to hold.
pub(crate) struct Fill {
    text: String,
    pub(crate) grams: Decimal,
    density: Option<String>,
}

/// Jars that are filled alike.
pub(crate) struct Filling<'f> {
    pub(crate) jars: u32,
    pub(crate) fill: &'f Fill,
    pub(crate) use_by: Option<NaiveDate>,
    /// The jar whose content fills them; nothing where it is from the yield.
    pub(crate) decanted_from: Option<Uuid>,
}

/// Writes jars that are filled alike, numbered on from the last one. Answers the filling and its jars.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn put(tx: &mut Tx<'_>, id: BatchId, of: &Filling<'_>) -> Result<(Uuid, Vec<Uuid>)> {
    let last = last_number(tx, id).await?;
    let number = next_filling(tx, id).await?;
    let filling = tx.new_id();
    let jars = i32::try_from(of.jars).unwrap_or(i32::MAX);
    diesel::insert_into(jar_filling::table)
        .values((
            jar_filling::id.eq(filling),
            jar_filling::batch_id.eq(id.0),
            jar_filling::number.eq(number),
            jar_filling::jars.eq(jars),
            jar_filling::fill.eq(&of.fill.text),
            jar_filling::grams.eq(of.fill.grams),
            jar_filling::density.eq(&of.fill.density),
            jar_filling::use_by.eq(of.use_by),
            jar_filling::decanted_from.eq(of.decanted_from),
            jar_filling::by_id.eq(tx.person()?.id.0),
            jar_filling::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    let ids: Vec<Uuid> = (0..jars).map(|_| tx.new_id()).collect();
    let rows: Vec<_> = (last + 1..)
        .zip(&ids)
        .map(|(number, jar)| {
            (
                jar::id.eq(*jar),
                jar::batch_id.eq(id.0),
                jar::filling_id.eq(filling),
                jar::number.eq(number),
                jar::token.eq(codes::new(tx.rng)),
            )
        })
        .collect();
    diesel::insert_into(jar::table).values(rows).execute(tx.conn()).await?;
    Ok((filling, ids))
}

/// The number of the last jar of a batch; 0 where it has none.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn last_number(tx: &mut Tx<'_>, id: BatchId) -> Result<i32> {
    let last: Option<i32> = jar::table
        .filter(jar::batch_id.eq(id.0))
        .select(diesel::dsl::max(jar::number))
        .first(tx.conn())
        .await?;
    Ok(last.unwrap_or(0))
}

async fn fill<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    label: &ForRelease,
    request: &NewJars,
) -> Result<Uuid> {
    let id = record.batch();
    let rules = policy::rules(tx).await?;
    let left = {
        let within = batches::contents(tx, record).await?;
        Left::of(tx, id, &within.content().entries).await?.ok_or_else(left::unknown)?
    };
    let last = last_number(tx, id).await?;
    let (today, date) = (rules.date(tx.now()), day_of(label));
    if date.is_some_and(|date| date < today) {
        return Err(Error::Conflict("The use-by date of this batch has passed. Discard it.".into()));
    }
    let mut errors = Vec::new();
    if !(1..=AT_ONCE).contains(&request.jars) {
        errors.push(FieldError::new("/jars", format!("Enter a number of jars from 1 to {AT_ONCE}.")));
    } else if u32::try_from(last).unwrap_or(MOST).saturating_add(request.jars) > MOST {
        let cure =
            format!("A batch has at most {MOST} jars, and this one has {last}. Enter a smaller number.");
        errors.push(FieldError::new("/jars", cure));
    }
    let kept_back = request.samples.unwrap_or(0);
    if kept_back > request.jars {
        let cure = "Enter how many of these jars are kept as samples: no more than are filled.";
        errors.push(FieldError::new("/samples", cure));
    }
    let fill = fill_of(&request.fill, request.density.as_deref(), rules.customary)
        .map_err(|error| errors.push(error))
        .ok();
    if let Some(sooner) = request.use_by {
        match date {
            None => errors
                .push(FieldError::new("/use_by", "No use-by date is known for this batch. Omit the field.")),
            Some(date) if sooner > date || sooner < today => errors.push(FieldError::new(
                "/use_by",
                format!("Enter a day from today, {today}, to the use-by date of the batch, {date}."),
            )),
            Some(_) => {}
        }
    }
    if let (Some(fill), true) = (&fill, errors.is_empty()) {
        let all = fill.grams * Decimal::from(request.jars);
        if all > left.grams() {
            let said = format!(
                "{} {} of {} hold {} g. {} Fill fewer jars, or put less into each.",
                request.jars,
                if request.jars == 1 { "jar" } else { "jars" },
                fill.text,
                plain(all.round_dp(3)),
                left.told()
            );
            errors.push(FieldError::new("/fill", said));
        }
    }
    let Some(fill) = fill.filter(|_| errors.is_empty()) else { return Err(Error::Invalid(errors)) };
    let kept = keep_label(tx, id, label).await?;
    let of =
        Filling { jars: request.jars, fill: &fill, use_by: request.use_by.or(date), decanted_from: None };
    let (filling, ids) = put(tx, id, &of).await?;
    // The last ones: who counts jars out begins with the first.
    let first_kept = ids.len().saturating_sub(usize::try_from(kept_back).unwrap_or(usize::MAX));
    let kept_back = ids.get(first_kept..).unwrap_or_default();
    if !kept_back.is_empty() {
        samples::keep(tx, id, kept_back, (today, None)).await?;
    }
    let mut event = NewEvent::new("batch", id.0, "jars_filled")
        .detail(serde_json::json!({ "filling": filling }))
        .keeps(&FILLING, [filling]);
    for jar in kept_back {
        event = event.keeps(&SAMPLE, [*jar]);
    }
    if let Some(kept) = kept {
        event = event.keeps(&LABEL, [kept]);
    }
    tx.record(event);
    Ok(filling)
}

async fn next_filling(tx: &mut Tx<'_>, id: BatchId) -> Result<i32> {
    let last: Option<i32> = jar_filling::table
        .filter(jar_filling::batch_id.eq(id.0))
        .select(diesel::dsl::max(jar_filling::number))
        .first(tx.conn())
        .await?;
    Ok(last.unwrap_or(0) + 1)
}

/// The most of a jar, in g.
const LARGEST: Decimal = Decimal::from_parts(100_000, 0, 0, false, 0);

/// What a jar is to hold, as it was typed.
///
/// # Errors
/// Returns the field that is not accepted.
pub(crate) fn fill_of(typed: &str, density: Option<&str>, customary: Customary) -> Result<Fill, FieldError> {
    let text = typed.trim();
    let refuse = |cure: String| FieldError::new("/fill", cure);
    if text.chars().count() > 40 {
        return Err(refuse("Enter what a jar holds in at most 40 characters, such as 30 g.".into()));
    }
    let quantity = Quantity::parse_with(text, customary).map_err(|error| refuse(error.to_string()))?;
    let typed = density.map(str::trim).filter(|typed| !typed.is_empty());
    let (grams, density) = match (quantity.measure(), typed) {
        (Measure::Mass(mass), None) => (mass.g(), None),
        (Measure::Mass(_), Some(_)) => {
            let cure = "What a jar holds is a mass, so it needs no density. Omit the field.";
            return Err(FieldError::new("/density", cure));
        }
        (Measure::Volume(volume), Some(typed)) => {
            let refuse = |cure: String| FieldError::new("/density", cure);
            if typed.chars().count() > 40 {
                return Err(refuse("Enter the density in at most 40 characters, such as 0.95 g/mL.".into()));
            }
            let density = judgement::measured::density(typed).map_err(refuse)?;
            let grams = volume.ml().checked_mul(density.value.g_per_ml()).unwrap_or(LARGEST);
            (grams, Some(typed.to_owned()))
        }
        (Measure::Volume(_), None) => {
            let cure = "Weigh what fills a jar and enter its mass, such as 28 g, or enter the density that you measured, \
                        such as 0.95 g/mL.";
            return Err(FieldError::new("/density", cure));
        }
        (Measure::Drops { .. }, _) => {
            return Err(refuse("Enter a mass or a volume, such as 30 g or 30 mL.".into()));
        }
    };
    if grams.is_zero() || grams >= LARGEST {
        return Err(refuse("Enter what a jar holds, above 0 g and below 100 kg.".into()));
    }
    Ok(Fill { text: text.to_owned(), grams: grams.round_dp(12), density })
}

/// A jar as it is stored: id, number, code, fill, last day, its id once more where it is a sample, and from which jar it was
/// filled.
type Row = (Uuid, i32, String, String, Option<NaiveDate>, Option<Uuid>, Option<Uuid>);

/// The jars of a batch as who reads its record sees them.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn told<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Jars> {
    let (id, row) = (record.batch(), record.row());
    let left = {
        let within = batches::contents(tx, record).await?;
        Left::of(tx, id, &within.content().entries).await?
    };
    let rows: Vec<Row> = jar::table
        .inner_join(jar_filling::table.on(jar_filling::id.eq(jar::filling_id)))
        .left_join(retained_sample::table.on(retained_sample::jar_id.eq(jar::id)))
        .filter(jar::batch_id.eq(id.0))
        .order(jar::number)
        .select((
            jar::id,
            jar::number,
            jar::token,
            jar_filling::fill,
            jar_filling::use_by,
            retained_sample::jar_id.nullable(),
            jar_filling::decanted_from,
        ))
        .load(tx.conn())
        .await?;
    let number_of: HashMap<Uuid, u32> = rows.iter().map(|row| (row.0, row.1.unsigned_abs())).collect();
    let mut into: HashMap<Uuid, Vec<u32>> = HashMap::new();
    for (_, number, .., from) in &rows {
        if let Some(from) = from {
            into.entry(*from).or_default().push(number.unsigned_abs());
        }
    }
    // Where jars went is for who hands them out.
    let mut went = match tx.actor()?.is_instructor() {
        true => {
            let ids: Vec<Uuid> = rows.iter().map(|(id, ..)| *id).collect();
            handing::handed(tx, &ids).await?.into_iter().collect()
        }
        false => HashMap::new(),
    };
    let batch_until = last_day::of_batch(tx, id).await?;
    let jars = rows.into_iter().map(|(id, number, code, fill, use_by, sample, from)| Jar {
        id: JarId(id),
        number: number.unsigned_abs(),
        page: format!("/jars/{code}"),
        code,
        fill,
        use_by: [use_by, batch_until].into_iter().flatten().min(),
        sample: sample.is_some(),
        decanted_from: from.and_then(|from| number_of.get(&from).copied()),
        decanted_into: into.remove(&id).unwrap_or_default(),
        handed: went.remove(&id),
    });
    let title = formulary::facts(tx, record.revision()).await?.title;
    Ok(Jars {
        batch: id,
        number: row.number.clone(),
        title,
        disposition: word(&row.disposition)?,
        jars: jars.collect(),
        left: left.map(|left| format!("{} g", plain(left.grams()))),
        no_scan: None,
        decisions: dispositions::of_batch(tx, id).await?,
    })
}
