//! How a record came about, without any amount: whether its figures are another record's, whether nothing varies, and how
//! fast it was written. A verdict is never here.

use canonical::Sha;
use release::entries::Entry;
use release::{ForRules, Record};
use serde_json::{Value, json};
use store::{Result, Tx};
use wire::bench::EntryKind;

use crate::batches;

/// How a record came about.
#[derive(Clone, Debug)]
pub struct Trace {
    /// Names every figure of the record, under a key of the caller's; nothing where there are too few to compare.
    pub figures: Option<Sha>,
    /// Whether every weighing is its target to the last digit.
    pub unvaried: bool,
    /// Seconds from the first entry to the last; nothing of a record of few entries.
    pub seconds: Option<i32>,
}

/// Records with fewer weighings or entries are alike by chance. Common practice, no source.
const WEIGHINGS: usize = 3;
const ENTRIES: usize = 5;

/// Traces how a record came about. Two records have the same `figures` under the same key if and only if every weighing,
/// temperature, pH and yield is the same at its line or step.
///
/// # Errors
/// Returns the errors of reading the record.
pub async fn trace<'t>(tx: &mut Tx<'t>, record: &Record<'t>, key: &[u8]) -> Result<Trace> {
    let contents = batches::contents(tx, record).await?;
    let within = contents.content();
    let live: Vec<&Entry> =
        within.entries.iter().filter(|entry| entry.shown.corrected_by.is_none()).collect();
    let weighings = live.iter().filter(|entry| entry.shown.kind == EntryKind::Weighing);
    let enough = weighings.clone().count() >= WEIGHINGS;
    let lines: Vec<_> = within.recipe.lines().collect();
    let on_target = |line: &&recipes::stored::Line| {
        let weighed: rust_decimal::Decimal = weighings
            .clone()
            .filter(|entry| entry.shown.line.as_deref() == Some(line.line.as_str()))
            .filter_map(|entry| entry.measured.grams)
            .sum();
        let shown = line.weigh.value.as_deref().and_then(|value| galenics::number::parse(value).ok());
        shown == Some(weighed) || within.recipe.target(line) == Some(weighed)
    };
    let mut figures: Vec<Value> = live.iter().filter_map(|entry| figure(entry)).collect();
    figures.sort_by_key(Value::to_string);
    let text = Value::from(figures).to_string();
    let times = within.entries.iter().map(|entry| entry.shown.at);
    let seconds = times.clone().max().zip(times.min()).map(|(last, first)| (last - first).num_seconds());
    Ok(Trace {
        figures: enough.then(|| canonical::digest([key, text.as_bytes()])),
        unvaried: enough && lines.len() >= WEIGHINGS && lines.iter().all(on_target),
        seconds: seconds
            .filter(|_| within.entries.len() >= ENTRIES)
            .map(|seconds| i32::try_from(seconds).unwrap_or(i32::MAX)),
    })
}

/// What was measured, and where.
fn figure(entry: &Entry) -> Option<Value> {
    let (shown, measured) = (&entry.shown, &entry.measured);
    let value = measured.grams.or(measured.celsius).or(measured.ph)?.normalize().to_string();
    Some(json!([shown.kind.as_str(), shown.line, shown.step, value]))
}
