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
    let checks = checked::frozen(tx, record, of.submission).await?;
    beside(&mut whole, "checks", checks.iter().map(check).collect());
    let photographs = photographed::frozen(tx, record, of.submission).await?;
    beside(&mut whole, "photographs", photographs);
    // Every pause and plan comes before the first submission: the batch is being made then, and never again.
    let pauses = pauses::of_record(tx, record).await?;
    beside(&mut whole, "pauses", pauses.iter().map(pause).collect());
    let plans = looks::of_record(tx, record).await?;
    beside(&mut whole, "look_plans", plans.iter().map(plan).collect());
    Ok(canonical::salted(&whole, salt))
}

/// Adds what stands beside the entries. A record without it keeps the digest that it had before there was any.
fn beside(whole: &mut Value, name: &str, all: Vec<Value>) {
    if !all.is_empty() {
        whole[name] = all.into();
    }
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

#[cfg(test)]
mod tests {
    use chrono::{DateTime, Utc};
    use uuid::Uuid;
    use wire::ids::PersonId;
    use wire::long_work::{LookFor, PauseReason};

    use super::*;

    const BY: PersonId = PersonId(Uuid::nil());

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    #[test]
    fn a_record_without_pauses_keeps_the_form_that_it_had() {
        let before = json!({ "entries": [] });
        let mut whole = before.clone();
        beside(&mut whole, "pauses", Vec::new());
        assert_eq!(whole, before);
    }

    #[test]
    fn pauses_and_plans_stay_in_the_form_that_is_digested() {
        let mut of = Pause {
            why: PauseReason::Macerating,
            until: "2026-12-14".parse().unwrap(),
            note: None,
            by: BY,
            by_name: Some("Noor Haddad".into()),
            at: at("2026-12-01T08:00:00Z"),
            resumed_at: Some(at("2026-12-14T09:00:00Z")),
            resumed_by: Some(BY),
            resumed_by_name: None,
        };
        let form =
            json!(["macerating", "2026-12-14", null, BY, "2026-12-01T08:00:00Z", BY, "2026-12-14T09:00:00Z"]);
        assert_eq!(pause(&of), form);
        of.by_name = None;
        assert_eq!(pause(&of), form, "a name may change");
        let of = FiledLookPlan {
            what: vec![LookFor::Shake, LookFor::Mould],
            every_days: Some(1),
            until: Some("2026-12-14".parse().unwrap()),
            by: BY,
            by_name: None,
            at: at("2026-12-01T08:00:00Z"),
        };
        assert_eq!(plan(&of), json!([["shake", "mould"], 1, "2026-12-14", BY, "2026-12-01T08:00:00Z"]));
    }
}
