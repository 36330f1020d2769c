//! The review of a batch record. Of one that was handed in for an assignment it settles and marks that work too: one review,
//! not two, and the mark is released with the verdict.

use bench::shown;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::lock;
use recipes::RecipeCache;
use release::Released;
use schema::handed_work;
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::bench::{BatchRecord, NewReview, ReviewComment, Verdict};
use wire::ids::BatchId;
use wire::teaching::SubmissionState;

use crate::handed::{self, Handed};
use crate::kept::HANDED_WORK;
use crate::{claims, marks, moderation, seat, versions};

/// The permitted transitions.
const fn may_become(from: SubmissionState, to: SubmissionState) -> bool {
    use SubmissionState as S;
    matches!((from, to), (S::Submitted, S::Returned | S::Accepted | S::Rejected))
}

/// Reviews a submitted batch record.
///
/// # Errors
/// As [`bench::review`]; of a record that was handed in for an assignment, returns [`Error::Forbidden`] unless the caller
/// is an instructor or marker of its cohort, for its maker, and for a declared relation; [`Error::State`] unless the caller
/// holds a claim on it, or if it was returned as often as the assignment allows; and [`Error::Invalid`] for each fault of
/// the mark.
pub async fn review(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewReview,
) -> Result<Released<BatchRecord>> {
    store
        .create_then_show(
            credentials,
            once,
            async |tx| {
                if let Some(found) = handed::waiting(tx, id).await? {
                    lock(tx, found.locks()).await?;
                    // What was settled before this held it is no more to be settled.
                    if let Some(handed) = handed::waiting(tx, id).await? {
                        // On the heap: it holds the whole review.
                        return Box::pin(of_work(tx, cache, &handed, request)).await;
                    }
                }
                if request.mark.is_some() {
                    let cure = "This record was not handed in for an assignment. Omit the field.";
                    return Err(Error::field("/mark", cure));
                }
                let review = bench::review(tx, cache, id, request).await?;
                // Handed in before this held the record, and after it was looked for.
                if handed::waiting(tx, id).await?.is_some() {
                    return Err(Error::Contended("the record was handed in for an assignment".into()));
                }
                Ok(review.0)
            },
            async |tx, _| shown(tx, cache, id).await,
        )
        .await
}

/// Reviews the record of work that the caller holds locked, and marks it.
async fn of_work(tx: &mut Tx<'_>, cache: &RecipeCache, handed: &Handed, request: &NewReview) -> Result<Uuid> {
    match seat::member(tx, handed.cohort()).await {
        Ok(_) => seat::assessor(tx, handed.cohort()).await?,
        Err(_) => {
            return Err(Error::Forbidden(
                "This record was handed in for an assignment. Only the cohort's instructors and markers may review it."
                    .into(),
            ));
        }
    }
    handed::may_mark(tx, handed).await?;
    claims::require(tx, handed).await?;
    let rubric = handed.rubric(tx).await?;
    let decided = marks::with_verdict(&rubric, request.verdict, request.mark.as_ref())?;
    // What is said beside a criterion is free text about the record, and stands with its comments.
    let beside = decided.iter().flatten().filter_map(|one| one.comment.clone());
    let mut whole = request.clone();
    whole.comments.extend(beside.map(|text| ReviewComment { entry: None, text }));
    let review = bench::review(tx, cache, handed.batch(), &whole).await?;
    if let Some(decided) = decided {
        let mark = marks::put_with_review(tx, handed, (review, request.comments.len()), &decided).await?;
        moderation::draw(tx, handed, mark).await?;
    }
    settle(tx, handed, request.verdict).await?;
    claims::end(tx, handed).await?;
    Ok(review.0)
}

/// Settles work with the verdict on its record. The caller holds the work.
async fn settle(tx: &mut Tx<'_>, of: &Handed, verdict: Verdict) -> Result<()> {
    let (from, to) = (of.state()?, state_after(verdict));
    if !may_become(from, to) {
        return Err(Error::state(from, format!("This work is {from} and cannot become {to}.")));
    }
    if to == SubmissionState::Returned {
        let row = versions::row(tx, of.assignment()).await?;
        let allowed = i32::from(versions::in_force(tx, &row).await?.returns_allowed);
        if of.number > allowed {
            let detail = format!(
                "The assignment allows {allowed} returns, and this work is version {}. Accept or reject it.",
                of.number
            );
            return Err(Error::state("no_return_left", detail));
        }
    }
    diesel::update(handed_work::table.find(of.id))
        .set(handed_work::state.eq(to.as_str()))
        .execute(tx.conn())
        .await?;
    tx.record(
        NewEvent::new("assignment_work", of.work, to.as_str())
            .detail(json!({ "handed": of.id, "number": of.number }))
            .keeps(&HANDED_WORK, [of.id]),
    );
    Ok(())
}

const fn state_after(verdict: Verdict) -> SubmissionState {
    match verdict {
        Verdict::Return => SubmissionState::Returned,
        Verdict::Accept => SubmissionState::Accepted,
        Verdict::Reject => SubmissionState::Rejected,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_is_settled_once() {
        for from in SubmissionState::ALL {
            for to in SubmissionState::ALL {
                let permitted = *from == SubmissionState::Submitted && *to != SubmissionState::Submitted;
                assert_eq!(may_become(*from, *to), permitted, "{from} to {to}");
            }
        }
    }
}
