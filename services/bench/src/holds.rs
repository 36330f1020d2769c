//! The order of steps, and holds that a second person releases.
//!
//! Which step may be written is asked of the database (`step_barred`), whose trigger holds the same: only the numbers of
//! steps come from there.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use recipes::stored::Recipe;
use release::Record;
use schema::batch_hold_release;
use store::known_as::Names;
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::bench::{EntryKind, Finding, FindingKind, NewEntry};
use wire::holds::HoldRelease;
use wire::ids::PersonId;

/// Refuses a step that the method does not hold.
///
/// # Errors
/// Returns [`Error::Invalid`] at `/step`.
pub(crate) fn is_hold(recipe: &Recipe, step: u16) -> Result<()> {
    let of_method = usize::from(step).checked_sub(1).and_then(|index| recipe.method.get(index));
    if of_method.is_some_and(|step| step.hold) {
        return Ok(());
    }
    let holds: Vec<String> = holds(recipe).map(|number| number.to_string()).collect();
    let cure = match holds.is_empty() {
        true => "The method of this batch has no hold.".to_owned(),
        false => format!("This step is no hold. The holds of the method are the steps {}.", holds.join(", ")),
    };
    Err(Error::field("/step", cure))
}

/// The steps of a method that hold, counted from 1.
fn holds(recipe: &Recipe) -> impl Iterator<Item = u32> {
    (1..).zip(&recipe.method).filter(|(_, step)| step.hold).map(|(number, _)| number)
}

#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = batch_hold_release, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Row {
    pub(crate) id: Uuid,
    pub(crate) batch_id: Uuid,
    pub(crate) maker_id: Uuid,
    pub(crate) step: i32,
    pub(crate) by_id: Uuid,
    pub(crate) own_release: bool,
    pub(crate) at: DateTime<Utc>,
}

impl From<Row> for HoldRelease {
    fn from(row: Row) -> Self {
        Self {
            step: row.step.unsigned_abs(),
            by: PersonId(row.by_id),
            by_name: None,
            at: row.at,
            note: row.own_release.then(|| "released by its maker".to_owned()),
        }
    }
}

/// The holds of a record that were released, as they are stored.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn rows<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<Row>> {
    let rows = batch_hold_release::table
        .filter(batch_hold_release::batch_id.eq(record.batch().0))
        .order(batch_hold_release::step)
        .select(Row::as_select())
        .load(tx.conn());
    Ok(rows.await?)
}

/// The holds of a record that were released, without names.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_record<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<HoldRelease>> {
    Ok(rows(tx, record).await?.into_iter().map(Into::into).collect())
}

/// The release with the name of who gave it.
pub(crate) fn named(release: HoldRelease, names: &Names) -> HoldRelease {
    HoldRelease { by_name: names.of(release.by.0), ..release }
}

#[derive(QueryableByName)]
struct Barred {
    #[diesel(sql_type = Text)]
    why: String,
    #[diesel(sql_type = Integer)]
    by_step: i32,
}

/// Refuses an entry of a step that comes before its time: another step is not done yet, or a hold is not released.
///
/// # Errors
/// Returns [`Error::Invalid`] at `/step`.
pub(crate) async fn in_time<'t>(tx: &mut Tx<'t>, record: &Record<'t>, request: &NewEntry) -> Result<()> {
    let Some(step) =
        request.step.filter(|_| matches!(request.kind, EntryKind::StepDone | EntryKind::Temperature))
    else {
        return Ok(());
    };
    let barred: Option<Barred> = diesel::sql_query("SELECT why, by_step FROM step_barred($1, $2, $3, $4)")
        .bind::<SqlUuid, _>(record.batch().0)
        .bind::<Text, _>(request.kind.as_str())
        .bind::<Integer, _>(i32::from(step))
        .bind::<Nullable<SqlUuid>, _>(request.corrects.map(|id| id.0))
        .get_result(tx.conn())
        .await
        .optional()?;
    let Some(Barred { why, by_step }) = barred else { return Ok(()) };
    let cure = match why.as_str() {
        "hold" => format!(
            "Step {by_step} is a hold. A second person releases it before step {step}; ask an instructor who reads this \
             record."
        ),
        _ => format!(
            "Step {by_step} is not recorded as done. Finish it before step {step}: the method does not let step {step} be \
             done in any order."
        ),
    };
    Err(Error::field("/step", cure))
}

/// The holds that are done and that nobody has released. `done` are the steps that are recorded as done.
pub(crate) fn unreleased(recipe: &Recipe, done: &[u32], releases: &[HoldRelease]) -> Vec<Finding> {
    let released = |step: &u32| releases.iter().any(|release| release.step == *step);
    let waits = |step: &u32| done.contains(step) && !released(step);
    holds(recipe)
        .filter(waits)
        .map(|step| Finding {
            kind: FindingKind::Hold,
            line: None,
            step: Some(step),
            entry: None,
            asked: Some("released by a second person".to_owned()),
            recorded: None,
            sentence: format!("Step {step} is a hold and awaits release by a second person."),
            rule: "a second person releases a hold before the maker goes on".to_owned(),
        })
        .collect()
}
