//! What was found in a record when it was submitted, for rules of other subjects that work on it; and the record as it was
//! submitted, for a second marker whom nothing in it may tell whose it is or how it was judged.

use judgement::figures::Detail;
use recipes::RecipeCache;
use release::{ForRules, Released, record};
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::bench::{BatchRecord, BatchState, BatchSummary, Disposition, Entry, Finding};
use wire::ids::{BatchId, PersonId};
use wire::long_work::Pause;

use crate::batches::{self, Reading};

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
    let record = batches::access(tx, id, false).await?;
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

const NOBODY: PersonId = PersonId(Uuid::nil());

/// A record without whatever tells who made it and how it was judged. Nothing where it has no such submission.
fn blind(record: BatchRecord, number: u32) -> Option<BatchRecord> {
    // Each field by its name, so that a new one is looked at here.
    let BatchRecord {
        summary,
        version: _,
        makers: _,
        policy_version,
        recipe,
        checks,
        hold_releases,
        pauses,
        entries,
        findings: _,
        as_made,
        submissions,
        caution_change: _,
    } = record;
    let submission = submissions.into_iter().find(|one| one.number == number)?;
    let practice = summary.disposition == Disposition::PracticeOnly;
    Some(BatchRecord {
        summary: BatchSummary {
            id: BatchId(Uuid::nil()),
            number: String::new(),
            revision: summary.revision,
            title: summary.title,
            maker: NOBODY,
            maker_name: None,
            state: BatchState::Submitted,
            disposition: if practice { Disposition::PracticeOnly } else { Disposition::Quarantine },
            opened_at: summary.opened_at,
        },
        version: 0,
        makers: Vec::new(),
        policy_version,
        recipe,
        checks: checks
            .into_iter()
            .map(|one| wire::checks::Check { by: NOBODY, by_name: None, ..one })
            .collect(),
        hold_releases: hold_releases
            .into_iter()
            .map(|one| wire::holds::HoldRelease { by: NOBODY, by_name: None, ..one })
            .collect(),
        pauses: pauses
            .into_iter()
            .map(|one| Pause {
                by: NOBODY,
                by_name: None,
                resumed_by: one.resumed_by.map(|_| NOBODY),
                resumed_by_name: None,
                ..one
            })
            .collect(),
        entries: entries.into_iter().map(unsigned).collect(),
        findings: submission.findings.clone(),
        as_made,
        submissions: vec![wire::bench::Submission { review: None, ..submission }],
        caution_change: None,
    })
}

fn unsigned(entry: Entry) -> Entry {
    let authorised =
        entry.authorised.map(|one| wire::deviations::Authorisation { by: NOBODY, by_name: None, ..one });
    Entry { by: NOBODY, by_name: None, lot_id: None, authorised, ..entry }
}
