//! Answering a question. An answer is written once and never changed.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::{assignment_work, question, question_answer};
use serde_json::Value;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, QuestionId};
use wire::teaching::{NewAnswer, Question, QuestionState};

use crate::kept::{ANSWER, QUESTION, WORK};
use crate::stored::{self, Answered, Found};
use crate::{judged, record, seat, versions, work};

/// Answers one of the caller's questions. Its answer is final once it is right or every attempt is used; the question then
/// tells how it is worked out. With the last one the assignment lets go of the recipes of its formulas.
///
/// # Errors
/// Returns [`Error::NotFound`] if the question is not the caller's, or the caller has left the cohort; [`Error::State`] if it
/// is answered; and [`Error::Invalid`] for an answer that cannot be judged, such as one without its unit, which is no
/// attempt.
pub async fn answer(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: QuestionId,
    request: &NewAnswer,
) -> Result<Question> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let of = own(tx, id).await?;
                let (cohort, _) = seat::of_assignment(tx, of.assignment).await.map_err(hidden)?;
                // Whoever leaves the cohort, withdraws the assignment or answers the same work waits, or was first.
                let locks = Locks::new()
                    .cohort(cohort, Mode::Shared)
                    .assignment(of.assignment, Mode::Shared)
                    .work(of.work);
                lock(tx, locks).await?;
                let row = work::student_of(tx, of.assignment).await.map_err(hidden)?;
                give(tx, &of, &row, id, request).await
            },
            async |tx, _| {
                let of = own(tx, id).await?;
                seat::of_assignment(tx, of.assignment).await.map_err(hidden)?;
                let me = tx.person()?.id;
                work::one(tx, of.assignment, me, id).await
            },
        )
        .await
}

fn hidden(error: Error) -> Error {
    match error {
        Error::NotFound(_) => Error::NotFound("question"),
        other => other,
    }
}

/// Which work a question of the caller belongs to.
struct Own {
    work: Uuid,
    assignment: AssignmentId,
}

async fn own(tx: &mut Tx<'_>, id: QuestionId) -> Result<Own> {
    let me = tx.person()?.id;
    let of: Option<(Uuid, Uuid)> = question::table
        .find(id.0)
        .select((question::work_id, question::assignment_id))
        .first(tx.conn())
        .await
        .optional()?;
    let (work, assignment) = of.ok_or(Error::NotFound("question"))?;
    let whose: Uuid =
        assignment_work::table.find(work).select(assignment_work::person_id).first(tx.conn()).await?;
    if whose != me.0 {
        return Err(Error::NotFound("question"));
    }
    Ok(Own { work, assignment: AssignmentId(assignment) })
}

async fn give(
    tx: &mut Tx<'_>,
    of: &Own,
    row: &versions::Row,
    id: QuestionId,
    request: &NewAnswer,
) -> Result<Uuid> {
    let (asked, state, used): (Value, String, i16) = question::table
        .find(id.0)
        .select((question::asked, question::state, question::attempts))
        .first(tx.conn())
        .await?;
    let state: QuestionState = word(&state)?;
    if state == QuestionState::Answered {
        return Err(Error::state(state, "This question has its final answer. Read the steps in `worked`."));
    }
    let asked: stored::Question = serde_json::from_value(asked)?;
    let found = judged::found(&asked, request)?;
    let version = versions::in_force(tx, row).await?;
    let me = tx.person()?.id;
    let (_, times, _) = record::dates(tx, row, &version, me).await?;
    let (answer, now, used) = (tx.new_id(), tx.now(), used + 1);
    let right = found.iter().all(|part| part.right);
    diesel::insert_into(question_answer::table)
        .values((
            question_answer::id.eq(answer),
            question_answer::question_id.eq(id.0),
            question_answer::number.eq(i32::from(used)),
            question_answer::answers
                .eq(serde_json::to_value(request.answers.iter().map(Answered::of).collect::<Vec<_>>())?),
            question_answer::found.eq(serde_json::to_value(found.iter().map(Found::of).collect::<Vec<_>>())?),
            question_answer::is_right.eq(right),
            question_answer::late.eq(now > times.due),
            question_answer::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    let is_final = right || used >= version.attempts;
    let state = if is_final { QuestionState::Answered } else { QuestionState::Open };
    diesel::update(question::table.find(id.0))
        .set((
            question::attempts.eq(used),
            question::state.eq(state.as_str()),
            question::answered_at.eq(is_final.then_some(now)),
        ))
        .execute(tx.conn())
        .await?;
    if is_final {
        done(tx, of.work).await?;
    }
    tx.record(
        NewEvent::new("assignment_work", of.work, "answered")
            .detail(serde_json::json!({ "question": id, "number": used }))
            .keeps(&ANSWER, [answer])
            .keeps(&QUESTION, [id.0])
            .keeps(&WORK, [of.work]),
    );
    Ok(answer)
}

/// With the last question that is answered, the student's work is done.
async fn done(tx: &mut Tx<'_>, work: Uuid) -> Result<()> {
    let open = question::table
        .filter(question::work_id.eq(work))
        .filter(question::state.eq(QuestionState::Open.as_str()));
    if diesel::select(diesel::dsl::exists(open)).get_result::<bool>(tx.conn()).await? {
        return Ok(());
    }
    let now = tx.now();
    diesel::update(assignment_work::table.find(work))
        .set(assignment_work::done_at.eq(now))
        .execute(tx.conn())
        .await?;
    Ok(())
}
