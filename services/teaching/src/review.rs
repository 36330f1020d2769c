//! The review of a batch record. Of one that was handed in for an assignment it settles that work too: one review, not two.

use bench::shown;
use diesel::prelude::*;
use diesel::sql_types::{Integer, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use recipes::RecipeCache;
use release::Released;
use schema::handed_work;
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use uuid::Uuid;
use wire::bench::{BatchRecord, NewReview, Verdict};
use wire::ids::{AssignmentId, BatchId, CohortId};
use wire::teaching::SubmissionState;

use crate::kept::HANDED_WORK;
use crate::{seat, versions};

/// The permitted transitions.
const fn may_become(from: SubmissionState, to: SubmissionState) -> bool {
    use SubmissionState as S;
    matches!((from, to), (S::Submitted, S::Returned | S::Accepted | S::Rejected))
}

/// Reviews a submitted batch record.
///
/// # Errors
/// As [`bench::review`]; of a record that was handed in for an assignment, returns [`Error::Forbidden`] unless the caller
/// is an instructor or marker of its cohort, and [`Error::State`] if it was returned as often as the assignment allows.
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
                let handed = handed_in(tx, id).await?;
                if let Some(handed) = &handed {
                    let locks = Locks::new()
                        .cohort(CohortId(handed.cohort), Mode::Shared)
                        .assignment(AssignmentId(handed.assignment), Mode::Shared)
                        .work(handed.work);
                    lock(tx, locks).await?;
                }
                let review = bench::review(tx, cache, id, request).await?;
                match handed {
                    Some(handed) => settle(tx, &handed, request.verdict).await?,
                    // Handed in before this held the record, and after it was looked for.
                    None if handed_in(tx, id).await?.is_some() => {
                        return Err(Error::Contended("the record was handed in for an assignment".into()));
                    }
                    None => {}
                }
                Ok(review.0)
            },
            async |tx, _| shown(tx, cache, id).await,
        )
        .await
}

/// Work that waits to be marked.
#[derive(QueryableByName)]
struct Handed {
    #[diesel(sql_type = SqlUuid)]
    handed: Uuid,
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = SqlUuid)]
    work: Uuid,
    #[diesel(sql_type = SqlUuid)]
    assignment: Uuid,
    #[diesel(sql_type = SqlUuid)]
    cohort: Uuid,
}

/// The work that the last submission of a batch record was handed in as, where it waits.
async fn handed_in(tx: &mut Tx<'_>, id: BatchId) -> Result<Option<Handed>> {
    let found = diesel::sql_query(
        "SELECT s.id AS handed, s.number, s.work_id AS work, a.id AS assignment, a.cohort_id AS cohort
         FROM batch b JOIN handed_work s ON s.batch_id = b.id AND s.submission_number = b.last_submission
         JOIN assignment a ON a.id = s.assignment_id
         WHERE b.id = $1 AND s.state = 'submitted'",
    )
    .bind::<SqlUuid, _>(id.0)
    .get_result(tx.conn())
    .await
    .optional()?;
    Ok(found)
}

/// Settles work with the verdict on its record. The caller holds the work.
async fn settle(tx: &mut Tx<'_>, of: &Handed, verdict: Verdict) -> Result<()> {
    let cohort = CohortId(of.cohort);
    match seat::member(tx, cohort).await {
        Ok(_) => seat::assessor(tx, cohort).await?,
        Err(_) => {
            return Err(Error::Forbidden(
                "This record was handed in for an assignment. Only the cohort's instructors and markers may review it."
                    .into(),
            ));
        }
    }
    let state: String =
        handed_work::table.find(of.handed).select(handed_work::state).first(tx.conn()).await?;
    let (from, to): (SubmissionState, _) = (word(&state)?, state_after(verdict));
    if !may_become(from, to) {
        return Err(Error::state(from, format!("This work is {from} and cannot become {to}.")));
    }
    if to == SubmissionState::Returned {
        let row = versions::row(tx, AssignmentId(of.assignment)).await?;
        let allowed = i32::from(versions::in_force(tx, &row).await?.returns_allowed);
        if of.number > allowed {
            let detail = format!(
                "The assignment allows {allowed} returns, and this work is version {}. Accept or reject it.",
                of.number
            );
            return Err(Error::state("no_return_left", detail));
        }
    }
    diesel::update(handed_work::table.find(of.handed))
        .set(handed_work::state.eq(to.as_str()))
        .execute(tx.conn())
        .await?;
    tx.record(
        NewEvent::new("assignment_work", of.work, to.as_str())
            .detail(json!({ "handed": of.handed, "number": of.number }))
            .keeps(&HANDED_WORK, [of.handed]),
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
