//! Submission of a batch record. The findings are stored with the submission, as they were at that time.

use recipes::RecipeCache;
use release::entries::submission_insert;
use release::{ForRules, Released};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, word};
use wire::bench::{BatchRecord, BatchState, Submit};
use wire::ids::BatchId;

use crate::batches;
use crate::findings::findings;
use crate::kept::BATCH;
use crate::records::{advance, check};
use crate::stored::Findings;

/// Submits a batch record. Findings never prevent a submission, so that a maker has no reason to falsify the record.
///
/// # Errors
/// Returns [`Error::Forbidden`] if the caller is not the maker, [`Error::State`] unless the record is making or
/// returned, [`Error::Invalid`] for a refused answer, and [`Error::GateClosed`] while changed cautions are not
/// acknowledged.
pub async fn submit(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &Submit,
) -> Result<Released<BatchRecord>> {
    store
        .create_then_show(
            credentials,
            once,
            async |tx| {
                let record = batches::own(tx, id).await?;
                check(word(&record.row().state)?, BatchState::Submitted)?;
                let answer = request.answer.as_deref().map(str::trim);
                if answer.is_some_and(|text| !(1..=4000).contains(&text.chars().count())) {
                    return Err(Error::field("/answer", "Enter 1 to 4000 characters, or omit the field."));
                }
                if batches::change_outstanding(tx, &record).await? {
                    let reason =
                        "The cautions changed during this batch. Acknowledge them before submitting the record.";
                    return Err(Error::GateClosed(Box::new(
                        formulary::gate::outstanding(tx, record.revision(), reason).await?,
                    )));
                }
                let within = batches::contents(tx, &record).await?;
                let rules = policy::rules_of(tx, record.row().policy_version).await?;
                let marc = recipes::marc(tx, cache, &record).await?;
                let found = within.map(|within| {
                    let made_on = batches::made_on(record.row(), &within.recipe, &rules);
                    Findings::from(findings(&within.recipe, &within.entries, &rules, made_on, &marc))
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
