//! Batches in the making that their maker is to look at or to take up again.

use chrono::NaiveDate;
use diesel::QueryableByName;
use diesel::sql_types::{BigInt, Date, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::page::PageRequest;
use store::{Credentials, Result, Store};
use uuid::Uuid;
use wire::ids::BatchId;
use wire::long_work::DueWork;
use wire::page::{Page, PageQuery};

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Date)]
    due: NaiveDate,
    #[diesel(sql_type = Nullable<Date>)]
    look_on: Option<NaiveDate>,
    #[diesel(sql_type = Nullable<Date>)]
    resume_on: Option<NaiveDate>,
}

/// What the person `$1` makes, in libraries that they are members of, and what is due of it on the day `$2`.
const DUE: &str = "
    SELECT d.id, d.number, d.title, least(d.look_on, d.resume_on) AS due, d.look_on, d.resume_on
    FROM (SELECT b.id, b.number, r.title,
              (SELECT l FROM batch_look_on(b.id, $3) l WHERE l <= $2) AS look_on,
              (SELECT p FROM batch_paused_until(b.id) p WHERE p <= $2) AS resume_on
          FROM batch b JOIN revision r ON r.id = b.revision_id JOIN formula f ON f.id = r.formula_id
          JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
          WHERE b.maker_id = $1 AND b.state = 'making') d
    WHERE coalesce(d.look_on, d.resume_on) IS NOT NULL
        AND ($4 IS NULL OR (least(d.look_on, d.resume_on), d.id) > ($4, $5))
    ORDER BY due, d.id LIMIT $6";

/// Batches of the caller's that are to be looked at or taken up again today, or should have been, those that are due longest
/// first. Cost: two statements; the second grows with the batches that the caller is making.
///
/// # Errors
/// Returns [`store::Error::Forbidden`] for an API client, and [`store::Error::Invalid`] for a refused cursor.
pub async fn work_due(store: &Store, credentials: &Credentials, query: &PageQuery) -> Result<Page<DueWork>> {
    let slice = PageRequest::<(NaiveDate, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.person()?.id.0;
            let rules = policy::rules(tx).await?;
            let today = rules.date(tx.now());
            let (day, id) = slice.after.unzip();
            let rows: Vec<Row> = diesel::sql_query(DUE)
                .bind::<SqlUuid, _>(me)
                .bind::<Date, _>(today)
                .bind::<Text, _>(rules.time_zone.name())
                .bind::<Nullable<Date>, _>(day)
                .bind::<SqlUuid, _>(id.unwrap_or_default())
                .bind::<BigInt, _>(slice.fetch())
                .load(tx.conn())
                .await?;
            let page = slice.page(rows, |row| (row.due, row.id))?;
            let told = |row: Row| DueWork {
                batch: BatchId(row.id),
                number: row.number,
                title: row.title,
                due: row.due,
                overdue: row.due < today,
                look_on: row.look_on,
                resume_on: row.resume_on,
            };
            Ok(Page { items: page.items.into_iter().map(told).collect(), next: page.next })
        })
        .await
}
