//! Reviewing a submitted batch record: returned with comments, accepted or rejected, never by its maker.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{batch_entry, review as reviews, review_comment};
use serde_json::json;
use store::{Claim, Error, NewEvent, Once, Result, Store, Tx};
use uuid::Uuid;
use wire::bench::{BatchRecord, BatchState, NewReview, Verdict};
use wire::ids::BatchId;
use wire::problem::FieldError;

use super::{batches, store};
use policy;
use crate::safety::Released;

/// Reviews a submitted batch record.
///
/// # Errors
/// When the caller is not an instructor of the library with an open door to the revision, is its maker, or the
/// record is not submitted.
pub async fn review(
    store: &Store,
    claim: &Claim,
    once: &Once,
    id: BatchId,
    request: &NewReview,
) -> Result<Released<BatchRecord>> {
    store
        .create(
            claim,
            once,
            async |tx| {
                let row = store::find(tx, id, true).await?;
                batches::may_read(tx, &row).await?;
                let me = tx.instructor()?;
                let own = me.id.0 == row.maker_id;
                if own && policy::rules(tx).await?.second_person {
                    return Err(Error::Forbidden(
                        "nobody reviews their own batch: ask another instructor".into(),
                    ));
                }
                let to = match request.verdict {
                    Verdict::Return => BatchState::Returned,
                    Verdict::Accept => BatchState::Accepted,
                    Verdict::Reject => BatchState::Rejected,
                };
                store::check(row.state()?, to)?;
                acceptable(tx, id, request).await?;
                let review_id = tx.new_id();
                let now = tx.now;
                diesel::insert_into(reviews::table)
                    .values((
                        reviews::id.eq(review_id),
                        reviews::batch_id.eq(row.id),
                        reviews::submission_number.eq(row.last_submission),
                        reviews::maker_id.eq(row.maker_id),
                        reviews::reviewer_id.eq(me.id.0),
                        reviews::verdict.eq(request.verdict.as_str()),
                        reviews::summary.eq(request.summary.trim()),
                        reviews::own_review.eq(own),
                        reviews::at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await?;
                comments(tx, review_id, request).await?;
                store::advance(tx, &row, to).await?;
                let mut detail = json!({ "review": review_id });
                if own {
                    detail = json!({ "review": review_id, "note": "reviewed by its maker" });
                }
                tx.record(NewEvent::new("batch", row.id, to.as_str()).detail(detail));
                Ok(review_id)
            },
            async |tx, _| batches::record(tx, id).await,
        )
        .await
}

async fn acceptable(tx: &mut Tx<'_>, id: BatchId, request: &NewReview) -> Result<()> {
    let mut errors = Vec::new();
    if !(1..=4000).contains(&request.summary.trim().chars().count()) {
        errors.push(FieldError::new("/summary", "1 to 4000 characters"));
    }
    if request.comments.len() > 200 {
        errors.push(FieldError::new("/comments", "up to 200 comments"));
    }
    let known: Vec<Uuid> = batch_entry::table
        .filter(batch_entry::batch_id.eq(id.0))
        .select(batch_entry::id)
        .load(tx.conn())
        .await?;
    for (i, comment) in request.comments.iter().enumerate() {
        if !(1..=4000).contains(&comment.text.trim().chars().count()) {
            errors.push(FieldError::new(format!("/comments/{i}/text"), "1 to 4000 characters"));
        }
        if comment.entry.is_some_and(|entry| !known.contains(&entry.0)) {
            errors
                .push(FieldError::new(format!("/comments/{i}/entry"), "this batch record has no such entry"));
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

async fn comments(tx: &mut Tx<'_>, review_id: Uuid, request: &NewReview) -> Result<()> {
    for (position, comment) in (1_i16..).zip(&request.comments) {
        diesel::insert_into(review_comment::table)
            .values((
                review_comment::review_id.eq(review_id),
                review_comment::position.eq(position),
                review_comment::entry_id.eq(comment.entry.map(|entry| entry.0)),
                review_comment::text.eq(comment.text.trim()),
            ))
            .execute(tx.conn())
            .await?;
    }
    Ok(())
}
