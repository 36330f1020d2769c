//! Reading and writing batch records.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use schema::{batch, batch_entry, review, review_comment, submission};
use store::{Error, Result, Tx, word};
use uuid::Uuid;
use wire::bench::{BatchState, Entry, Finding, Review, ReviewComment, Submission};
use wire::ids::{BatchId, EntryId, PersonId, ReviewId};


#[derive(Queryable, Selectable, Clone)]
#[diesel(table_name = batch, check_for_backend(diesel::pg::Pg))]
pub(super) struct BatchRow {
    pub(super) id: Uuid,
    pub(super) number: String,
    pub(super) revision_id: Uuid,
    pub(super) revision_digest: Vec<u8>,
    pub(super) caution_digest: Vec<u8>,
    pub(super) policy_version: i32,
    pub(super) maker_id: Uuid,
    pub(super) state: String,
    pub(super) disposition: String,
    pub(super) opened_at: DateTime<Utc>,
    pub(super) last_entry: i32,
    pub(super) last_submission: i32,
}

impl BatchRow {
    pub(super) fn state(&self) -> Result<BatchState> {
        word(&self.state)
    }
}

/// The batch's row, locked when it is about to change.
pub(super) async fn find(tx: &mut Tx<'_>, id: BatchId, lock: bool) -> Result<BatchRow> {
    let query = batch::table.find(id.0).select(BatchRow::as_select());
    let row = if lock {
        query.for_update().first(tx.conn()).await.optional()?
    } else {
        query.first(tx.conn()).await.optional()?
    };
    row.ok_or(Error::NotFound("batch"))
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = batch_entry, check_for_backend(diesel::pg::Pg))]
struct EntryRow {
    id: Uuid,
    number: i32,
    kind: String,
    line: Option<String>,
    step: Option<i32>,
    quantity: Option<String>,
    grams: Option<Decimal>,
    celsius: Option<Decimal>,
    ph: Option<Decimal>,
    lot: Option<String>,
    lot_expires: Option<String>,
    assay: Option<String>,
    price: Option<String>,
    note: Option<String>,
    corrects_id: Option<Uuid>,
    reason: Option<String>,
    by_id: Uuid,
    at: DateTime<Utc>,
    before_acknowledged: bool,
}

/// Every entry of a batch in order, corrected ones too.
pub(super) async fn entries(tx: &mut Tx<'_>, id: BatchId) -> Result<Vec<Entry>> {
    let rows: Vec<EntryRow> = batch_entry::table
        .filter(batch_entry::batch_id.eq(id.0))
        .order(batch_entry::number)
        .select(EntryRow::as_select())
        .load(tx.conn())
        .await?;
    let corrections: HashMap<Uuid, Uuid> =
        rows.iter().filter_map(|row| row.corrects_id.map(|corrected| (corrected, row.id))).collect();
    rows.into_iter()
        .map(|row| {
            Ok(Entry {
                id: EntryId(row.id),
                number: row.number.unsigned_abs(),
                kind: word(&row.kind)?,
                line: row.line,
                step: row.step.map(i32::unsigned_abs),
                quantity: row.quantity,
                grams: row.grams.map(|grams| grams.normalize().to_string()),
                celsius: row.celsius.map(|celsius| celsius.normalize().to_string()),
                ph: row.ph.map(|ph| ph.normalize().to_string()),
                lot: row.lot,
                lot_expires: row.lot_expires,
                assay: row.assay,
                price: row.price,
                note: row.note,
                corrects: row.corrects_id.map(EntryId),
                reason: row.reason,
                corrected_by: corrections.get(&row.id).copied().map(EntryId),
                by: PersonId(row.by_id),
                at: row.at,
                mark: row
                    .before_acknowledged
                    .then(|| "before the change of cautions was acknowledged".to_owned()),
            })
        })
        .collect()
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = submission, check_for_backend(diesel::pg::Pg))]
struct SubmissionRow {
    number: i32,
    answer: Option<String>,
    findings: String,
    at: DateTime<Utc>,
}

/// Every submission of a batch with the review that followed.
pub(super) async fn submissions(tx: &mut Tx<'_>, id: BatchId) -> Result<Vec<Submission>> {
    let rows: Vec<SubmissionRow> = submission::table
        .filter(submission::batch_id.eq(id.0))
        .order(submission::number)
        .select(SubmissionRow::as_select())
        .load(tx.conn())
        .await?;
    let mut reviews = reviews(tx, id).await?;
    rows.into_iter()
        .map(|row| {
            Ok(Submission {
                number: row.number.unsigned_abs(),
                at: row.at,
                answer: row.answer,
                findings: serde_json::from_str::<Vec<Finding>>(&row.findings)?,
                review: reviews.remove(&row.number),
            })
        })
        .collect()
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = review, check_for_backend(diesel::pg::Pg))]
struct ReviewRow {
    id: Uuid,
    submission_number: i32,
    reviewer_id: Uuid,
    verdict: String,
    summary: String,
    own_review: bool,
    at: DateTime<Utc>,
}

async fn reviews(tx: &mut Tx<'_>, id: BatchId) -> Result<HashMap<i32, Review>> {
    let rows: Vec<ReviewRow> = review::table
        .filter(review::batch_id.eq(id.0))
        .select(ReviewRow::as_select())
        .load(tx.conn())
        .await?;
    let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
    let comments: Vec<(Uuid, Option<Uuid>, String)> = review_comment::table
        .filter(review_comment::review_id.eq_any(&ids))
        .order((review_comment::review_id, review_comment::position))
        .select((review_comment::review_id, review_comment::entry_id, review_comment::text))
        .load(tx.conn())
        .await?;
    rows.into_iter()
        .map(|row| {
            let review = Review {
                id: ReviewId(row.id),
                reviewer: PersonId(row.reviewer_id),
                verdict: word(&row.verdict)?,
                summary: row.summary,
                comments: comments
                    .iter()
                    .filter(|(of, ..)| *of == row.id)
                    .map(|(_, entry, text)| ReviewComment { entry: entry.map(EntryId), text: text.clone() })
                    .collect(),
                at: row.at,
                note: row.own_review.then(|| "reviewed by its maker".to_owned()),
            };
            Ok((row.submission_number, review))
        })
        .collect()
}

/// The only transitions there are.
fn may_become(from: BatchState, to: BatchState) -> bool {
    use BatchState as S;
    matches!(
        (from, to),
        (S::Planned, S::Making | S::Abandoned)
            | (S::Making, S::Submitted | S::Abandoned)
            | (S::Submitted, S::Accepted | S::Rejected | S::Returned)
            | (S::Returned, S::Submitted | S::Abandoned)
    )
}

/// Refuses an impossible transition before anything is done for it.
pub(super) fn check(from: BatchState, to: BatchState) -> Result<()> {
    if may_become(from, to) {
        return Ok(());
    }
    let wanted: Vec<&str> =
        BatchState::ALL.iter().filter(|state| may_become(**state, to)).map(|state| state.as_str()).collect();
    Err(Error::state(
        from,
        format!("this batch record is {from}; only one that is {} becomes {to}", wanted.join(" or ")),
    ))
}

/// Moves a locked batch to its next state.
pub(super) async fn advance(tx: &mut Tx<'_>, row: &BatchRow, to: BatchState) -> Result<()> {
    check(row.state()?, to)?;
    diesel::update(batch::table.find(row.id))
        .set((batch::state.eq(to.as_str()), batch::version.eq(batch::version + 1)))
        .execute(tx.conn())
        .await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_decided_stays_decided() {
        for end in [BatchState::Accepted, BatchState::Rejected, BatchState::Abandoned] {
            for to in BatchState::ALL {
                assert!(check(end, *to).is_err());
            }
        }
        assert!(check(BatchState::Planned, BatchState::Submitted).is_err());
    }
}
