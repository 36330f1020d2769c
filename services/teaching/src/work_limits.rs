//! What students tell the instructors of their cohort that they cannot work with: with their consent, in one sentence, until
//! they withdraw it, which removes the words. That something was told and withdrawn stays, and says nothing.

use diesel::prelude::*;
use diesel::sql_types::{Bool, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::{work_limit, work_limit_words};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, violates};
use uuid::Uuid;
use wire::ids::{CohortId, PersonId};
use wire::problem::FieldError;
use wire::teaching::{CohortRole, NewWorkLimit, WorkLimit, WorkLimits};

use crate::kept::WORK_LIMIT;
use crate::seat;

/// The most characters of a sentence.
const LONGEST: usize = 300;

/// Tells the instructors of a cohort what the caller cannot work with.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member of the cohort, [`Error::Forbidden`] unless a student,
/// [`Error::Conflict`] where the caller has told something and not withdrawn it, and [`Error::Invalid`] without consent and
/// for words that are no sentence.
pub async fn work_limit_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    cohort: CohortId,
    request: &NewWorkLimit,
) -> Result<WorkLimit> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                lock(tx, Locks::new().cohort(cohort, Mode::Shared)).await?;
                let me = student(tx, cohort).await?;
                let text = accepted(request)?;
                let (id, now) = (tx.new_id(), tx.now());
                diesel::insert_into(work_limit::table)
                    .values((
                        work_limit::id.eq(id),
                        work_limit::cohort_id.eq(cohort.0),
                        work_limit::person_id.eq(me.0),
                        work_limit::told_at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await
                    .map_err(|error| match violates(&error, "work_limit_one") {
                        true => Error::Conflict(
                            "You told your instructors already. Withdraw that sentence, then tell this one."
                                .into(),
                        ),
                        false => error.into(),
                    })?;
                diesel::insert_into(work_limit_words::table)
                    .values((work_limit_words::limit_id.eq(id), work_limit_words::text.eq(text)))
                    .execute(tx.conn())
                    .await?;
                tx.record(NewEvent::new("work_limit", id, "told").keeps(&WORK_LIMIT, [id]));
                Ok(id)
            },
            async |tx, _| {
                let me = student(tx, cohort).await?;
                let own = told(tx, cohort, Some(me)).await?.items.pop();
                own.ok_or_else(|| {
                    Error::Gone("You withdrew this sentence, and its words are removed.".into())
                })
            },
        )
        .await
}

async fn student(tx: &mut Tx<'_>, cohort: CohortId) -> Result<PersonId> {
    match seat::member(tx, cohort).await? {
        CohortRole::Student => Ok(tx.person()?.id),
        _ => Err(Error::Forbidden("Only students of the cohort tell what they cannot work with.".into())),
    }
}

/// No refusal repeats the words.
fn accepted(request: &NewWorkLimit) -> Result<&str> {
    let text = request.cannot_work_with.trim();
    let mut errors = Vec::new();
    if !(1..=LONGEST).contains(&text.chars().count()) || text.chars().any(char::is_control) {
        let cure = format!("Enter one line of 1 to {LONGEST} characters.");
        errors.push(FieldError::new("/cannot_work_with", cure));
    }
    if !request.consent {
        let cure = "Nothing is told without your consent. Send true, or tell nothing.";
        errors.push(FieldError::new("/consent", cure));
    }
    if errors.is_empty() { Ok(text) } else { Err(Error::Invalid(errors)) }
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    person: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    text: String,
    #[diesel(sql_type = Timestamptz)]
    told_at: chrono::DateTime<chrono::Utc>,
}

/// Of those who are students of the cohort; of one, where one is asked for. One statement.
async fn told(tx: &mut Tx<'_>, cohort: CohortId, of: Option<PersonId>) -> Result<WorkLimits> {
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT p.id AS person, p.name, s.text, l.told_at FROM work_limit l JOIN work_limit_words s ON s.limit_id = l.id
         JOIN cohort_member m ON m.cohort_id = l.cohort_id AND m.person_id = l.person_id AND m.role = 'student'
         JOIN person p ON p.id = l.person_id
         WHERE l.cohort_id = $1 AND l.withdrawn_at IS NULL AND ($2 OR p.id = $3) ORDER BY p.name COLLATE \"C\", p.id",
    )
    .bind::<SqlUuid, _>(cohort.0)
    .bind::<Bool, _>(of.is_none())
    .bind::<SqlUuid, _>(of.map_or(Uuid::nil(), |of| of.0))
    .load(tx.conn())
    .await?;
    let shown = |row: Row| WorkLimit {
        cohort,
        person: PersonId(row.person),
        name: Some(row.name),
        cannot_work_with: row.text,
        told_at: row.told_at,
    };
    Ok(WorkLimits { items: rows.into_iter().map(shown).collect() })
}

/// What the students of a cohort cannot work with: for its instructors, and for a student the student's own.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, and [`Error::Forbidden`] for a visiting marker.
pub async fn work_limits(store: &Store, credentials: &Credentials, cohort: CohortId) -> Result<WorkLimits> {
    store
        .read(credentials, async |tx| {
            let me = tx.person()?.id;
            match seat::member(tx, cohort).await? {
                CohortRole::Student => told(tx, cohort, Some(me)).await,
                CohortRole::Instructor => told(tx, cohort, None).await,
                CohortRole::Marker => Err(Error::Forbidden(
                    "Only the cohort's instructors read what students cannot work with. Ask one of them."
                        .into(),
                )),
            }
        })
        .await
}

/// Withdraws what the caller told. Its words are removed.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller told something in the cohort and has not withdrawn it. Somebody who is no
/// member any more may withdraw too.
pub async fn work_limit_withdraw(store: &Store, credentials: &Credentials, cohort: CohortId) -> Result<()> {
    store
        .write(credentials, async |tx| {
            let (me, now) = (tx.person()?.id, tx.now());
            let own = work_limit::table
                .filter(work_limit::cohort_id.eq(cohort.0))
                .filter(work_limit::person_id.eq(me.0))
                .filter(work_limit::withdrawn_at.is_null());
            let withdrawn: Option<Uuid> = diesel::update(own)
                .set(work_limit::withdrawn_at.eq(now))
                .returning(work_limit::id)
                .get_result(tx.conn())
                .await
                .optional()?;
            let id = withdrawn.ok_or(Error::NotFound("sentence"))?;
            diesel::delete(work_limit_words::table.find(id)).execute(tx.conn()).await?;
            tx.record(NewEvent::new("work_limit", id, "withdrawn").keeps(&WORK_LIMIT, [id]));
            Ok(())
        })
        .await
}
