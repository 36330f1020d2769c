//! Writing into a batch record.

use galenics::{Decimal, Measure, Quantity, Temperature, number};
use judgement::lot;
use materia::Materia;
use policy::Rules;
use recipes::RecipeCache;
use recipes::stored::{Line, Recipe};
use release::entries::{Measured, entry_insert};
use release::{ForRules, Released};
use store::{Claim, Error, NewEvent, Once, Result, Store};
use wire::bench::{BatchRecord, BatchState, EntryKind, NewEntry};
use wire::ids::BatchId;
use wire::problem::FieldError;

use crate::batches;
use crate::kept::BATCH;
use crate::records::advance;

/// Writes an entry. The first one begins the making. A correction names the entry it corrects and why; both stay.
///
/// # Errors
/// When the caller is not the maker, the record is not being worked on, a field does not fit the kind of entry or
/// the recipe, or a changed caution stands unacknowledged before a step is finished.
pub async fn entry_create(
    store: &Store,
    cache: &RecipeCache,
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
                let record = batches::own(tx, id).await?;
                let state = record.row().state()?;
                if !matches!(state, BatchState::Planned | BatchState::Making | BatchState::Returned) {
                    return Err(Error::state(
                        state,
                        "entries are written while a batch is planned, making or returned",
                    ));
                }
                let within = batches::contents(tx, &record).await?;
                let rules = policy::rules_of(tx, record.row().policy_version).await?;
                let measured = check(tx.reference, request, &within.content().recipe, &rules)?;
                let before_acknowledged = batches::change_outstanding(tx, &record).await?;
                if before_acknowledged && request.kind == EntryKind::StepDone {
                    let reason = "the cautions have changed while this was being made: acknowledge them to finish the step";
                    return Err(Error::GateClosed(Box::new(
                        formulary::gate::outstanding(tx, record.revision(), reason).await?,
                    )));
                }
                let action = if request.corrects.is_some() { "entry_corrected" } else { "entry_written" };
                let written = NewEvent::new("batch", id.0, action).keeps(&BATCH, [id.0]);
                let entry =
                    entry_insert(tx, &record, request, &measured, before_acknowledged, written).await?;
                if state == BatchState::Planned {
                    advance(tx, &record, BatchState::Making).await?;
                }
                Ok(entry)
            },
            // The entry's batch is in the path; what is shown is the record with the entry in it.
            async |tx, _| batches::shown(tx, cache, id).await,
        )
        .await
}

fn check(reference: &Materia, request: &NewEntry, recipe: &Recipe, rules: &Rules) -> Result<Measured> {
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
        let all: Vec<&str> = recipe.lines().map(|line| line.line.as_str()).collect();
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
    let mut checked = Measured { grams: None, celsius: None, ph: None };
    if let Some(text) = &request.quantity {
        let value = match kind {
            K::Temperature => {
                Temperature::parse(text).map(|it| checked.celsius = Some(it.c())).map_err(|e| e.to_string())
            }
            K::Ph => ph(text).map(|it| checked.ph = Some(it)),
            _ => grams(text, recipe, line.flatten(), rules.customary).map(|it| checked.grams = Some(it)),
        };
        if let Err(detail) = value {
            refuse("quantity", detail);
        }
    }
    if errors.is_empty() { Ok(checked) } else { Err(Error::Invalid(errors)) }
}

fn find_line<'r>(recipe: &'r Recipe, wanted: &str) -> Option<&'r Line> {
    recipe.lines().find(|line| line.line == wanted.trim())
}

/// A pH as a meter or a paper shows it.
fn ph(text: &str) -> Result<Decimal, String> {
    let cure = "a pH is a number from 0 to 14, such as 4.8";
    let typed = text.trim();
    let ph = number::parse(typed.strip_prefix("pH").unwrap_or(typed)).map_err(|_| cure.to_owned())?;
    if ph <= Decimal::from(14) { Ok(ph.round_dp(6)) } else { Err(cure.to_owned()) }
}

/// What was weighed in grams; a volume only through a known density.
fn grams(
    text: &str,
    recipe: &Recipe,
    line: Option<&Line>,
    customary: galenics::Customary,
) -> Result<Decimal, String> {
    let quantity = Quantity::parse_with(text, customary).map_err(|error| error.to_string())?;
    let grams = match quantity.measure() {
        Measure::Mass(mass) => mass.g(),
        Measure::Volume(volume) => {
            let name = line.map_or("what was made", |line| line.name.as_str());
            let density = line.and_then(|line| recipe.density(line));
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
