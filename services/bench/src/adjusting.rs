//! Adjusting a batch: where too much of a line was weighed, more of everything else makes it right again, as long as nothing was
//! combined. It is authorised as a deviation, and from then on the batch is judged by the amounts of its adjusted recipe.

use formulary::gate::{self, Passed};
use galenics::explain::{Input, Rule};
use galenics::{Decimal, Figure, units};
use judgement::combining;
use judgement::figures::Detail;
use policy::Rules;
use recipes::stored::{Line, Recipe, as_shown};
use recipes::{RecipeCache, leaves, work_out};
use release::entries::{self, Entry};
use release::{ForRules, Record, Released};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use wire::adjustments::{AdjustedLine, Adjustment, NewAdjustment};
use wire::bench::{BatchState, EntryKind, EntryWritten, NewEntry};
use wire::ids::{BatchId, EntryId};
use wire::recipe::MakeFor;

use crate::batches::{self, made_on};
use crate::deviations::{is_above, shown};
use crate::entries::proposed;
use crate::kept::BATCH;
use crate::measured::SO_FAR;
use crate::pauses;

static TO_ADD: Rule = Rule::definition("line_to_add", "{adjusted} - {weighed}: {=}");

/// What could correct a batch of which too much of a line was weighed: each line as it would be.
///
/// # Errors
/// As [`batch`](crate::batch()), [`Error::State`] where no line is above its tolerance or the phases were combined, and
/// [`Error::GateClosed`] without a grant.
pub async fn adjustment(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Released<Adjustment>> {
    // A first reading of what is nested is noted, so the transaction may write.
    store
        .write(credentials, async |tx| {
            let record = batches::access(tx, id, false).await?;
            let found = Found::of(tx, cache, &record).await?;
            let passed = gate::open(tx, record.revision()).await?;
            let worked = found.worked(tx, cache, &passed).await?;
            worked.try_map(|adjusted| found.told(adjusted))
        })
        .await
}

/// Proposes the adjustment that could correct a batch.
///
/// # Errors
/// As [`adjustment`], [`Error::Forbidden`] if the caller is not the maker, [`Error::State`] while the batch is paused or with a
/// grant to decide, and [`Error::Invalid`] at `/reason`.
pub async fn adjust(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewAdjustment,
) -> Result<Released<EntryWritten>> {
    store
        .create_shown(
            credentials,
            once,
            async |tx| {
                let record = batches::own(tx, id).await?;
                let paused = pauses::of_record(tx, &record).await?;
                pauses::goes_on(&paused, "Take it up again first, and propose the adjustment then.")?;
                let reason = request.reason.trim();
                if reason.is_empty() || reason.chars().count() > 1000 {
                    return Err(Error::field("/reason", "Enter the reason, 1 to 1000 characters."));
                }
                let found = Found::of(tx, cache, &record).await?;
                // As when the batch was opened: whoever may only decide about the revision makes no more of it.
                let passed = gate::open(tx, record.revision()).await?;
                gate::require_to_make(tx, &passed).await?;
                let worked = found.worked(tx, cache, &passed).await?;
                let entry = NewEntry {
                    line: Some(found.line.clone()),
                    quantity: Some(found.amount()),
                    note: Some(reason.to_owned()),
                    ..NewEntry::of(EntryKind::Adjustment)
                };
                let event = NewEvent::new("batch", id.0, "adjustment_proposed").keeps(&BATCH, [id.0]);
                let written =
                    entries::adjustment_insert(tx, &record, &entry, (found.weighed, &worked), event).await?;
                let entry = written.content().entry.shown.id.0;
                let version = record.row().version + 1;
                Ok((entry, proposed(tx, cache, &record, written, version).await?))
            },
            async |tx, entry| {
                let record = batches::own(tx, id).await?;
                let written = entries::written(tx, &record, entry).await?;
                proposed(tx, cache, &record, written, record.row().version).await
            },
        )
        .await
}

/// Whether an entry that is about to be authorised is an adjustment, which then holds.
///
/// # Errors
/// Returns [`Error::State`] where the phases were combined meanwhile, or a later adjustment was authorised.
pub(crate) async fn authorised<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    entry: EntryId,
) -> Result<bool> {
    let all = entries::all(tx, record).await?;
    let number = |id| all.content().iter().find(|one| one.shown.id == id).map(|one| one.shown.number);
    let of = all.content().iter().find(|one| one.shown.id == entry);
    if of.is_none_or(|one| one.shown.kind != EntryKind::Adjustment) {
        return Ok(false);
    }
    let state: BatchState = word(&record.row().state)?;
    if state == BatchState::Submitted {
        let cure = "The record was handed in. Return it, or leave the adjustment: the batch is judged by the amounts from before it.";
        return Err(Error::state(state, cure));
    }
    let asked = cache.asked(tx, record).await?;
    not_combined(asked.content(), all.content())?;
    if record.row().adjusted_by.is_some_and(|held| number(EntryId(held)) > number(entry)) {
        let cure = "A later adjustment of this batch was authorised. This one would put it back.";
        return Err(Error::state("adjusted", cure));
    }
    Ok(true)
}

/// The line that is furthest above its target, and what the batch asks for and holds now.
struct Found {
    asked: Recipe,
    line: String,
    /// What was weighed of it, in g.
    weighed: Decimal,
    /// What was weighed of each line, in g, with how many weighings.
    so_far: Vec<(Decimal, u32)>,
    made_on: chrono::NaiveDate,
}

impl Found {
    async fn of<'t>(tx: &mut Tx<'t>, cache: &RecipeCache, record: &Record<'t>) -> Result<Self> {
        let state: BatchState = word(&record.row().state)?;
        if !matches!(state, BatchState::Making | BatchState::Returned) {
            return Err(Error::state(state, "A batch is adjusted while it is being made."));
        }
        let asked = cache.asked(tx, record).await?;
        let rules = cache.rules(tx, record.row().policy_version).await?;
        let all = entries::all(tx, record).await?;
        not_combined(asked.content(), all.content())?;
        let recipe = asked.content();
        let so_far: Vec<(Decimal, u32)> = recipe.lines().map(|line| weighed(line, all.content())).collect();
        let none = || {
            let cure = "No line of this batch is above its tolerance, so no adjustment is needed. Of a line that is below it, \
                        weigh the rest.";
            Error::state("within_tolerance", cure)
        };
        let (line, weighed) = furthest(recipe, &so_far, &rules).ok_or_else(none)?;
        let made_on = made_on(record.row(), recipe, &rules);
        Ok(Self { asked: Recipe::clone(recipe), line, weighed, so_far, made_on })
    }

    fn amount(&self) -> String {
        format!("{} g", self.weighed.normalize())
    }

    /// The recipe for what was weighed of the line, with the losses and the balance of the one before.
    async fn worked<'t>(
        &self,
        tx: &mut Tx<'t>,
        cache: &RecipeCache,
        passed: &Passed<'t>,
    ) -> Result<Released<Recipe>> {
        let before: wire::recipe::Recipe = self.asked.clone().into();
        let ask = MakeFor {
            mass: None,
            volume: None,
            containers: None,
            fill: None,
            line: Some(self.line.clone()),
            line_amount: Some(self.amount()),
            made_on: Some(self.made_on),
            ..before.asked
        };
        work_out(tx, cache, passed, &ask, "/").await
    }

    fn told(&self, adjusted: Recipe) -> Result<Adjustment> {
        let to_add = |line: &Line, weighed: Decimal| {
            let of = shown(line).or_else(|| adjusted.target(line))?;
            let inputs = vec![
                Input::number("adjusted", of, units::GRAM),
                Input::number("weighed", weighed, units::GRAM),
            ];
            let figure = Figure::number(of - weighed, units::GRAM, &TO_ADD, inputs);
            (of > weighed).then(|| Detail::Brief.figure("to add", &figure))
        };
        let to_add: Vec<_> =
            adjusted.lines().zip(&self.so_far).map(|(line, (weighed, _))| to_add(line, *weighed)).collect();
        let (before, recipe) = (brief(self.asked.clone()), brief(adjusted));
        let lines = |recipe: &wire::recipe::Recipe| -> Vec<wire::recipe::RecipeLine> {
            recipe.phases.iter().flat_map(|phase| &phase.lines).cloned().collect()
        };
        let lines = lines(&before).into_iter().zip(lines(&recipe)).zip(&self.so_far).zip(to_add);
        let lines: Vec<AdjustedLine> = lines
            .map(|(((was, now), (weighed, count)), to_add)| AdjustedLine {
                line: was.line,
                name: was.name,
                asked: was.weigh,
                adjusted: now.weigh,
                weighed: (*count > 0).then(|| {
                    let inputs = vec![Input::number("count", Decimal::from(*count), units::RATIO)];
                    Detail::Brief.figure("weighed", &Figure::number(*weighed, units::GRAM, &SO_FAR, inputs))
                }),
                to_add,
            })
            .collect();
        let name = lines.iter().find(|line| line.line == self.line).map(|line| line.name.clone());
        Ok(Adjustment {
            line: self.line.clone(),
            name: name.ok_or_else(|| Error::internal("an adjusted line that the recipe does not have"))?,
            lines,
            total: before.total,
            recipe,
        })
    }
}

/// A recipe as it is told beside an adjustment.
fn brief(recipe: Recipe) -> wire::recipe::Recipe {
    let mut recipe = recipe.into();
    leaves::close(&mut recipe);
    as_shown(&mut recipe, Detail::Brief);
    recipe
}

/// What was weighed of a line by entries that count, and by how many.
pub(crate) fn weighed(line: &Line, entries: &[Entry]) -> (Decimal, u32) {
    let live = entries.iter().filter(|entry| {
        entry.shown.kind == EntryKind::Weighing
            && entry.shown.corrected_by.is_none()
            && entry.shown.line.as_deref() == Some(line.line.as_str())
    });
    live.filter_map(|entry| entry.measured.grams)
        .fold((Decimal::ZERO, 0), |(sum, count), one| (sum + one, count + 1))
}

/// Whether an adjustment could correct a record now.
pub(crate) fn could_be(state: BatchState, recipe: &Recipe, entries: &[Entry], rules: &Rules) -> bool {
    let so_far: Vec<(Decimal, u32)> = recipe.lines().map(|line| weighed(line, entries)).collect();
    matches!(state, BatchState::Making | BatchState::Returned)
        && furthest(recipe, &so_far, rules).is_some()
        && not_combined(recipe, entries).is_ok()
}

/// The line with the highest share of its target, where some line is above its tolerance.
fn furthest(recipe: &Recipe, so_far: &[(Decimal, u32)], rules: &Rules) -> Option<(String, Decimal)> {
    let lines = || recipe.lines().zip(so_far.iter().map(|(weighed, _)| *weighed));
    if !lines().any(|(line, weighed)| is_above(recipe, line, weighed, rules)) {
        return None;
    }
    let share = |(line, weighed): &(&Line, Decimal)| weighed.checked_div(recipe.target(line)?);
    let all = lines().filter_map(|one| Some((share(&one)?, one)));
    all.max_by_key(|(share, _)| *share).map(|(_, (line, weighed))| (line.line.clone(), weighed))
}

/// Refuses once the phases are combined: at the step that limits how far they may be apart; where the method has none, with the
/// first step that is done, since nothing says which one combines.
fn not_combined(recipe: &Recipe, entries: &[Entry]) -> Result<()> {
    let step = combining(recipe.method.iter().map(|step| (step.temperature.as_deref(), step.rescue)));
    let first = step.map_or(1, |(number, _)| number);
    let done = entries.iter().filter(|entry| entry.shown.kind == EntryKind::StepDone);
    if done.filter_map(|entry| entry.shown.step).all(|step| step < first) {
        return Ok(());
    }
    let cure = match step {
        Some(_) => format!("Step {first} combines the phases, and it is done."),
        None => "A step of the method is done, and the method does not say which one combines.".to_owned(),
    };
    let rescues = (1..)
        .zip(&recipe.method)
        .filter(|(_, step)| step.rescue)
        .map(|(number, _): (u32, _)| number.to_string());
    let rest = match rescues.collect::<Vec<_>>().join(", ") {
        none if none.is_empty() => {
            "What was combined is not adjusted any more, and the method names no rescue.".to_owned()
        }
        steps => format!(
            "What was combined is not adjusted any more. What the method names as rescue can be done: step {steps}."
        ),
    };
    Err(Error::state("combined", format!("{cure} {rest}")))
}
