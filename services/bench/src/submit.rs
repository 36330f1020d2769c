//! Submission of a batch record. The findings are stored with the submission, as they were at that time.

use recipes::RecipeCache;
use release::entries::submission_insert;
use release::{ForRules, Record, Released};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use wire::bench::{BatchRecord, BatchState, Submit};
use wire::ids::BatchId;

use crate::batches;
use crate::beside::Beside;
use crate::counted;
use crate::findings::findings;
use crate::kept::BATCH;
use crate::makers;
use crate::pauses;
use crate::records::{advance, check};
use crate::stored::Findings;

/// Submits a batch record. Findings never prevent a submission, so that a maker has no reason to falsify the record. An offer of
/// the batch that waits is withdrawn.
///
/// # Errors
/// Returns [`Error::Forbidden`] if the caller is not the maker, [`Error::State`] unless the record is making or
/// returned, or if the record counts for an assignment, [`Error::Invalid`] for a refused answer, and [`Error::GateClosed`] while changed cautions are not
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
                counted::not_to_be_submitted_there(tx, id).await?;
                put(tx, cache, &record, request.answer.as_deref()).await?;
                Ok(id.0)
            },
            async |tx, id| batches::shown(tx, cache, BatchId(id)).await,
        )
        .await
}

/// A batch record that its maker hands in for something else, with the number of its submission.
pub struct Handed<'t> {
    /// The record.
    pub record: Record<'t>,
    /// Which submission of it is meant.
    pub submission: i32,
}

/// Hands the caller's own record in, within a transaction: submits it, or means the submission that waits for a review.
///
/// # Errors
/// As [`submit`]; returns [`Error::Invalid`] for an answer to what was submitted before.
pub async fn hand_in<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    id: BatchId,
    answer: Option<&str>,
) -> Result<Handed<'t>> {
    let record = batches::own(tx, id).await?;
    let state: BatchState = word(&record.row().state)?;
    if state != BatchState::Submitted {
        let submission = put(tx, cache, &record, answer).await?;
        return Ok(Handed { record, submission });
    }
    if answer.is_some() {
        return Err(Error::field(
            "/answer",
            "This batch record was submitted at the bench, with what you wrote there. Leave the text out.",
        ));
    }
    let submission = record.row().last_submission;
    Ok(Handed { record, submission })
}

/// Writes a submission with what is found now. Answers its number.
async fn put<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    answer: Option<&str>,
) -> Result<i32> {
    let id = record.batch();
    check(word(&record.row().state)?, BatchState::Submitted)?;
    pauses::goes_on(&pauses::of_record(tx, record).await?, "Take it up again before you submit its record.")?;
    let answer = answer.map(str::trim);
    if answer.is_some_and(|text| !(1..=4000).contains(&text.chars().count())) {
        return Err(Error::field("/answer", "Enter 1 to 4000 characters, or omit the field."));
    }
    if batches::change_outstanding(tx, record).await? {
        let reason = "The cautions changed during this batch. Acknowledge them before submitting the record.";
        let outstanding = formulary::gate::outstanding(tx, record.revision(), reason).await?;
        return Err(Error::GateClosed(Box::new(outstanding)));
    }
    let within = batches::contents(tx, record).await?;
    let rules = policy::rules_of(tx, record.row().policy_version).await?;
    let marc = recipes::marc(tx, cache, record).await?;
    let beside = Beside::of(tx, record).await?;
    let found = within.map(|within| {
        let made_on = batches::made_on(record.row(), &within.recipe, &rules);
        Findings::from(findings(&within.recipe, &within.entries, &rules, made_on, (&marc, &beside)))
    });
    let submitted = NewEvent::new("batch", id.0, "submitted").keeps(&BATCH, [id.0]);
    let number = submission_insert(tx, record, answer, &found, submitted).await?;
    makers::offer_withdraw(tx, record).await?;
    advance(tx, record, BatchState::Submitted).await?;
    stock::free_lots(tx, id).await?;
    Ok(number)
}
