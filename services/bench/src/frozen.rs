//! What a submission froze, named by a digest: every entry up to its last one, and what the maker wrote with it.

use canonical::{Salt, Sha};
use release::entries::Entry;
use release::{ForRules, Record};
use serde_json::{Value, json};
use store::{Error, Result, Tx};
use wire::checks::Check;
use wire::filed::FiledLookPlan;
use wire::long_work::Pause;

use crate::{batches, checked, looks, pauses, photographed};

/// What of a record was frozen.
#[derive(Clone, Copy, Debug)]
pub struct Frozen {
    /// Which submission of the record it is.
    pub submission: i32,
    /// Its last entry.
    pub last_entry: i32,
}

/// The digest of a submission of this record together with `with`, which the caller froze beside it.
///
/// # Errors
/// Returns [`Error::NotFound`] if the record has no such submission.
pub async fn frozen<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    of: Frozen,
    (salt, with): (&Salt, &Value),
) -> Result<Sha> {
    let contents = batches::contents(tx, record).await?;
    let within = contents.content();
    let number = of.submission.unsigned_abs();
    let submitted = within.submissions.iter().find(|one| one.number == number);
    let submitted = submitted.ok_or(Error::NotFound("submission"))?;
    let entries = within.entries.iter().filter(|entry| entry.shown.number <= of.last_entry.unsigned_abs());
    let entries: Vec<Value> = entries.map(entry).collect();
    let mut whole = json!({
        "batch": record.batch(),
        "submission": number,
        "entries": entries,
        "answer": submitted.answer,
        "with": with,
    });
    // A record without checks keeps the digest that it had before there were any.
    let checks = checked::frozen(tx, record, of.submission).await?;
    if !checks.is_empty() {
        whole["checks"] = checks.iter().map(check).collect();
    }
    // Nor does one without photographs.
    let photographs = photographed::frozen(tx, record, of.submission).await?;
    if !photographs.is_empty() {
        whole["photographs"] = photographs.into();
    }
    // Nor does one that was never paused or looked at by a plan. Every pause and plan comes before the first submission: the
    // batch is being made then, and never again.
    let pauses = pauses::of_record(tx, record).await?;
    if !pauses.is_empty() {
        whole["pauses"] = pauses.iter().map(pause).collect();
    }
    let plans = looks::of_record(tx, record).await?;
    if !plans.is_empty() {
        whole["look_plans"] = plans.iter().map(plan).collect();
    }
    Ok(canonical::salted(&whole, salt))
}

/// An entry as it was written. What corrected it later is none of its own.
fn entry(entry: &Entry) -> Value {
    let (shown, measured) = (&entry.shown, &entry.measured);
    let number = |number: Option<rust_decimal::Decimal>| number.map(|number| number.normalize().to_string());
    let mut written = json!([
        shown.id,
        shown.number,
        shown.kind.as_str(),
        shown.line,
        shown.step,
        shown.quantity,
        number(measured.grams),
        number(measured.celsius),
        number(measured.ph),
        shown.lot,
        shown.lot_expires,
        shown.assay,
        shown.price,
        shown.note,
        shown.corrects,
        shown.reason,
        shown.by,
        shown.at,
        shown.mark.is_some(),
    ]);
    // An entry without it keeps the digest that it had before there were any.
    if let (Some(deviation), Some(all)) = (&shown.deviation, written.as_array_mut()) {
        all.push(json!({ "deviation": deviation }));
    }
    written
}

/// A check as it was written. What corrected it later is none of its own.
fn check(check: &Check) -> Value {
    json!([
        check.id,
        check.number,
        check.kind.as_str(),
        check.instrument,
        check.reference,
        check.reading,
        check.tolerance,
        check.humidity,
        check.passed,
        check.note,
        check.after_entry,
        check.corrects,
        check.reason,
        check.by,
        check.at,
    ])
}

/// A pause as it was written, with when it ended.
fn pause(pause: &Pause) -> Value {
    json!([
        pause.why.as_str(),
        pause.until,
        pause.note,
        pause.by,
        pause.at,
        pause.resumed_by,
        pause.resumed_at,
    ])
}

/// A plan of looks as it was written.
fn plan(plan: &FiledLookPlan) -> Value {
    let what: Vec<&str> = plan.what.iter().map(|one| one.as_str()).collect();
    json!([what, plan.every_days, plan.until, plan.by, plan.at])
}
