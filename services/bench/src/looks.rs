//! The plans of when a batch is looked at, as they were written.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use schema::batch_look_plan;
use store::{Result, Tx, word};
use uuid::Uuid;
use wire::filed::FiledLookPlan;
use wire::ids::PersonId;

/// The plans of a record, the first one first, without names.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_record<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<FiledLookPlan>> {
    type Row = (Vec<String>, Option<i32>, Option<NaiveDate>, Uuid, DateTime<Utc>);
    let rows: Vec<Row> = batch_look_plan::table
        .filter(batch_look_plan::batch_id.eq(record.batch().0))
        .order(batch_look_plan::number)
        .select((
            batch_look_plan::what,
            batch_look_plan::every_days,
            batch_look_plan::until_day,
            batch_look_plan::by_id,
            batch_look_plan::at,
        ))
        .load(tx.conn())
        .await?;
    let told = |(what, every_days, until, by, at): Row| {
        Ok(FiledLookPlan {
            what: what.iter().map(|one| word(one)).collect::<Result<_>>()?,
            every_days: every_days.map(i32::unsigned_abs),
            until,
            by: PersonId(by),
            by_name: None,
            at,
        })
    };
    rows.into_iter().map(told).collect()
}
