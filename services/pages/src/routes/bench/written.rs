//! The entries that a form writes, each under a key of its own.

use clinic::{IdempotencyKey, bench};
use sha2::{Digest, Sha256};
use wire::bench::{EntryKind, EntryWritten, NewEntry};
use wire::ids::BatchId;
use wire::problem::FieldError;

use crate::form::Form;
use crate::routes::shelf::at_bench::{chosen, of_shelf};
use crate::shown::shown;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// A quantity as it was typed, with the unit of its well where none was typed.
pub(super) fn with_unit(text: &str, unit: &str) -> String {
    let bare = text.ends_with(|c: char| c.is_ascii_digit());
    if bare && !unit.is_empty() { format!("{text} {unit}") } else { text.to_owned() }
}

/// What was meant by a quantity that was typed, without the unit that the form adds.
pub(super) fn meant(errors: &[FieldError], typed: &str) -> Vec<String> {
    let bare = typed.ends_with(|c: char| c.is_ascii_digit());
    let of = errors.iter().filter(|error| error.pointer == "/quantity").flat_map(|error| &error.instead);
    of.map(|meant| match meant.strip_suffix(" g").filter(|_| bare) {
        Some(number) => number.to_owned(),
        None => meant.clone(),
    })
    .collect()
}

/// The entries that one form writes, in order.
pub(super) fn entries(form: &Form) -> Result<Vec<NewEntry>, Trouble> {
    let kind: EntryKind = form.text("kind").parse().map_err(|_| Trouble::Malformed)?;
    let corrects = form.given("corrects").map(|id| id.parse()).transpose().map_err(|_| Trouble::Malformed)?;
    let reason = form.given("reason_other").or_else(|| form.given("reason"));
    let step = form.text("step").parse().ok();
    // What was meant goes before what was typed, since somebody chose it.
    let typed = || form.given("instead").or_else(|| form.given("quantity"));
    let quantity = |unit| typed().map(|text| with_unit(&text, unit));
    Ok(match kind {
        EntryKind::Weighing => vec![NewEntry {
            line: form.given("line"),
            quantity: Some(quantity("g").unwrap_or_default()),
            lot: form.given("lot"),
            lot_id: chosen(form, "lot_id")?,
            lot_expires: form.given("lot_expires"),
            assay: form.given("assay"),
            price: form.given("price"),
            note: form.given("note"),
            corrects,
            reason,
            deviation: form.given("deviation"),
            // What was written without a network is sent without its reason only after it was refused for that.
            reason_later: form.ticked("reason_later"),
            ..NewEntry::of(kind)
        }],
        kind if kind.is_outcome() => {
            vec![NewEntry {
                quantity: Some(quantity("g").unwrap_or_default()),
                corrects,
                reason,
                note: form.given("note"),
                ..NewEntry::of(kind)
            }]
        }
        EntryKind::Ph | EntryKind::WaterActivity => {
            vec![NewEntry {
                quantity: Some(quantity("").unwrap_or_default()),
                corrects,
                reason,
                note: form.given("note"),
                ..NewEntry::of(kind)
            }]
        }
        EntryKind::Temperature => {
            vec![NewEntry {
                step,
                quantity: Some(quantity("C").unwrap_or_default()),
                corrects,
                reason,
                ..NewEntry::of(kind)
            }]
        }
        EntryKind::StepDone => {
            let heat = quantity("C").map(|text| NewEntry {
                step,
                quantity: Some(text.replace("°C", "C")),
                ..NewEntry::of(EntryKind::Temperature)
            });
            let seen = form.given("note").map(|note| NewEntry {
                step,
                note: Some(note),
                ..NewEntry::of(EntryKind::Observation)
            });
            let done = NewEntry { step, corrects, reason, ..NewEntry::of(kind) };
            heat.into_iter().chain(seen).chain([done]).collect()
        }
        _ => {
            vec![NewEntry { step, note: form.given("note"), corrects, reason, ..NewEntry::of(kind) }]
        }
    })
}

/// The key of one entry of a form: the same entry again does nothing twice.
fn key(once: &str, part: &str, id: BatchId, entry: &NewEntry) -> Result<IdempotencyKey, Trouble> {
    if once.is_empty() || once.len() > 100 || !once.bytes().all(|byte| byte.is_ascii_graphic()) {
        return Err(Trouble::Malformed);
    }
    let body = serde_json::to_vec(entry).map_err(clinic::Error::from)?;
    Ok(IdempotencyKey {
        key: format!("{once}.{part}"),
        route: format!("POST /batches/{id}/entries"),
        digest: Sha256::digest(&body).into(),
    })
}

/// Writes the entries of a form, in order; the last one that was written.
pub(super) async fn write_entries(
    visitor: &Visitor,
    id: BatchId,
    once: &str,
    entries: &[NewEntry],
) -> Result<Option<EntryWritten>, clinic::Error> {
    let mut last = None;
    for (i, entry) in entries.iter().enumerate() {
        let entry = &of_shelf(visitor, entry.clone()).await?;
        let Ok(key) = key(once, &format!("{i}{}", entry.kind.as_str()), id, entry) else {
            return Err(clinic::Error::field("", t("form-without-key")));
        };
        let written = bench::entry_create(visitor.clinic(), visitor.credentials(), &key, id, entry).await?;
        last = shown(&written).ok();
    }
    Ok(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_writes_its_temperature_what_was_seen_and_that_it_was_done() {
        let form = Form::parse(b"kind=step_done&step=2&quantity=58&note=clear").unwrap();
        let written = entries(&form).unwrap();
        let kinds: Vec<_> = written.iter().map(|entry| entry.kind.as_str()).collect();
        assert_eq!(kinds, ["temperature", "observation", "step_done"]);
        assert_eq!(written[0].quantity.as_deref(), Some("58 C"));
        let form = Form::parse(b"kind=weighing&line=1.2&quantity=62,7&lot=").unwrap();
        let written = entries(&form).unwrap();
        assert_eq!((written[0].quantity.as_deref(), written[0].lot.as_deref()), (Some("62,7 g"), None));
    }
}
