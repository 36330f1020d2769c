//! A student's work on an assignment: beginning it, which draws the student's questions, and reading them.

use std::collections::HashMap;

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use recipes::RecipeCache;
use schema::{assignment_work, question, question_answer};
use serde_json::Value;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use uuid::Uuid;
use wire::ids::{AnswerId, AssignmentId, PersonId, QuestionId};
use wire::teaching::{
    BankQuestion, CohortRole, GivenAnswer, Question, QuestionKind, QuestionState, StudentQuestions,
};

use crate::kept::{QUESTION, WORK};
use crate::numbers::Draw;
use crate::questions::{put, source};
use crate::{bank, blind, cohorts, seat, stored, versions};

/// Draws the caller's questions of an assignment. Beginning again changes nothing.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member of the cohort, [`Error::Forbidden`] unless a student, and
/// [`Error::State`] if the assignment has not opened, or the formula is in a library that the student is no member of.
pub async fn begin(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AssignmentId,
) -> Result<StudentQuestions> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let me = tx.person()?.id;
                let (cohort, _) = seat::of_assignment(tx, id).await?;
                // Alone, so that no two students draw the same numbers.
                let locks = Locks::new().cohort(cohort, Mode::Shared).assignment(id, Mode::Exclusive);
                lock(tx, locks).await?;
                let row = student_of(tx, id).await?;
                match found(tx, id, me).await? {
                    Some(work) => Ok(work),
                    None => draw(tx, cache, &row, me).await,
                }
            },
            async |tx, _| {
                let me = tx.person()?.id;
                seat::of_assignment(tx, id).await?;
                shown(tx, id, me).await
            },
        )
        .await
}

/// The assignment, if the caller is a student of its cohort and it is published.
///
/// # Errors
/// Returns [`Error::NotFound`], or [`Error::Forbidden`] for those who see it and are no students.
pub(crate) async fn student_of(tx: &mut Tx<'_>, id: AssignmentId) -> Result<versions::Row> {
    let (_, role) = seat::of_assignment(tx, id).await?;
    if role != CohortRole::Student {
        return Err(Error::Forbidden("Only students of the cohort answer its questions.".into()));
    }
    versions::row(tx, id).await
}

/// A student's work on an assignment, if it was begun.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn found(tx: &mut Tx<'_>, id: AssignmentId, of: PersonId) -> Result<Option<Uuid>> {
    let found = assignment_work::table
        .filter(assignment_work::assignment_id.eq(id.0))
        .filter(assignment_work::person_id.eq(of.0))
        .select(assignment_work::id)
        .first(tx.conn())
        .await
        .optional()?;
    Ok(found)
}

/// The caller's work. Of an assignment without questions it begins by itself.
///
/// # Errors
/// Returns [`Error::State`] while there are questions that the caller has not begun.
pub(crate) async fn begun(tx: &mut Tx<'_>, row: &versions::Row) -> Result<Uuid> {
    let (id, me) = (AssignmentId(row.id), tx.person()?.id);
    if let Some(work) = found(tx, id, me).await? {
        return Ok(work);
    }
    if !versions::questions(tx, row).await?.is_empty() {
        return Err(Error::state(
            "not_begun",
            "This assignment has questions. Begin and answer them, then hand your work in.",
        ));
    }
    let (work, now) = (tx.new_id(), tx.now());
    // Two requests at once: the second waits for the first and finds its row.
    let inserted = diesel::insert_into(assignment_work::table)
        .values((
            assignment_work::id.eq(work),
            assignment_work::assignment_id.eq(row.id),
            assignment_work::person_id.eq(me.0),
            assignment_work::begun_at.eq(now),
        ))
        .on_conflict_do_nothing()
        .execute(tx.conn())
        .await?;
    if inserted == 1 {
        let event = NewEvent::new("assignment_work", work, "begun").keeps(&WORK, [work]);
        let event = blind::begin(tx, row, (work, me), event).await?;
        tx.record(event);
        return Ok(work);
    }
    found(tx, id, me).await?.ok_or_else(|| Error::internal("work that was begun and is not there"))
}

async fn draw(tx: &mut Tx<'_>, cache: &RecipeCache, row: &versions::Row, me: PersonId) -> Result<Uuid> {
    let version = versions::in_force(tx, row).await?;
    let now = tx.now();
    if now < version.opens_at {
        let opens = crate::local::shown(version.opens_at, cohorts::class(tx, row.cohort()).await?.zone);
        return Err(Error::state(
            "upcoming",
            format!("This assignment opens at {}. Come back then.", opens.local),
        ));
    }
    let asked = versions::questions(tx, row).await?;
    let formulas = versions::formulas(tx, row).await?;
    let (first, _) =
        formulas.as_slice().first().ok_or_else(|| Error::internal("an assignment without formula"))?;
    let zone = cohorts::class(tx, row.cohort()).await?.zone;
    // The day of making is the student's own too: one of the four weeks from the opening on.
    let days = Draw::new(&row.secret, me.0, 0, 0)?.of(0, 27, 1);
    let made_on = version.opens_at.with_timezone(&zone).date_naive() + Duration::days(days.into());
    let kinds: Vec<QuestionKind> = asked.iter().map(|question| question.kind).collect();
    let source = source::read(tx, cache, *first, &kinds, made_on).await?;
    let taken = taken(tx, row.id).await?;
    let work = tx.new_id();
    diesel::insert_into(assignment_work::table)
        .values((
            assignment_work::id.eq(work),
            assignment_work::assignment_id.eq(row.id),
            assignment_work::person_id.eq(me.0),
            assignment_work::begun_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    let event = NewEvent::new("assignment_work", work, "begun").keeps(&WORK, [work]);
    let mut event = blind::begin(tx, row, (work, me), event).await?;
    let mut rows = Vec::with_capacity(asked.len());
    for (position, question) in (1_i16..).zip(&asked) {
        if let Some(cure) = source.cannot_ask(question.kind) {
            return Err(Error::state("not_to_be_asked", format!("{cure} Tell your instructor.")));
        }
        let of_bank: Option<BankQuestion> = match question.bank_question {
            Some(id) => Some(bank::one(tx, id).await?),
            None => None,
        };
        let whose = (&row.secret[..], me.0, position);
        let known = taken.get(&position).map(Vec::as_slice).unwrap_or_default();
        let put = put(question.kind, &source, of_bank.as_ref(), whose, known)?;
        let id = tx.new_id();
        rows.push((
            question::id.eq(id),
            question::work_id.eq(work),
            question::assignment_id.eq(row.id),
            question::position.eq(position),
            question::kind.eq(question.kind.as_str()),
            question::asked.eq(serde_json::to_value(&put.question)?),
            question::numbers.eq(put.numbers.map(|numbers| numbers.to_vec())),
            question::state.eq(QuestionState::Open.as_str()),
            question::attempts.eq(0_i16),
        ));
        event = event.keeps(&QUESTION, [id]);
    }
    diesel::insert_into(question::table).values(rows).execute(tx.conn()).await?;
    tx.record(event);
    Ok(work)
}

/// What names the numbers that students of an assignment have, by place.
async fn taken(tx: &mut Tx<'_>, assignment: Uuid) -> Result<HashMap<i16, Vec<Vec<u8>>>> {
    let rows: Vec<(i16, Option<Vec<u8>>)> = question::table
        .filter(question::assignment_id.eq(assignment))
        .select((question::position, question::numbers))
        .load(tx.conn())
        .await?;
    let mut taken: HashMap<i16, Vec<Vec<u8>>> = HashMap::new();
    for (position, numbers) in rows {
        taken.entry(position).or_default().extend(numbers);
    }
    Ok(taken)
}

/// The caller's own questions of an assignment.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member of the cohort, and [`Error::State`] if the caller has not begun.
pub async fn questions_own(
    store: &Store,
    credentials: &Credentials,
    id: AssignmentId,
) -> Result<StudentQuestions> {
    store
        .read(credentials, async |tx| {
            student_of(tx, id).await?;
            let me = tx.person()?.id;
            shown(tx, id, me).await
        })
        .await
}

/// A student's questions of an assignment, for instructors and markers of the cohort.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, or if the student has not begun; [`Error::Forbidden`] for
/// students.
pub async fn questions_of(
    store: &Store,
    credentials: &Credentials,
    id: AssignmentId,
    of: PersonId,
) -> Result<StudentQuestions> {
    store
        .read(credentials, async |tx| {
            let (cohort, _) = seat::of_assignment(tx, id).await?;
            seat::assessor(tx, cohort).await?;
            match shown(tx, id, of).await {
                Err(Error::State { .. }) => Err(Error::NotFound("student's work")),
                other => other,
            }
        })
        .await
}

#[derive(QueryableByName)]
struct Opened {
    #[diesel(sql_type = Bool)]
    before: bool,
}

/// Whether a student had opened the recipe of one of the formulas before every question was answered. While an assignment
/// holds the recipe, nobody opens it; so whoever did had done so before it opened, or before they joined.
async fn opened_before(tx: &mut Tx<'_>, assignment: AssignmentId, of: PersonId) -> Result<bool> {
    let row: Opened = diesel::sql_query(format!("SELECT {} AS before", opened_before_sql("$1", "$2")))
        .bind::<SqlUuid, _>(assignment.0)
        .bind::<SqlUuid, _>(of.0)
        .get_result(tx.conn())
        .await?;
    Ok(row.before)
}

/// The condition of [`opened_before`], for an assignment and a person named in SQL.
pub(crate) fn opened_before_sql(assignment: &str, person: &str) -> String {
    format!(
        "EXISTS (SELECT FROM assignment oa
            JOIN assignment_formula f ON f.assignment_id = oa.id AND f.version_number = oa.current_version
            JOIN revision r ON r.formula_id = f.formula_id
            JOIN acknowledgement k ON k.revision_id = r.id AND k.holder_id = {person} AND k.purpose = 'make'
            LEFT JOIN countersignature c ON c.acknowledgement_id = k.id
            LEFT JOIN assignment_work w ON w.assignment_id = oa.id AND w.person_id = {person}
            WHERE oa.id = {assignment} AND (c.at IS NOT NULL OR NOT k.countersign)
              AND (w.done_at IS NULL OR coalesce(c.at, k.at) < w.done_at))"
    )
}

type Asked = (Uuid, i16, String, Value, String, i16);
type Answer = (Uuid, Uuid, i32, Value, Value, bool, bool, DateTime<Utc>);

/// A student's questions. Seven statements, however many there are.
async fn shown(tx: &mut Tx<'_>, id: AssignmentId, of: PersonId) -> Result<StudentQuestions> {
    let work: Option<(Uuid, DateTime<Utc>)> = assignment_work::table
        .filter(assignment_work::assignment_id.eq(id.0))
        .filter(assignment_work::person_id.eq(of.0))
        .select((assignment_work::id, assignment_work::begun_at))
        .first(tx.conn())
        .await
        .optional()?;
    let Some((work, begun_at)) = work else {
        return Err(Error::state(
            "not_begun",
            "You have not begun this assignment. Send POST to the same address.",
        ));
    };
    let row = versions::row(tx, id).await?;
    let attempts = versions::in_force(tx, &row).await?.attempts;
    let asked: Vec<Asked> = question::table
        .filter(question::work_id.eq(work))
        .order(question::position)
        .select((
            question::id,
            question::position,
            question::kind,
            question::asked,
            question::state,
            question::attempts,
        ))
        .load(tx.conn())
        .await?;
    let ids: Vec<Uuid> = asked.iter().map(|row| row.0).collect();
    let answers: Vec<Answer> = question_answer::table
        .filter(question_answer::question_id.eq_any(ids))
        .order((question_answer::question_id, question_answer::number))
        .select((
            question_answer::id,
            question_answer::question_id,
            question_answer::number,
            question_answer::answers,
            question_answer::found,
            question_answer::is_right,
            question_answer::late,
            question_answer::at,
        ))
        .load(tx.conn())
        .await?;
    let mut given: HashMap<Uuid, Vec<GivenAnswer>> = HashMap::new();
    for answer in answers {
        given.entry(answer.1).or_default().push(answer_shown(answer)?);
    }
    let questions = asked
        .into_iter()
        .map(|row| {
            let answers = given.remove(&row.0).unwrap_or_default();
            question_shown(id, row, answers, attempts)
        })
        .collect::<Result<_>>()?;
    let recipe_opened_before = opened_before(tx, id, of).await?;
    Ok(StudentQuestions { assignment: id, person: of, begun_at, recipe_opened_before, questions })
}

/// One question of a student, for whoever has just answered it.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn one(
    tx: &mut Tx<'_>,
    id: AssignmentId,
    of: PersonId,
    wanted: QuestionId,
) -> Result<Question> {
    let all = shown(tx, id, of).await?.questions;
    all.into_iter().find(|question| question.id == wanted).ok_or(Error::NotFound("question"))
}

fn answer_shown((id, _, number, answers, found, right, late, at): Answer) -> Result<GivenAnswer> {
    let answers: Vec<stored::Answered> = serde_json::from_value(answers)?;
    let found: Vec<stored::Found> = serde_json::from_value(found)?;
    Ok(GivenAnswer {
        id: AnswerId(id),
        number,
        at,
        late,
        right,
        answers: answers.into_iter().map(stored::Answered::turn).collect(),
        found: found.into_iter().map(stored::Found::turn).collect(),
    })
}

fn question_shown(
    assignment: AssignmentId,
    (id, position, kind, asked, state, used): Asked,
    answers: Vec<GivenAnswer>,
    attempts: i16,
) -> Result<Question> {
    let asked: stored::Question = serde_json::from_value(asked)?;
    let state: QuestionState = word(&state)?;
    let small = |value: i16| u8::try_from(value).map_err(|error| Error::Internal(error.into()));
    Ok(Question {
        id: QuestionId(id),
        assignment,
        position,
        kind: word(&kind)?,
        given: asked.given(),
        parts: asked.parts(),
        // Shown once the answer is final, and not before.
        worked: (state == QuestionState::Answered).then(|| asked.worked()),
        text: asked.text,
        state,
        attempts_allowed: small(attempts)?,
        attempts_used: small(used)?,
        answers,
    })
}
