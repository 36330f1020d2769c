//! Entries of a batch record: validation and insertion.

use galenics::{Quantity, Temperature};
use judgement::figures::Detail;
use judgement::lot;
use materia::Materia;
use policy::Rules;
use recipes::stored::{Line, Recipe};
use recipes::{RecipeCache, marc};
use release::entries::{self, Measured, Written, entry_insert};
use release::{ForRules, Record, Released};
use store::known_as::{self, Names};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use wire::bench::{BatchState, EntryKind, EntryWritten, Finding, NewEntry};
use wire::ids::{BatchId, EntryId, LotId};
use wire::problem::FieldError;

use crate::kept::BATCH;
use crate::measures::{grams, ph};
use crate::records::advance;
use crate::{batches, checked, deviations, draws, findings, holds, measured, pauses, yields};

/// Adds an entry. The first one moves the batch to `making`. A correction names the corrected entry and its reason;
/// both entries stay. An entry costs the same however many there are.
///
/// # Errors
/// Returns [`Error::Forbidden`] if the caller is not the maker, [`Error::State`] if the record is closed,
/// [`Error::Invalid`] for refused fields and a lot that may not be used or does not hold enough, and [`Error::GateClosed`]
/// if a step is finished while changed cautions are not acknowledged.
pub async fn entry_create(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewEntry,
) -> Result<Released<EntryWritten>> {
    store
        .create_shown(
            credentials,
            once,
            async |tx| {
                let record = batches::own(tx, id).await?;
                let state: BatchState = word(&record.row().state)?;
                if !matches!(state, BatchState::Planned | BatchState::Making | BatchState::Returned) {
                    return Err(Error::state(
                        state,
                        "This record accepts no entries. Entries are accepted while a batch is planned, making or returned.",
                    ));
                }
                let asked = cache.asked(tx, &record).await?;
                let rules = cache.rules(tx, record.row().policy_version).await?;
                let measured = check(tx.reference, request, asked.content(), &rules)?;
                if !told_while_paused(request) {
                    let cure = "Take it up again first. Until then it accepts observations, deviations and corrections.";
                    pauses::goes_on(&pauses::of_record(tx, &record).await?, cure)?;
                }
                holds::in_time(tx, &record, request).await?;
                if request.kind == EntryKind::Weighing && request.corrects.is_none() {
                    checked::balance_passed(tx, &record).await?;
                }
                let (request, taken) =
                    draws::take(tx, &record, asked.content(), &rules, request, &measured).await?;
                let before_acknowledged = batches::change_outstanding(tx, &record).await?;
                if before_acknowledged && request.kind == EntryKind::StepDone {
                    let reason = "The cautions changed during this batch. Acknowledge them before finishing the step.";
                    return Err(Error::GateClosed(Box::new(
                        formulary::gate::outstanding(tx, record.revision(), reason).await?,
                    )));
                }
                let action = if request.corrects.is_some() { "entry_corrected" } else { "entry_written" };
                let event = NewEvent::new("batch", id.0, action).keeps(&BATCH, [id.0]);
                let written =
                    entry_insert(tx, &record, &request, &measured, before_acknowledged, event).await?;
                let weighed = written.content().place.grams.unwrap_or_default();
                deviations::reason_given(asked.content(), request.as_ref(), weighed, &rules)?;
                let (mut state, mut version) = (state, record.row().version + 1);
                if state == BatchState::Planned {
                    advance(tx, &record, BatchState::Making).await?;
                    (state, version) = (BatchState::Making, version + 1);
                }
                let entry = written.content().entry.shown.id.0;
                let lot = taken.as_ref().map(|taken| taken.lot);
                if let Some(taken) = taken {
                    stock::put(tx, &taken, id, EntryId(entry)).await?;
                }
                let yielded = yielded(tx, cache, &record, &written).await?;
                let now = Now { state, version, yielded, names: writer(tx, &written).await?, lot };
                Ok((entry, answer(written, &record, now, asked.content(), &rules)?))
            },
            // A repeated request shows the entry that the first one wrote, as it stands now.
            async |tx, entry| {
                let record = batches::own(tx, id).await?;
                let asked = cache.asked(tx, &record).await?;
                let rules = cache.rules(tx, record.row().policy_version).await?;
                let written = entries::written(tx, &record, entry).await?;
                let yielded = yielded(tx, cache, &record, &written).await?;
                let names = writer(tx, &written).await?;
                let lot = draws::lot_of(tx, id, EntryId(entry)).await?;
                let (state, version) = (word(&record.row().state)?, record.row().version);
                let now = Now { state, version, yielded, names, lot };
                answer(written, &record, now, asked.content(), &rules)
            },
        )
        .await
}

/// An adjustment that was proposed, as it is answered.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn proposed<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    written: Released<Written>,
    version: i64,
) -> Result<Released<EntryWritten>> {
    let asked = cache.asked(tx, record).await?;
    let rules = cache.rules(tx, record.row().policy_version).await?;
    let state = word(&record.row().state)?;
    let names = writer(tx, &written).await?;
    answer(
        written,
        record,
        Now { state, version, yielded: Vec::new(), names, lot: None },
        asked.content(),
        &rules,
    )
}

/// Where a record stands, what is found of its yield, who wrote the entry and from which lot it was weighed.
struct Now {
    state: BatchState,
    version: i64,
    yielded: Vec<Finding>,
    names: Names,
    lot: Option<LotId>,
}

async fn writer(tx: &mut Tx<'_>, written: &Released<Written>) -> Result<Names> {
    known_as::people(tx, [written.content().entry.shown.by.0]).await
}

/// What is found of a yield. The only entry for which the others are read, since it is held against all that went in.
async fn yielded<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    written: &Released<Written>,
) -> Result<Vec<Finding>> {
    let entry = &written.content().entry.shown;
    if entry.kind != EntryKind::Yield || entry.corrected_by.is_some() {
        return Ok(Vec::new());
    }
    let asked = cache.asked(tx, record).await?;
    let marc = marc(tx, cache, record).await?;
    let all = entries::all(tx, record).await?;
    Ok(yields::of_yield(asked.content(), all.content(), &marc))
}

/// An entry with what follows from it at once.
fn answer(
    written: Released<Written>,
    record: &Record<'_>,
    now: Now,
    recipe: &Recipe,
    rules: &Rules,
) -> Result<Released<EntryWritten>> {
    let made_on = batches::made_on(record.row(), recipe, rules);
    written.try_map(|Written { entry, place }| {
        let line = entry.shown.line.as_deref().filter(|_| entry.shown.kind == EntryKind::Weighing);
        Ok(EntryWritten {
            batch: record.batch(),
            state: now.state,
            version: now.version.unsigned_abs(),
            line: line.and_then(|line| measured::line_so_far(recipe, line, &place, rules)),
            findings: [findings::of_entry(recipe, &entry, &place, rules, made_on), now.yielded].concat(),
            entry: wire::bench::Entry {
                lot_id: now.lot,
                ..measured::shown(entry, recipe, rules, Detail::Brief, &now.names)
            },
        })
    })
}

fn check(reference: &Materia, request: &NewEntry, recipe: &Recipe, rules: &Rules) -> Result<Measured> {
    if request.kind == EntryKind::Adjustment {
        let cure = "An adjustment is proposed by a request of its own. Send its reason to `adjustments` of this batch.";
        return Err(Error::field("/kind", cure));
    }
    let mut errors = Vec::new();
    let mut refuse = |field: &str, detail: String| errors.push(FieldError::new(format!("/{field}"), detail));
    for (field, text, most) in [
        ("lot", &request.lot, 200),
        ("note", &request.note, 4000),
        ("reason", &request.reason, 1000),
        ("deviation", &request.deviation, 1000),
    ] {
        if text.as_ref().is_some_and(|text| text.trim().is_empty() || text.chars().count() > most) {
            refuse(field, format!("Enter 1 to {most} characters, or omit the field."));
        }
    }
    match (&request.corrects, &request.reason) {
        (Some(_), None) => refuse("reason", "Enter the reason for the correction.".into()),
        (None, Some(_)) => {
            refuse("reason", "A reason is accepted only with `corrects`. Use `note` for a remark.".into())
        }
        _ => {}
    }
    let line = request.line.as_deref().map(|wanted| find_line(recipe, wanted));
    if let Some(None) = line {
        let all: Vec<&str> = recipe.lines().map(|line| line.line.as_str()).collect();
        refuse("line", format!("The recipe has no such line. Its lines are {}.", all.join(", ")));
    }
    if let Some(step) = request.step
        && !(1..=recipe.method.len()).contains(&usize::from(step))
    {
        refuse(
            "step",
            format!("The method has no such step. Enter a step from 1 to {}.", recipe.method.len()),
        );
    }
    let mut fits = |field: &str, given: bool, wanted: bool| match (given, wanted) {
        (false, true) => refuse(field, format!("An entry of the kind {} requires this field.", request.kind)),
        (true, false) => {
            refuse(
                field,
                format!("An entry of the kind {} does not accept this field. Omit the field.", request.kind),
            );
        }
        _ => {}
    };
    use EntryKind as K;
    let kind = request.kind;
    let measured = kind.is_outcome()
        || kind.is_count()
        || matches!(kind, K::Weighing | K::Temperature | K::Ph | K::WaterActivity);
    fits("quantity", request.quantity.is_some(), measured);
    if !kind.is_seen() && kind != K::Deviation {
        fits("line", request.line.is_some(), kind == K::Weighing);
        fits("step", request.step.is_some(), matches!(kind, K::Temperature | K::StepDone));
    }
    if kind != K::Weighing {
        fits("lot", request.lot.is_some(), false);
        fits("lot_expires", request.lot_expires.is_some(), false);
        fits("assay", request.assay.is_some(), false);
        fits("price", request.price.is_some(), false);
        fits("lot_id", request.lot_id.is_some(), false);
        fits("deviation", request.deviation.is_some(), false);
        fits("reason_later", request.reason_later, false);
    }
    if kind.is_told() {
        fits("note", request.note.is_some(), true);
    }
    if request.lot_id.is_some() {
        for (field, given) in [
            ("lot", request.lot.is_some()),
            ("lot_expires", request.lot_expires.is_some()),
            ("assay", request.assay.is_some()),
            ("price", request.price.is_some()),
        ] {
            if given {
                refuse(field, "The lot of `lot_id` supplies this. Omit the field, or omit `lot_id`.".into());
            }
        }
    }
    if let Some(Err(cure)) = request.lot_expires.as_deref().map(lot::expiry) {
        refuse("lot_expires", cure.to_owned());
    }
    if kind == K::Weighing
        && let Some(Err(cure)) = request.assay.as_deref().map(|text| lot::assay(reference, text))
    {
        refuse("assay", cure);
    }
    let price = request.price.as_deref().map(|text| lot::price(text, &rules.currency, rules.customary));
    if let Some(Err(cure)) = price {
        refuse("price", cure);
    }
    let mut checked = Measured::default();
    if let Some(text) = &request.quantity {
        let value = match kind {
            K::Temperature => {
                Temperature::parse(text).map(|it| checked.celsius = Some(it.c())).map_err(|e| e.to_string())
            }
            kind if kind.is_count() => labels(text).map(|it| checked.labels = Some(it)),
            K::Ph => ph(text).map(|it| checked.ph = Some(it)),
            K::WaterActivity => judgement::measured::water_activity(text)
                .map(|it| checked.water_activity = Some(it))
                .map_err(str::to_owned),
            _ => grams(text, recipe, line.flatten(), rules.customary).map(|it| checked.grams = Some(it)),
        };
        if let Err(detail) = value {
            refuse("quantity", detail);
        }
    }
    for error in errors.iter_mut().filter(|error| error.pointer == "/quantity") {
        let meant = request.quantity.as_deref().and_then(|text| Quantity::meant(text, rules.customary));
        error.instead.extend(meant);
    }
    if errors.is_empty() { Ok(checked) } else { Err(Error::Invalid(errors)) }
}

/// A number of labels.
fn labels(text: &str) -> Result<i32, String> {
    let count = text.trim().parse().ok().filter(|count| (1..=10_000).contains(count));
    count.ok_or_else(|| {
        format!("{text:?} is no number of labels. Enter a whole number from 1 to 10000, such as 12.")
    })
}

/// Whether an entry is accepted while the batch is paused: it tells what was seen or what went otherwise, or mends an entry.
/// Nothing that goes on with the work does: it would end the pause without saying so, and an entry that was noted without a
/// network could end it days later.
fn told_while_paused(request: &NewEntry) -> bool {
    request.corrects.is_some() || request.kind.is_seen() || request.kind == EntryKind::Deviation
}

fn find_line<'r>(recipe: &'r Recipe, wanted: &str) -> Option<&'r Line> {
    recipe.lines().find(|line| line.line == wanted.trim())
}
