//! How closely the records that were handed in follow their recipes, kept with them: relative errors, and no amount.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Nullable, Numeric, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use schema::handed_precision;
use store::{NewEvent, Result, Tx};
use uuid::Uuid;
use wire::ids::{CohortId, FormulaId};
use wire::teaching::ChartedFormula;

use crate::judged_work::{Whose, count};
use crate::kept::PRECISION;

/// The most records that a chart is drawn from, the newest ones.
pub(crate) const MOST_RECORDS: i64 = 200;

/// The most formulas that have charts in a cohort: far more than a class makes.
const MOST_FORMULAS: i64 = 200;

/// Keeps how closely a record follows its recipe, with what was handed in.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn keep(
    tx: &mut Tx<'_>,
    handed: Uuid,
    of: &bench::Precision,
    event: NewEvent,
) -> Result<NewEvent> {
    diesel::insert_into(handed_precision::table)
        .values((
            handed_precision::handed_id.eq(handed),
            handed_precision::deviations.eq(&of.deviations),
            handed_precision::yield_share.eq(of.yield_share),
        ))
        .execute(tx.conn())
        .await?;
    Ok(event.keeps(&PRECISION, [handed]))
}

/// One record.
#[derive(QueryableByName)]
pub(crate) struct Record {
    #[diesel(sql_type = SqlUuid)]
    pub(crate) handed: Uuid,
    #[diesel(sql_type = Text)]
    pub(crate) batch_number: String,
    #[diesel(sql_type = Timestamptz)]
    pub(crate) received_at: DateTime<Utc>,
    #[diesel(sql_type = Array<Numeric>)]
    pub(crate) deviations: Vec<Decimal>,
    #[diesel(sql_type = Nullable<Numeric>)]
    pub(crate) yield_share: Option<Decimal>,
}

/// The last version of each work that a student or a cohort handed in, of one formula or of all, the first one first; the
/// newest [`MOST_RECORDS`]. What is closed to the caller as a second marker is left out.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn records(
    tx: &mut Tx<'_>,
    whose: Whose,
    formula: Option<FormulaId>,
) -> Result<Vec<Record>> {
    let me = tx.person()?.id;
    let mut records: Vec<Record> = diesel::sql_query(format!(
        "SELECT h.id AS handed, b.number AS batch_number, h.received_at, p.deviations, p.yield_share
         FROM assignment_work w JOIN assignment a ON a.id = w.assignment_id JOIN handed_work h ON h.work_id = w.id
         JOIN handed_precision p ON p.handed_id = h.id
         JOIN batch b ON b.id = h.batch_id JOIN revision r ON r.id = b.revision_id
         WHERE {} AND ($3::uuid IS NULL OR r.formula_id = $3) AND NOT blind_work(w.id, $4)
             AND NOT EXISTS (SELECT FROM handed_work l WHERE l.work_id = h.work_id AND l.number > h.number)
         ORDER BY h.received_at DESC, h.id DESC LIMIT $5",
        Whose::SQL
    ))
    .bind::<Nullable<SqlUuid>, _>(whose.student())
    .bind::<Nullable<SqlUuid>, _>(whose.cohort())
    .bind::<Nullable<SqlUuid>, _>(formula.map(|id| id.0))
    .bind::<SqlUuid, _>(me.0)
    .bind::<BigInt, _>(MOST_RECORDS)
    .load(tx.conn())
    .await?;
    records.reverse();
    Ok(records)
}

#[derive(QueryableByName)]
struct OfFormula {
    #[diesel(sql_type = SqlUuid)]
    formula: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = BigInt)]
    records: i64,
}

/// The formulas of which a cohort handed records in, those with most records first.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn formulas(tx: &mut Tx<'_>, cohort: CohortId) -> Result<Vec<ChartedFormula>> {
    let me = tx.person()?.id;
    let rows: Vec<OfFormula> = diesel::sql_query(
        "SELECT f.id AS formula, f.title, count(DISTINCT w.id) AS records
         FROM assignment_work w JOIN assignment a ON a.id = w.assignment_id JOIN handed_work h ON h.work_id = w.id
         JOIN handed_precision p ON p.handed_id = h.id
         JOIN batch b ON b.id = h.batch_id JOIN revision r ON r.id = b.revision_id JOIN formula f ON f.id = r.formula_id
         WHERE a.cohort_id = $1 AND NOT blind_work(w.id, $2)
         GROUP BY f.id, f.title ORDER BY records DESC, f.title COLLATE \"C\", f.id LIMIT $3",
    )
    .bind::<SqlUuid, _>(cohort.0)
    .bind::<SqlUuid, _>(me.0)
    .bind::<BigInt, _>(MOST_FORMULAS)
    .load(tx.conn())
    .await?;
    let shown = |row: OfFormula| ChartedFormula {
        formula: FormulaId(row.formula),
        title: row.title,
        records: count(row.records),
    };
    Ok(rows.into_iter().map(shown).collect())
}
