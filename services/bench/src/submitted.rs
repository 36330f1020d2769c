//! What was found in a record when it was submitted, for rules of other subjects that work on it; and the record as it was
//! submitted, for a second marker whom nothing in it may tell whose it is or how it was judged.

use judgement::figures::Detail;
use recipes::RecipeCache;
use release::{ForRules, Released, record};
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::bench::{BatchRecord, BatchState, BatchSummary, Disposition, Finding};
use wire::ids::BatchId;

use crate::batches::{self, Reading};
use crate::nameless::nameless;

/// What a rule makes of the findings of a submission, released to whoever may read the record.
///
/// # Errors
/// As [`batch`](crate::batch()); returns [`Error::NotFound`] if the record has no such submission.
pub async fn submitted<U>(
    tx: &mut Tx<'_>,
    id: BatchId,
    number: i32,
    work: impl FnOnce(Vec<Finding>) -> U,
) -> Result<Released<U>> {
    let record = batches::access_unnamed(tx, id, false).await?;
    let contents = batches::contents(tx, &record).await?;
    contents.try_map(|contents| {
        let number = number.unsigned_abs();
        let submitted = contents.submissions.into_iter().find(|one| one.number == number);
        let submitted = submitted.ok_or(Error::NotFound("submission"))?;
        Ok(work(submitted.findings.into()))
    })
}

/// What a rule makes of a record as it was submitted, for its second marker. It names nobody: ids of people, of the batch
/// and of lots are nil, and there is no review, no number and no disposition that the verdict gave.
///
/// # Errors
/// As [`batch`](crate::batch()); returns [`Error::NotFound`] unless the record is closed to the caller as a second marker,
/// and if it has no such submission.
pub async fn submitted_blind<U>(
    tx: &mut Tx<'_>,
    cache: &RecipeCache,
    (id, number): (BatchId, i32),
    work: impl FnOnce(BatchRecord) -> U,
) -> Result<Released<U>> {
    let record = batches::access_blind(tx, id).await?;
    let levels = record::every_level(tx, &record).await?.ok();
    let reading = Reading::of(tx, &record).await?;
    let shown = reading.shown(tx, cache, &record, levels.as_ref(), Detail::Brief).await?;
    shown.try_map(|record| {
        let blind = blind(record, number.unsigned_abs()).ok_or(Error::NotFound("submission"))?;
        Ok(work(blind))
    })
}

/// A record without whatever tells who made it and how it was judged. Nothing where it has no such submission.
fn blind(record: BatchRecord, number: u32) -> Option<BatchRecord> {
    let record = nameless(record, String::new());
    let submission = record.submissions.into_iter().find(|one| one.number == number)?;
    let practice = record.summary.disposition == Disposition::PracticeOnly;
    Some(BatchRecord {
        summary: BatchSummary {
            id: BatchId(Uuid::nil()),
            state: BatchState::Submitted,
            disposition: if practice { Disposition::PracticeOnly } else { Disposition::Quarantine },
            ..record.summary
        },
        version: 0,
        findings: submission.findings.clone(),
        submissions: vec![wire::bench::Submission { review: None, ..submission }],
        ..record
    })
}
