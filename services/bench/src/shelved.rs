//! What a batch made, put on the shelf as a lot from which other batches are weighed.

use judgement::figures::Detail;
use recipes::{Making, RecipeCache, as_made};
use release::{EveryLevel, ForRules, Record, record};
use store::{Credentials, Error, IdempotencyKey, Result, Store, Tx, Versioned, word};
use wire::bench::{AsMade, BatchState, Disposition};
use wire::ids::{BatchId, LotId};
use wire::stock::{Lot, NewMadeLot};

use crate::left::{self, Left};
use crate::{batches, last_day};

/// Puts what a batch made on the shelf. Its record is accepted; it keeps no longer than the batch is dated.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::GateClosed`] to whoever has not acknowledged the cautions of everything
/// nested in it, since its date would be that of the formula and not of what was weighed. Returns [`Error::State`] unless the
/// record is accepted, and for what was made to learn. Returns [`Error::Conflict`] where no use-by date is known, a line was
/// not weighed, no yield was recorded, or it carries cautions that its formula does not, and [`Error::Invalid`] for refused fields.
pub async fn shelve(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewMadeLot,
) -> Result<Versioned<Lot>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::access(tx, id, true).await?;
                may_be_used(word(&record.row().state)?, word(&record.row().disposition)?)?;
                let levels = match record::every_level(tx, &record).await? {
                    Ok(levels) => levels,
                    Err(closed) => {
                        formulary::gate::open(tx, closed).await?;
                        return Err(Error::internal("a level that is closed and open"));
                    }
                };
                Ok(put(tx, cache, &record, &levels, request).await?.0)
            },
            async |tx, id| stock::seen(tx, LotId(id)).await,
        )
        .await
}

/// Whether what a batch made may be used in others.
fn may_be_used(state: BatchState, disposition: Disposition) -> Result<()> {
    if state != BatchState::Accepted {
        let cure = "Submit it for review. What it made can go on the shelf once the record is accepted.";
        return Err(Error::state(state, format!("This batch record is {state}. {cure}")));
    }
    match disposition {
        Disposition::Quarantine | Disposition::Released => Ok(()),
        Disposition::PracticeOnly => Err(Error::state(
            disposition,
            "This batch was made for practice. It cannot be used in other batches.",
        )),
        Disposition::Recalled | Disposition::Discarded => Err(Error::state(
            disposition,
            format!("This batch is {disposition}. It cannot be used in other batches."),
        )),
    }
}

async fn put<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    levels: &EveryLevel<'_, 't>,
    request: &NewMadeLot,
) -> Result<LotId> {
    let row = record.row();
    let contents = batches::contents(tx, record).await?;
    let within = contents.content();
    let rules = policy::rules_of(tx, row.policy_version).await?;
    let made_on = batches::made_on(row, &within.recipe, &rules);
    let making = Making { asked: &within.recipe, entries: &within.entries, rules: &rules, made_on };
    let as_made = as_made(tx, cache, record, Some(levels), &making, Detail::Brief).await?;
    let (use_by, refrigerate) = known(as_made)?;
    // What was seen of it since binds too.
    let use_by = last_day::shortened(tx, record.batch()).await?.map_or(use_by, |(day, _)| day.min(use_by));
    let left = Left::of(tx, record.batch(), &within.entries).await?.ok_or_else(left::unknown)?;
    let made = stock::Made {
        batch: record.batch(),
        number: &row.number,
        revision: record.revision(),
        made_on,
        use_by,
        refrigerate,
        sooner: request.use_by,
        yielded: left.yielded,
        elsewhere: left.lost + left.filled,
        amount: &request.amount,
    };
    stock::shelve(tx, &rules, &made).await
}

/// The use-by date of what was made, and whether it holds in a refrigerator only.
fn known(made: Option<AsMade>) -> Result<(chrono::NaiveDate, bool)> {
    let refused = |said: String| Err(Error::Conflict(said));
    let Some(made) = made else {
        return refused(
            "What was weighed cannot be evaluated, so it cannot be used in other batches.".into(),
        );
    };
    if !made.missing.is_empty() {
        let lines = made.missing.join(", ");
        return refused(format!(
            "No weighing is recorded for line {lines}, so its composition is not that of the formula."
        ));
    }
    if let Some(caution) = made.cautions.first() {
        // What nests it carries the cautions of the formula, not those of this batch.
        return refused(format!(
            "As made, it has a caution that its formula does not have: {}",
            caution.text
        ));
    }
    match made.use_by.and_then(|use_by| Some((use_by.date?, use_by.refrigerate))) {
        Some(known) => Ok(known),
        None => refused("No rule gives a use-by date for it, so it cannot be used in other batches.".into()),
    }
}
