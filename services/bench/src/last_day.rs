//! The last day of what a batch made. The database works it out (`batch_last_day`); everybody asks here or there.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::batch_shortening;
use store::{Result, Tx};
use wire::ids::BatchId;

diesel::define_sql_function! {
    /// The last day of what a batch made.
    fn batch_last_day(of: diesel::sql_types::Uuid) -> Nullable<Date>;
}

/// The last day of what a batch made: that of its label as it was kept last, or the earlier one that somebody chose.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_batch(tx: &mut Tx<'_>, id: BatchId) -> Result<Option<NaiveDate>> {
    Ok(diesel::select(batch_last_day(id.0)).get_result(tx.conn()).await?)
}

/// The earliest day that somebody chose after an observation, and how a label says it. The reason stays at the clinic.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn shortened(tx: &mut Tx<'_>, id: BatchId) -> Result<Option<(NaiveDate, String)>> {
    let found: Option<(NaiveDate, NaiveDate)> = batch_shortening::table
        .filter(batch_shortening::batch_id.eq(id.0))
        .order((batch_shortening::last_day, batch_shortening::number))
        .select((batch_shortening::last_day, batch_shortening::on_day))
        .first(tx.conn())
        .await
        .optional()?;
    Ok(found
        .map(|(last_day, on)| (last_day, format!("brought forward on {on}, after a sample was looked at"))))
}

/// The earlier of two days, each with why.
pub(crate) fn earlier(
    one: Option<(NaiveDate, String)>,
    other: Option<(NaiveDate, String)>,
) -> Option<(NaiveDate, String)> {
    [one, other].into_iter().flatten().min_by_key(|(day, _)| *day)
}
