//! Handing a batch record in: what is found is kept with it, as it was found.

use recipes::RecipeCache;
use release::entries::submission_insert;
use release::{ForRules, Released};
use store::{Claim, Error, NewEvent, Once, Result, Store};
use wire::bench::{BatchRecord, BatchState, Submit};
use wire::ids::BatchId;

use crate::batches;
use crate::findings::findings;
use crate::kept::BATCH;
use crate::records::{advance, check};
use crate::stored::Findings;

/// Hands a batch record in, with whatever is out of tolerance or missing: a record is honest before it is perfect.
///
/// # Errors
/// When the caller is not the maker, the record is not being made or returned, or a changed caution stands
/// unacknowledged.
pub async fn submit(
    store: &Store,
    cache: &RecipeCache,
    claim: &Claim,
    once: &Once,
    id: BatchId,
    request: &Submit,
) -> Result<Released<BatchRecord>> {
    store
        .create(
            claim,
            once,
            async |tx| {
                let record = batches::own(tx, id).await?;
                check(record.row().state()?, BatchState::Submitted)?;
                let answer = request.answer.as_deref().map(str::trim);
                if answer.is_some_and(|text| !(1..=4000).contains(&text.chars().count())) {
                    return Err(Error::field("/answer", "1 to 4000 characters, or leave it out"));
                }
                if batches::change_outstanding(tx, &record).await? {
                    let reason =
                        "the cautions have changed while this was being made: acknowledge them to submit";
                    return Err(Error::GateClosed(Box::new(
                        formulary::gate::outstanding(tx, record.revision(), reason).await?,
                    )));
                }
                let within = batches::contents(tx, &record).await?;
                let rules = policy::rules_of(tx, record.row().policy_version).await?;
                let found = within.map(|within| {
                    let made_on = batches::made_on(record.row(), &within.recipe, &rules);
                    Findings::from(findings(&within.recipe, &within.entries, &rules, made_on))
                });
                let submitted = NewEvent::new("batch", id.0, "submitted").keeps(&BATCH, [id.0]);
                submission_insert(tx, &record, answer, &found, submitted).await?;
                advance(tx, &record, BatchState::Submitted).await?;
                Ok(id.0)
            },
            async |tx, id| batches::shown(tx, cache, BatchId(id)).await,
        )
        .await
}
