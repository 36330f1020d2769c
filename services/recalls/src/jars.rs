//! The jars that a recall reached: where each went, and what came of it.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryableByName;
use diesel::sql_types::{Bool, Date, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::known_as::{self, Names};
use store::{Result, Tx, word};
use uuid::Uuid;
use wire::ids::{JarId, PersonId, RecallId};
use wire::recalls::{JarAccount, RecallJar};

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    batch_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = Text)]
    fill: String,
    #[diesel(sql_type = Nullable<Text>)]
    reference: Option<String>,
    #[diesel(sql_type = Nullable<Date>)]
    on_day: Option<NaiveDate>,
    #[diesel(sql_type = Bool)]
    returned: bool,
    #[diesel(sql_type = Nullable<Text>)]
    outcome: Option<String>,
    #[diesel(sql_type = Nullable<Text>)]
    note: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    by_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    at: Option<DateTime<Utc>>,
}

/// The jars of the batches that a recall reached, by batch and number. Cost: one statement, and one for names.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_recall(tx: &mut Tx<'_>, id: RecallId) -> Result<HashMap<Uuid, Vec<RecallJar>>> {
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT j.batch_id, j.id, j.number, f.fill, h.reference, h.on_day, b.jar_id IS NOT NULL AS returned,
             o.outcome, o.note, o.by_id, o.at
         FROM recall_item i JOIN jar j ON j.batch_id = i.batch_id JOIN jar_filling f ON f.id = j.filling_id
         LEFT JOIN jar_handing h ON h.jar_id = j.id LEFT JOIN jar_return b ON b.jar_id = j.id
         LEFT JOIN LATERAL (
             SELECT * FROM recall_jar_outcome o WHERE o.recall_id = i.recall_id AND o.jar_id = j.id
             ORDER BY o.number DESC LIMIT 1) o ON true
         WHERE i.recall_id = $1 AND NOT EXISTS (SELECT FROM jar_decanting d WHERE d.jar_id = j.id)
         ORDER BY j.batch_id, j.number",
    )
    .bind::<SqlUuid, _>(id.0)
    .load(tx.conn())
    .await?;
    let names = known_as::people(tx, rows.iter().filter_map(|row| row.by_id)).await?;
    let mut all: HashMap<Uuid, Vec<RecallJar>> = HashMap::new();
    for row in rows {
        all.entry(row.batch_id).or_default().push(told(row, &names)?);
    }
    Ok(all)
}

fn told(row: Row, names: &Names) -> Result<RecallJar> {
    let accounted = match (row.outcome, row.by_id, row.at) {
        (Some(outcome), Some(by), Some(at)) => Some(JarAccount {
            outcome: word(&outcome)?,
            note: row.note,
            by: PersonId(by),
            by_name: names.of(by),
            at,
        }),
        _ => None,
    };
    Ok(RecallJar {
        id: JarId(row.id),
        number: row.number.unsigned_abs(),
        fill: row.fill,
        reference: row.reference,
        handed_on: row.on_day,
        returned: row.returned,
        accounted,
    })
}
