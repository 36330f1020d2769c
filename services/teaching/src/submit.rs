//! Handing work in: a batch record is submitted for an assignment and frozen with its reflection and its rubric.

use bench::{Frozen, frozen, hand_in};
use canonical::Salt;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Integer, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use recipes::RecipeCache;
use schema::{batch, handed_work, revision, work_batch};
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, BatchId, PersonId, WorkSubmissionId};
use wire::problem::FieldError;
use wire::teaching::{NewWorkSubmission, SubmissionState, WorkSubmission};

use crate::kept::{HANDED_WORK, WORK_BATCH};
use crate::stands::{Own, Times};
use crate::{cohorts, local, notes, precision, record, reflection, seat, versions, work};

/// Hands work in. `received` is when the request came in: it counts against the dates, however long the request waits for
/// others, and however often it is tried again.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member of the cohort, [`Error::Forbidden`] unless a student,
/// [`Error::State`] if the assignment takes no work of the student at that time, and [`Error::Invalid`] for a batch that
/// cannot count for it. Otherwise as the submission of a batch record.
pub async fn submit(
    store: &Store,
    cache: &RecipeCache,
    (credentials, once): (&Credentials, &IdempotencyKey),
    received: DateTime<Utc>,
    id: AssignmentId,
    request: &NewWorkSubmission,
) -> Result<WorkSubmission> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let (cohort, _) = seat::of_assignment(tx, id).await?;
                // Shared, so that a class hands in together; dates and rubric stay as they are meanwhile.
                lock(tx, Locks::new().cohort(cohort, Mode::Shared).assignment(id, Mode::Shared)).await?;
                let row = work::student_of(tx, id).await?;
                let work = work::begun(tx, &row).await?;
                lock(tx, Locks::new().work(work)).await?;
                hand(tx, cache, (&row, work), received, request).await
            },
            async |tx, made| record::submission(tx, WorkSubmissionId(made)).await,
        )
        .await
}

async fn hand(
    tx: &mut Tx<'_>,
    cache: &RecipeCache,
    (row, work): (&versions::Row, Uuid),
    received: DateTime<Utc>,
    request: &NewWorkSubmission,
) -> Result<Uuid> {
    let me = tx.person()?.id;
    let version = versions::in_force(tx, row).await?;
    let (own, times, open) = record::dates(tx, row, &version, me).await?;
    let late = taken(tx, row, (&own, &times), received).await?;
    if open > 0 {
        let detail =
            format!("Questions without a final answer: {open}. Answer them, then hand your work in.");
        return Err(Error::state("questions_open", detail));
    }
    counts(tx, row, (work, me), request.batch).await?;
    let draft = reflection::draft(tx, work).await?;
    let text = match &request.reflection {
        Some(text) => text.trim(),
        // What stands in the draft stays there, where the record was submitted with other words before.
        None if is_submitted(tx, request.batch).await? => "",
        None => draft.value.text.trim(),
    };
    let answer = Some(text).filter(|text| !text.is_empty());
    let handed = hand_in(tx, cache, request.batch, answer).await.map_err(in_our_words)?;
    if draft.version > 0 && (answer.is_some() || request.reflection.is_some()) {
        reflection::put(tx, work, draft.version, "").await?;
    }
    let of = Frozen { submission: handed.submission, last_entry: handed.record.row().last_entry };
    let salt: Salt = tx.rng.bytes();
    let with = json!({ "version": row.current_version, "rubric": version.rubric });
    let digest = frozen(tx, &handed.record, of, (&salt, &with)).await?;
    let number = own.submissions.unwrap_or_default() + 1;
    let (made, counted) = (tx.new_id(), work_batch::batch_id.eq(request.batch.0));
    diesel::insert_into(work_batch::table)
        .values((counted, work_batch::work_id.eq(work)))
        .on_conflict_do_nothing()
        .execute(tx.conn())
        .await?;
    diesel::insert_into(handed_work::table)
        .values((
            handed_work::id.eq(made),
            handed_work::work_id.eq(work),
            handed_work::number.eq(number),
            handed_work::batch_id.eq(request.batch.0),
            handed_work::submission_number.eq(of.submission),
            handed_work::last_entry.eq(of.last_entry),
            handed_work::assignment_id.eq(row.id),
            handed_work::version_number.eq(row.current_version),
            handed_work::allowance_id.eq(own.allowance),
            handed_work::received_at.eq(received),
            handed_work::late.eq(late),
            handed_work::salt.eq(&salt[..]),
            handed_work::digest.eq(&digest[..]),
            handed_work::state.eq(SubmissionState::Submitted.as_str()),
        ))
        .execute(tx.conn())
        .await?;
    let event = NewEvent::new("assignment_work", work, "submitted")
        .after(digest)
        .detail(json!({ "handed": made, "number": number, "batch": request.batch, "late": late }))
        .keeps(&HANDED_WORK, [made])
        .keeps(&WORK_BATCH, [request.batch.0]);
    // Under the assignment's secret, so that the digest of few figures tells nobody what they are.
    let trace = bench::trace(tx, &handed.record, &row.secret).await?;
    let event = notes::keep(tx, (made, AssignmentId(row.id)), &trace, event).await?;
    let closely = bench::precision(tx, cache, &handed.record).await?;
    let event = precision::keep(tx, made, &closely, event).await?;
    tx.record(event);
    Ok(made)
}

/// Whether work is taken of a student, and whether it is late. What comes again after a return is taken whenever it comes,
/// and is as late as its first version was.
async fn taken(
    tx: &mut Tx<'_>,
    row: &versions::Row,
    (own, times): (&Own, &Times),
    received: DateTime<Utc>,
) -> Result<bool> {
    match own.handed_in.as_deref().map(word).transpose()? {
        Some(SubmissionState::Returned) => return Ok(own.late.unwrap_or_default()),
        Some(SubmissionState::Submitted) => {
            let detail = "Your work was handed in and waits to be marked. Read it under your submissions.";
            return Err(Error::state(SubmissionState::Submitted, detail));
        }
        Some(state @ (SubmissionState::Accepted | SubmissionState::Rejected)) => {
            let detail = format!("Your work was {state}. Ask your instructor if you disagree.");
            return Err(Error::state(state, detail));
        }
        None => {}
    }
    let zone = cohorts::class(tx, row.cohort()).await?.zone;
    if received < times.opens {
        let opens = local::shown(times.opens, zone).local;
        let detail = format!("This assignment opens at {opens}. Hand your work in then.");
        return Err(Error::state("upcoming", detail));
    }
    if received > times.closes() {
        let (closed, came) = (local::shown(times.closes(), zone).local, local::shown(received, zone).local);
        let detail = format!(
            "This assignment took work until {closed}, and yours came at {came}. Ask your instructor for extra time."
        );
        return Err(Error::state("closed", detail));
    }
    Ok(received > times.due)
}

async fn is_submitted(tx: &mut Tx<'_>, id: BatchId) -> Result<bool> {
    let state: Option<String> =
        batch::table.find(id.0).select(batch::state).first(tx.conn()).await.optional()?;
    Ok(state.as_deref() == Some(wire::bench::BatchState::Submitted.as_str()))
}

#[derive(QueryableByName)]
struct Says {
    #[diesel(sql_type = diesel::sql_types::Bool)]
    holds: bool,
}

/// Refuses a batch of somebody else, of another formula, or that counts for other work.
async fn counts(
    tx: &mut Tx<'_>,
    row: &versions::Row,
    (work, me): (Uuid, PersonId),
    id: BatchId,
) -> Result<()> {
    let refuse = |cure: &str| Err(Error::Invalid(vec![FieldError::new("/batch", cure)]));
    let found: Option<(Uuid, Uuid)> = batch::table
        .inner_join(revision::table.on(revision::id.eq(batch::revision_id)))
        .filter(batch::id.eq(id.0))
        .select((batch::maker_id, revision::formula_id))
        .first(tx.conn())
        .await
        .optional()?;
    let Some((_, formula)) = found.filter(|(maker, _)| *maker == me.0) else {
        return refuse("You have no batch with this ID. Choose one of your own batches.");
    };
    let several: Says =
        diesel::sql_query("SELECT count(*) > 1 AS holds FROM maker_of_batch WHERE batch_id = $1")
            .bind::<SqlUuid, _>(id.0)
            .get_result(tx.conn())
            .await?;
    if several.holds {
        return refuse(
            "This batch was handed over, so several people made it. Open another batch for the assignment.",
        );
    }
    let assigned: Says = diesel::sql_query(
        "SELECT EXISTS (SELECT FROM assignment_formula
             WHERE assignment_id = $1 AND version_number = $2 AND formula_id = $3) AS holds",
    )
    .bind::<SqlUuid, _>(row.id)
    .bind::<Integer, _>(row.current_version)
    .bind::<SqlUuid, _>(formula)
    .get_result(tx.conn())
    .await?;
    if !assigned.holds {
        return refuse(
            "This batch is of a formula that is not assigned. Choose a batch of an assigned formula.",
        );
    }
    let other: Option<Uuid> =
        work_batch::table.find(id.0).select(work_batch::work_id).first(tx.conn()).await.optional()?;
    if other.is_some_and(|other| other != work) {
        return refuse("This batch counts for another assignment already. Choose another batch.");
    }
    Ok(())
}

/// A refusal of the bench, at the fields of this request.
fn in_our_words(error: Error) -> Error {
    match error {
        Error::Invalid(errors) => Error::Invalid(
            errors.into_iter().map(|error| FieldError::new("/reflection", error.detail)).collect(),
        ),
        Error::NotFound(_) => {
            Error::field("/batch", "This batch is not visible to you any more. Choose another batch.")
        }
        other => other,
    }
}
