//! The checks of a record as they are stored, and what they bar.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use rust_decimal::Decimal;
use schema::batch_check;
use store::known_as::Names;
use store::{Error, Result, Tx, word};
use uuid::Uuid;
use wire::checks::{Check, CheckKind};
use wire::ids::{CheckId, PersonId};

#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = batch_check, check_for_backend(diesel::pg::Pg), treat_none_as_default_value = false)]
pub(crate) struct Row {
    pub(crate) id: Uuid,
    pub(crate) batch_id: Uuid,
    pub(crate) number: i32,
    pub(crate) kind: String,
    pub(crate) instrument: Option<String>,
    pub(crate) reference: Option<String>,
    pub(crate) reading: Option<String>,
    pub(crate) tolerance: Option<String>,
    pub(crate) humidity: Option<String>,
    pub(crate) reference_value: Option<Decimal>,
    pub(crate) reading_value: Option<Decimal>,
    pub(crate) tolerance_value: Option<Decimal>,
    pub(crate) humidity_percent: Option<Decimal>,
    pub(crate) passed: Option<bool>,
    pub(crate) note: Option<String>,
    pub(crate) after_entry: i32,
    pub(crate) after_submission: i32,
    pub(crate) corrects_id: Option<Uuid>,
    pub(crate) reason: Option<String>,
    pub(crate) by_id: Uuid,
    pub(crate) at: DateTime<Utc>,
}

/// Every check of a record in order, corrected ones too, without names.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_record<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<Check>> {
    let rows: Vec<Row> = batch_check::table
        .filter(batch_check::batch_id.eq(record.batch().0))
        .order(batch_check::number)
        .select(Row::as_select())
        .load(tx.conn())
        .await?;
    let corrections: Vec<(Uuid, Uuid)> =
        rows.iter().filter_map(|row| Some((row.corrects_id?, row.id))).collect();
    rows.into_iter().map(|row| check(row, &corrections)).collect()
}

/// A check as it is told. `corrections` are pairs of a corrected check and what corrects it.
///
/// # Errors
/// Returns [`Error::Internal`] for a kind that is unknown.
pub(crate) fn check(row: Row, corrections: &[(Uuid, Uuid)]) -> Result<Check> {
    let corrected_by = corrections.iter().find(|(corrected, _)| *corrected == row.id).map(|(_, by)| *by);
    Ok(Check {
        id: CheckId(row.id),
        number: row.number.unsigned_abs(),
        kind: word::<CheckKind>(&row.kind)?,
        instrument: row.instrument,
        reference: row.reference,
        reading: row.reading,
        tolerance: row.tolerance,
        humidity: row.humidity,
        passed: row.passed,
        note: row.note,
        after_entry: row.after_entry.unsigned_abs(),
        corrects: row.corrects_id.map(CheckId),
        reason: row.reason,
        corrected_by: corrected_by.map(CheckId),
        by: PersonId(row.by_id),
        by_name: None,
        at: row.at,
    })
}

/// The check with the name of who wrote it.
pub(crate) fn named(check: Check, names: &Names) -> Check {
    Check { by_name: names.of(check.by.0), ..check }
}

/// The ids of the checks that a submission froze.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn frozen<'t>(tx: &mut Tx<'t>, record: &Record<'t>, submission: i32) -> Result<Vec<Check>> {
    let ids: Vec<Uuid> = batch_check::table
        .filter(batch_check::batch_id.eq(record.batch().0))
        .filter(batch_check::after_submission.lt(submission))
        .select(batch_check::id)
        .load(tx.conn())
        .await?;
    Ok(of_record(tx, record).await?.into_iter().filter(|check| ids.contains(&check.id.0)).collect())
}

/// Refuses a weighing while the last check-weight failed. The trigger `weighing_after_check_weight` holds it.
///
/// # Errors
/// Returns [`Error::Invalid`] at `/kind`.
pub(crate) async fn balance_passed<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<()> {
    let all = of_record(tx, record).await?;
    let last =
        all.iter().rev().find(|check| check.kind == CheckKind::CheckWeight && check.corrected_by.is_none());
    match last {
        Some(Check { passed: Some(false), instrument, number, .. }) => Err(Error::field(
            "/kind",
            format!(
                "The check-weight of {} failed (check {number}). Adjust the balance or take another, record a check-weight \
                 that passes, then weigh.",
                instrument.as_deref().unwrap_or("the balance")
            ),
        )),
        _ => Ok(()),
    }
}
