//! The jars that are on the shelf: what must be used first comes first, and what is ready to be handed out.

use chrono::{Datelike, Days, NaiveDate};
use diesel::QueryableByName;
use diesel::sql_types::{Array, BigInt, Bool, Date, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::page::PageRequest;
use store::{Credentials, Error, Result, Store, word};
use uuid::Uuid;
use wire::bench::Disposition;
use wire::ids::{BatchId, JarId};
use wire::jars::{JarNumbered, JarQuery, JarsHere};
use wire::page::Page;

use crate::handing::reads_jars;
use crate::jar_page::{Beside, barred, stands};

/// The furthest day that jars can be asked for by.
const FURTHEST: u16 = 3650;

/// The year of the day that stands for none, in `jar_here`.
const NEVER: i32 = 9999;

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    filling_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    batch_id: Uuid,
    /// The day on the label, by which the list is ordered.
    #[diesel(sql_type = Date)]
    use_by: NaiveDate,
    /// The same, or the earlier last day of the batch.
    #[diesel(sql_type = Date)]
    until: NaiveDate,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    disposition: String,
    #[diesel(sql_type = Text)]
    fill: String,
    #[diesel(sql_type = Bool)]
    stopped: bool,
    #[diesel(sql_type = Array<SqlUuid>)]
    jars: Vec<Uuid>,
    #[diesel(sql_type = Array<Integer>)]
    numbers: Vec<i32>,
}

/// Jars of libraries that the caller, `$1`, is a member of; `$2` is today in the clinic.
const HERE: &str = "
    SELECT h.filling_id, h.batch_id, h.use_by, s.until, b.number, r.title, b.disposition, f.fill, s.stopped,
        array_agg(h.jar_id ORDER BY h.number) AS jars, array_agg(h.number ORDER BY h.number) AS numbers
    FROM jar_here h JOIN jar_filling f ON f.id = h.filling_id JOIN batch b ON b.id = h.batch_id
    JOIN revision r ON r.id = b.revision_id JOIN formula o ON o.id = r.formula_id
    JOIN library_member m ON m.library_id = o.library_id AND m.holder_id = $1
    CROSS JOIN LATERAL (
        SELECT least(h.use_by, batch_last_day(b.id)) AS until, revision_stopped(r.id) AS stopped) s
    WHERE ($3 IS NULL OR (h.use_by, h.filling_id) > ($3, $4))
        AND CASE $5 WHEN 'ready' THEN b.disposition = 'released' AND s.until >= $2 AND NOT s.stopped
            WHEN 'quarantine' THEN b.disposition = 'quarantine' AND s.until >= $2
            WHEN 'past' THEN s.until < $2 ELSE true END
        AND ($6 IS NULL OR o.library_id = $6) AND ($7 IS NULL OR h.batch_id = $7) AND ($8 IS NULL OR s.until <= $8)
    GROUP BY h.use_by, h.filling_id, h.batch_id, s.until, s.stopped, b.number, r.title, b.disposition, f.fill
    ORDER BY h.use_by, h.filling_id LIMIT $9";

/// Jars on the shelf, those alike together, in the order of the last day on their labels. Neither what was handed out, nor
/// samples, nor what is empty, recalled or discarded is among them. For instructors, and for API clients with the scope
/// `jars:read`. Cost: two statements, whatever the page and however many jars there ever were.
///
/// # Errors
/// Returns [`Error::Forbidden`] for everybody else, and [`Error::Invalid`] for a refused query.
pub async fn jars_here(store: &Store, credentials: &Credentials, query: &JarQuery) -> Result<Page<JarsHere>> {
    let slice = PageRequest::<(NaiveDate, Uuid)>::parse(query.limit, query.after.as_deref())?;
    let within = query.use_by_within_days;
    if within.is_some_and(|days| days > FURTHEST) {
        return Err(Error::field(
            "?use_by_within_days",
            format!("Send a number of days from 0 to {FURTHEST}."),
        ));
    }
    store
        .read(credentials, async |tx| {
            reads_jars(tx)?;
            let me = tx.actor()?.holder();
            let today = policy::rules(tx).await?.date(tx.now());
            let last = within.and_then(|days| today.checked_add_days(Days::new(days.into())));
            let (day, filling) = slice.after.map_or((None, Uuid::nil()), |(day, id)| (Some(day), id));
            let rows: Vec<Row> = diesel::sql_query(HERE)
                .bind::<SqlUuid, _>(me.0)
                .bind::<Date, _>(today)
                .bind::<Nullable<Date>, _>(day)
                .bind::<SqlUuid, _>(filling)
                .bind::<Nullable<Text>, _>(query.of.map(|of| of.as_str()))
                .bind::<Nullable<SqlUuid>, _>(query.library.map(|library| library.0))
                .bind::<Nullable<SqlUuid>, _>(query.batch.map(|batch| batch.0))
                .bind::<Nullable<Date>, _>(last)
                .bind::<BigInt, _>(slice.fetch())
                .load(tx.conn())
                .await?;
            let page = slice.page(rows, |row| (row.use_by, row.filling_id))?;
            let items = page.items.into_iter().map(|row| told(row, today)).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

fn told(row: Row, today: NaiveDate) -> Result<JarsHere> {
    let disposition: Disposition = word(&row.disposition)?;
    let use_by = Some(row.until).filter(|day| day.year() < NEVER);
    let here = Beside { sample: false, empty: false };
    Ok(JarsHere {
        batch: BatchId(row.batch_id),
        batch_number: row.number,
        title: row.title,
        disposition,
        fill: row.fill,
        use_by,
        barred: barred(stands((disposition, here), row.stopped, use_by, (today, None))),
        jars: row
            .jars
            .into_iter()
            .zip(row.numbers)
            .map(|(id, number)| JarNumbered { id: JarId(id), number: number.unsigned_abs() })
            .collect(),
    })
}
