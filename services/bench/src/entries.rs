//! Writing into a batch record.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::{Decimal, Measure, Quantity, Temperature, number};
use materia::Materia;
use schema::{batch, batch_entry};
use serde_json::json;
use store::{Claim, Error, NewEvent, Once, Result, Store, Tx, violates};
use uuid::Uuid;
use wire::bench::{BatchRecord, BatchState, EntryKind, NewEntry};
use wire::ids::{BatchId, RevisionId};
use wire::problem::FieldError;
use wire::recipe::{Recipe, RecipeLine};

use super::batches;
use super::store::{self, BatchRow};
use canonical;
use judgement::lot;
use policy::{self, Rules};
use crate::safety::{self, Released};

/// An entry that has been checked against the recipe.
struct Checked {
    grams: Option<Decimal>,
    celsius: Option<Decimal>,
    ph: Option<Decimal>,
}

/// Writes an entry. The first one begins the making. A correction names the entry it corrects and why; both stay.
///
/// # Errors
/// When the caller is not the maker, the record is not being worked on, a field does not fit the kind of entry or
/// the recipe, or a changed caution stands unacknowledged before a step is finished.
pub async fn entry_create(
    store: &Store,
    claim: &Claim,
    once: &Once,
    id: BatchId,
    request: &NewEntry,
) -> Result<Released<BatchRecord>> {
    store
        .create(
            claim,
            once,
            async |tx| {
                let row = batches::own(tx, id).await?;
                if !matches!(row.state()?, BatchState::Planned | BatchState::Making | BatchState::Returned) {
                    return Err(Error::state(
                        row.state()?,
                        "entries are written while a batch is planned, making or returned",
                    ));
                }
                let recipe = safety::recipe_of(tx, id).await?;
                let rules = policy::rules_of(tx, row.policy_version).await?;
                let checked = check(tx.reference, request, recipe.content(), &rules)?;
                let before_acknowledged =
                    safety::change_outstanding(tx, RevisionId(row.revision_id), &row.caution_digest).await?;
                if before_acknowledged && request.kind == EntryKind::StepDone {
                    let reason = "the cautions have changed while this was being made: acknowledge them to finish the step";
                    return Err(Error::GateClosed(Box::new(
                        safety::outstanding(tx, RevisionId(row.revision_id), reason).await?,
                    )));
                }
                write(tx, &row, request, &checked, before_acknowledged).await
            },
            // The entry's batch is in the path; what is shown is the record with the entry in it.
            async |tx, _| batches::record(tx, id).await,
        )
        .await
}

async fn write(
    tx: &mut Tx<'_>,
    row: &BatchRow,
    request: &NewEntry,
    checked: &Checked,
    before_acknowledged: bool,
) -> Result<Uuid> {
    let corrected = match request.corrects {
        None => None,
        Some(corrects) => Some(corrected(tx, row, corrects.0, request).await?),
    };
    let me = tx.person()?.id;
    let id = tx.new_id();
    let now = tx.now;
    let number = row.last_entry + 1;
    diesel::update(batch::table.find(row.id)).set(batch::last_entry.eq(number)).execute(tx.conn()).await?;
    diesel::insert_into(batch_entry::table)
        .values((
            batch_entry::id.eq(id),
            batch_entry::batch_id.eq(row.id),
            batch_entry::number.eq(number),
            batch_entry::kind.eq(request.kind.as_str()),
            // As the recipe names it, whatever spaces were typed around it.
            batch_entry::line.eq(request.line.as_deref().map(str::trim)),
            batch_entry::step.eq(request.step.map(i32::from)),
            batch_entry::quantity.eq(&request.quantity),
            batch_entry::grams.eq(checked.grams),
            batch_entry::celsius.eq(checked.celsius),
            batch_entry::ph.eq(checked.ph),
            batch_entry::lot.eq(&request.lot),
            batch_entry::lot_expires.eq(request.lot_expires.as_deref().map(str::trim)),
            batch_entry::assay.eq(request.assay.as_deref().map(str::trim)),
            batch_entry::price.eq(request.price.as_deref().map(str::trim)),
            batch_entry::note.eq(&request.note),
            batch_entry::corrects_id.eq(request.corrects.map(|id| id.0)),
            batch_entry::reason.eq(&request.reason),
            batch_entry::by_id.eq(me.0),
            batch_entry::at.eq(now),
            batch_entry::before_acknowledged.eq(before_acknowledged),
        ))
        .execute(tx.conn())
        .await
        .map_err(|error| {
            if violates(&error, "batch_entry_corrects_id_key") {
                Error::Conflict("this entry has been corrected already: correct the correction".into())
            } else {
                error.into()
            }
        })?;
    if row.state()? == BatchState::Planned {
        store::advance(tx, row, BatchState::Making).await?;
    }
    // Salted, so that what was written cannot be guessed from the journal.
    let salt: [u8; 16] = tx.rng.bytes();
    let digest = canonical::digest([&serde_json::to_vec(request)?[..], &salt]);
    let action = if corrected.is_some() { "entry_corrected" } else { "entry_written" };
    tx.record(NewEvent::new("batch", row.id, action)
            .after(digest)
            .detail(json!({ "entry": id, "corrects": corrected })));
    Ok(id)
}

/// The corrected entry must be of this batch and of the same kind: a correction says what it should have said.
async fn corrected(tx: &mut Tx<'_>, row: &BatchRow, corrects: Uuid, request: &NewEntry) -> Result<Uuid> {
    let kind: Option<String> = batch_entry::table
        .filter(batch_entry::id.eq(corrects))
        .filter(batch_entry::batch_id.eq(row.id))
        .select(batch_entry::kind)
        .first(tx.conn())
        .await
        .optional()?;
    match kind {
        None => Err(Error::field("/corrects", "this batch record has no such entry")),
        Some(kind) if kind != request.kind.as_str() => Err(Error::field(
            "/kind",
            format!("the entry to be corrected is a {kind}; its correction is one too"),
        )),
        Some(_) => Ok(corrects),
    }
}

fn check(reference: &Materia, request: &NewEntry, recipe: &Recipe, rules: &Rules) -> Result<Checked> {
    let mut errors = Vec::new();
    let mut refuse = |field: &str, detail: String| errors.push(FieldError::new(format!("/{field}"), detail));
    for (field, text, most) in
        [("lot", &request.lot, 200), ("note", &request.note, 4000), ("reason", &request.reason, 1000)]
    {
        if text.as_ref().is_some_and(|text| text.trim().is_empty() || text.chars().count() > most) {
            refuse(field, format!("1 to {most} characters, or leave it out"));
        }
    }
    match (&request.corrects, &request.reason) {
        (Some(_), None) => refuse("reason", "a correction says why it was made".into()),
        (None, Some(_)) => refuse("reason", "a reason goes with `corrects`; for a remark use `note`".into()),
        _ => {}
    }
    let line = request.line.as_deref().map(|wanted| find_line(recipe, wanted));
    if let Some(None) = line {
        let all: Vec<&str> =
            recipe.phases.iter().flat_map(|phase| &phase.lines).map(|line| line.line.as_str()).collect();
        refuse("line", format!("the recipe has the lines {}", all.join(", ")));
    }
    if let Some(step) = request.step
        && !(1..=recipe.method.len()).contains(&usize::from(step))
    {
        refuse("step", format!("the method has the steps 1 to {}", recipe.method.len()));
    }
    let mut fits = |field: &str, given: bool, wanted: bool| match (given, wanted) {
        (false, true) => refuse(field, format!("an entry of the kind {} needs this field", request.kind)),
        (true, false) => {
            refuse(
                field,
                format!("an entry of the kind {} does not have this field: leave it out", request.kind),
            );
        }
        _ => {}
    };
    use EntryKind as K;
    let kind = request.kind;
    let measured = matches!(kind, K::Weighing | K::Temperature | K::Yield | K::Ph);
    fits("quantity", request.quantity.is_some(), measured);
    if kind != K::Observation {
        fits("line", request.line.is_some(), kind == K::Weighing);
        fits("step", request.step.is_some(), matches!(kind, K::Temperature | K::StepDone));
    }
    if kind != K::Weighing {
        fits("lot", request.lot.is_some(), false);
        fits("lot_expires", request.lot_expires.is_some(), false);
        fits("assay", request.assay.is_some(), false);
        fits("price", request.price.is_some(), false);
    }
    if kind == K::Observation {
        fits("note", request.note.is_some(), true);
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
    let mut checked = Checked { grams: None, celsius: None, ph: None };
    if let Some(text) = &request.quantity {
        let value = match kind {
            K::Temperature => {
                Temperature::parse(text).map(|it| checked.celsius = Some(it.c())).map_err(|e| e.to_string())
            }
            K::Ph => ph(text).map(|it| checked.ph = Some(it)),
            _ => grams(text, line.flatten(), rules.customary).map(|it| checked.grams = Some(it)),
        };
        if let Err(detail) = value {
            refuse("quantity", detail);
        }
    }
    if errors.is_empty() { Ok(checked) } else { Err(Error::Invalid(errors)) }
}

fn find_line<'r>(recipe: &'r Recipe, wanted: &str) -> Option<&'r RecipeLine> {
    recipe.phases.iter().flat_map(|phase| &phase.lines).find(|line| line.line == wanted.trim())
}

/// A pH as a meter or a paper shows it.
fn ph(text: &str) -> Result<Decimal, String> {
    let cure = "a pH is a number from 0 to 14, such as 4.8";
    let typed = text.trim();
    let ph = number::parse(typed.strip_prefix("pH").unwrap_or(typed)).map_err(|_| cure.to_owned())?;
    if ph <= Decimal::from(14) { Ok(ph.round_dp(6)) } else { Err(cure.to_owned()) }
}

/// What was weighed in grams; a volume only through a known density.
fn grams(text: &str, line: Option<&RecipeLine>, customary: galenics::Customary) -> Result<Decimal, String> {
    let quantity = Quantity::parse_with(text, customary).map_err(|error| error.to_string())?;
    let grams = match quantity.measure() {
        Measure::Mass(mass) => mass.g(),
        Measure::Volume(volume) => {
            let name = line.map_or("what was made", |line| line.name.as_str());
            let density: Option<Decimal> = line.and_then(|line| line.g_per_ml.as_ref()?.parse().ok());
            density.and_then(|density| volume.ml().checked_mul(density)).ok_or_else(|| {
                format!("unknown: density of {name}; weigh it and write the mass, such as 30.1 g")
            })?
        }
        Measure::Drops { .. } => {
            return Err("drops are not a measure of record: weigh it, such as 0.2 g".into());
        }
    };
    if grams > Decimal::ZERO && grams < Decimal::from(1_000_000_000) {
        Ok(grams.round_dp(12))
    } else {
        Err("something above 0 g and below 1000 t was weighed".into())
    }
}
