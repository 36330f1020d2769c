//! Retained samples: jars of a batch that stay at the clinic, and the days on which they are looked at.

use chrono::NaiveDate;
use diesel::QueryableByName;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Date, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use judgement::observing;
use schema::{batch_observation, retained_sample};
use store::page::PageRequest;
use store::{Credentials, Error, Result, Store, Tx, known_as};
use uuid::Uuid;
use wire::ids::{BatchId, PersonId};
use wire::observations::DueObservation;
use wire::page::{Page, PageQuery};

/// Keeps jars of a batch as samples, from today on; of those that were filled before, with the reason.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn keep(
    tx: &mut Tx<'_>,
    id: BatchId,
    jars: &[Uuid],
    (today, reason): (NaiveDate, Option<&str>),
) -> Result<()> {
    let first_on = observing::next(today, today).ok_or_else(|| Error::internal("no day follows"))?;
    let (by, at) = (tx.person()?.id.0, tx.now());
    let row = |jar: &Uuid| {
        (
            retained_sample::jar_id.eq(*jar),
            retained_sample::batch_id.eq(id.0),
            retained_sample::first_on.eq(first_on),
            retained_sample::reason.eq(reason),
            retained_sample::by_id.eq(by),
            retained_sample::at.eq(at),
        )
    };
    let rows: Vec<_> = jars.iter().map(row).collect();
    diesel::insert_into(retained_sample::table).values(rows).execute(tx.conn()).await?;
    Ok(())
}

/// When the samples of a batch are to be looked at, whatever became of it: on the day that the last observation names, or the
/// first day of the samples. Nothing where there is none.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn next_on(tx: &mut Tx<'_>, id: BatchId) -> Result<Option<NaiveDate>> {
    let first: Option<NaiveDate> = retained_sample::table
        .filter(retained_sample::batch_id.eq(id.0))
        .select(diesel::dsl::min(retained_sample::first_on))
        .first(tx.conn())
        .await?;
    let seen: Option<NaiveDate> = batch_observation::table
        .filter(batch_observation::batch_id.eq(id.0))
        .select(diesel::dsl::max(batch_observation::next_on))
        .first(tx.conn())
        .await?;
    Ok(first.map(|first| seen.unwrap_or(first)))
}

#[derive(QueryableByName)]
struct DueRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = SqlUuid)]
    maker_id: Uuid,
    #[diesel(sql_type = Date)]
    due: NaiveDate,
}

/// Batches of the caller, `$1`, and for instructors of their libraries, whose samples are due on the day `$2`.
const DUE: &str = "
    SELECT b.id, b.number, r.title, b.maker_id, d.due
    FROM (SELECT s.batch_id, coalesce(
              (SELECT max(o.next_on) FROM batch_observation o WHERE o.batch_id = s.batch_id), min(s.first_on)) AS due
          FROM retained_sample s GROUP BY s.batch_id) d
    JOIN batch b ON b.id = d.batch_id JOIN revision r ON r.id = b.revision_id JOIN formula f ON f.id = r.formula_id
    JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
    WHERE (b.maker_id = $1 OR $3) AND NOT blind_batch(b.id, $1)
        AND b.disposition IN ('practice_only', 'quarantine', 'released') AND d.due <= $2
        AND coalesce(batch_last_day(b.id) >= $2, true)
        AND ($4 IS NULL OR (d.due, b.id) > ($4, $5))
    ORDER BY d.due, b.id LIMIT $6";

/// Batches whose samples are to be looked at today or should have been, those that are due longest first: the caller's own, and
/// for instructors all of the libraries they are members of. What is past its last day is looked at no more. Cost: two
/// statements; the first grows with the batches that have samples.
///
/// # Errors
/// Returns [`Error::Forbidden`] for an API client, and [`Error::Invalid`] for a refused cursor.
pub async fn observations_due(
    store: &Store,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<DueObservation>> {
    let slice = PageRequest::<(NaiveDate, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.person()?.id.0;
            let instructor = tx.actor()?.is_instructor();
            let today = policy::rules(tx).await?.date(tx.now());
            let (day, id) = slice.after.unzip();
            let rows: Vec<DueRow> = diesel::sql_query(DUE)
                .bind::<SqlUuid, _>(me)
                .bind::<Date, _>(today)
                .bind::<Bool, _>(instructor)
                .bind::<Nullable<Date>, _>(day)
                .bind::<SqlUuid, _>(id.unwrap_or_default())
                .bind::<BigInt, _>(slice.fetch())
                .load(tx.conn())
                .await?;
            let page = slice.page(rows, |row| (row.due, row.id))?;
            let names = known_as::people(tx, page.items.iter().map(|row| row.maker_id)).await?;
            let told = |row: DueRow| DueObservation {
                batch: BatchId(row.id),
                number: row.number,
                title: row.title,
                maker: PersonId(row.maker_id),
                maker_name: names.of(row.maker_id),
                due: row.due,
                overdue: row.due < today,
            };
            Ok(Page { items: page.items.into_iter().map(told).collect(), next: page.next })
        })
        .await
}
