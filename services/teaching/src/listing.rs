//! Lists of assignments: a student's own with how each stands, a cohort's with counts, and the students of one. One or two
//! statements for a page, however much work there is.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Credentials, Result, Store, page::PageRequest, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, CohortId, PersonId};
use wire::page::{Page, PageQuery};
use wire::teaching::{AssignmentState, CohortAssignment, OwnAssignment, StudentWork, WorkState};

use crate::stands::{self, OWN, Times, stands};
use crate::{cohorts, local, seat, show, work};

fn count(value: i64) -> u32 {
    u32::try_from(value).unwrap_or(u32::MAX)
}

#[derive(QueryableByName)]
struct Own {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    cohort_id: Uuid,
    #[diesel(sql_type = Text)]
    cohort_name: String,
    #[diesel(sql_type = Text)]
    time_zone: String,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    quantity: String,
    #[diesel(sql_type = Timestamptz)]
    opens_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    due_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    late_until: Option<DateTime<Utc>>,
    #[diesel(sql_type = BigInt)]
    questions: i64,
    #[diesel(sql_type = BigInt)]
    answered: i64,
    #[diesel(embed)]
    own: stands::Own,
}

/// The published assignments of the caller's cohorts, for students: by when they are due, the latest first.
///
/// # Errors
/// Returns [`store::Error::Invalid`] for a refused cursor.
pub async fn own_assignments(
    store: &Store,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<OwnAssignment>> {
    let slice = PageRequest::<(DateTime<Utc>, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let (me, now) = (tx.person()?, tx.now());
            let (due, id) = slice.after.map_or((None, Uuid::nil()), |(due, id)| (Some(due), id));
            let rows: Vec<Own> = diesel::sql_query(format!(
                "SELECT a.id, a.cohort_id, c.name AS cohort_name, c.time_zone, v.title, v.quantity, v.opens_at,
                     v.due_at, v.late_until,
                     (SELECT count(*) FROM assignment_question q
                      WHERE q.assignment_id = a.id AND q.version_number = a.current_version) AS questions,
                     (SELECT count(*) FROM assignment_work w JOIN question q ON q.work_id = w.id
                      WHERE w.assignment_id = a.id AND w.person_id = $1 AND q.state = 'answered') AS answered,
                     {OWN}
                 FROM cohort_member m JOIN cohort c ON c.id = m.cohort_id
                 JOIN assignment a ON a.cohort_id = m.cohort_id AND a.state = 'published'
                 JOIN assignment_version v ON v.assignment_id = a.id AND v.number = a.current_version
                 {}
                 WHERE m.person_id = $1 AND m.role = 'student' AND $2 = 'student'
                   AND ($3 IS NULL OR (v.due_at, a.id) < ($3, $4))
                 ORDER BY v.due_at DESC, a.id DESC LIMIT $5",
                stands::of("a.id", "$1")
            ))
            .bind::<SqlUuid, _>(me.id.0)
            .bind::<Text, _>(me.role.as_str())
            .bind::<Nullable<Timestamptz>, _>(due)
            .bind::<SqlUuid, _>(id)
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| (row.due_at, row.id))?;
            let ids: Vec<Uuid> = page.items.iter().map(|row| row.id).collect();
            let mut formulas = show::formulas(tx, &ids).await?;
            let items = page.items.into_iter().map(|row| {
                let zone = local::zone(&row.time_zone)?;
                let times = Times { opens: row.opens_at, due: row.due_at, late: row.late_until };
                let times = times.with(&row.own);
                Ok(OwnAssignment {
                    id: AssignmentId(row.id),
                    cohort: CohortId(row.cohort_id),
                    cohort_name: row.cohort_name,
                    title: row.title,
                    quantity: row.quantity,
                    state: stands(now, &times, &row.own)?,
                    opens: local::shown(row.opens_at, zone),
                    due: local::shown(times.due, zone),
                    late_until: times.late.map(|at| local::shown(at, zone)),
                    formulas: formulas.remove(&row.id).unwrap_or_default(),
                    questions: count(row.questions),
                    answered: count(row.answered),
                })
            });
            Ok(Page { items: items.collect::<Result<_>>()?, next: page.next })
        })
        .await
}

#[derive(QueryableByName)]
struct OfCohort {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    state: String,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Timestamptz)]
    opens_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    due_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    late_until: Option<DateTime<Utc>>,
    #[diesel(sql_type = BigInt)]
    students: i64,
    #[diesel(sql_type = BigInt)]
    not_begun: i64,
    #[diesel(sql_type = BigInt)]
    done: i64,
    #[diesel(sql_type = BigInt)]
    submitted: i64,
    #[diesel(sql_type = BigInt)]
    settled: i64,
}

/// The assignments of a cohort, for its instructors and markers: by when they are due, the latest first, with how many
/// students have not begun, begun and answered every question.
///
/// # Errors
/// Refuses all but the cohort's instructors and markers; returns [`store::Error::Invalid`] for a refused cursor.
pub async fn assignments_of(
    store: &Store,
    credentials: &Credentials,
    cohort: CohortId,
    query: &PageQuery,
) -> Result<Page<CohortAssignment>> {
    let slice = PageRequest::<(DateTime<Utc>, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            let zone = cohorts::class(tx, cohort).await?.zone;
            let (due, id) = slice.after.map_or((None, Uuid::nil()), |(due, id)| (Some(due), id));
            let rows: Vec<OfCohort> = diesel::sql_query(
                "SELECT a.id, a.state, v.title, v.opens_at, v.due_at, v.late_until,
                     s.students, s.students - s.begun AS not_begun, s.done, s.submitted, s.settled
                 FROM assignment a
                 JOIN assignment_version v ON v.assignment_id = a.id AND v.number = a.current_version
                 CROSS JOIN LATERAL (
                     SELECT count(*) AS students, count(w.id) AS begun,
                         count(w.done_at) AS done,
                         count(*) FILTER (WHERE l.state = 'submitted') AS submitted,
                         count(*) FILTER (WHERE l.state IN ('accepted', 'rejected')) AS settled
                     FROM cohort_member m JOIN person p ON p.id = m.person_id AND p.role = 'student'
                     LEFT JOIN assignment_work w ON w.assignment_id = a.id AND w.person_id = m.person_id
                     LEFT JOIN LATERAL (SELECT l.state FROM handed_work l WHERE l.work_id = w.id
                         ORDER BY l.number DESC LIMIT 1) l ON true
                     WHERE m.cohort_id = a.cohort_id AND m.role = 'student') s
                 WHERE a.cohort_id = $1 AND ($2 IS NULL OR (v.due_at, a.id) < ($2, $3))
                 ORDER BY v.due_at DESC, a.id DESC LIMIT $4",
            )
            .bind::<SqlUuid, _>(cohort.0)
            .bind::<Nullable<Timestamptz>, _>(due)
            .bind::<SqlUuid, _>(id)
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| (row.due_at, row.id))?;
            let items = page.items.into_iter().map(|row| {
                let state: AssignmentState = word(&row.state)?;
                Ok(CohortAssignment {
                    id: AssignmentId(row.id),
                    title: row.title,
                    state,
                    opens: local::shown(row.opens_at, zone),
                    due: local::shown(row.due_at, zone),
                    late_until: row.late_until.map(|at| local::shown(at, zone)),
                    students: count(row.students),
                    not_begun: count(row.not_begun),
                    begun: count(row.students - row.not_begun - row.done),
                    done: count(row.done),
                    submitted: count(row.submitted),
                    settled: count(row.settled),
                })
            });
            Ok(Page { items: items.collect::<Result<_>>()?, next: page.next })
        })
        .await
}

#[derive(QueryableByName)]
struct OfStudent {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    begun_at: Option<DateTime<Utc>>,
    #[diesel(sql_type = BigInt)]
    questions: i64,
    #[diesel(sql_type = BigInt)]
    answered: i64,
    #[diesel(sql_type = BigInt)]
    right_ones: i64,
    #[diesel(sql_type = Bool)]
    opened_before: bool,
    #[diesel(sql_type = Bool)]
    blind: bool,
    #[diesel(sql_type = Timestamptz)]
    opens_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    due_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    late_until: Option<DateTime<Utc>>,
    #[diesel(embed)]
    own: stands::Own,
}

/// The students of an assignment by name, for instructors and markers of the cohort, each with how far they are.
///
/// # Errors
/// Returns [`store::Error::NotFound`] unless the caller is a member, [`store::Error::Forbidden`] for students, and
/// [`store::Error::Invalid`] for a refused cursor.
pub async fn students(
    store: &Store,
    credentials: &Credentials,
    id: AssignmentId,
    query: &PageQuery,
) -> Result<Page<StudentWork>> {
    let slice = PageRequest::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let (cohort, _) = seat::of_assignment(tx, id).await?;
            seat::assessor(tx, cohort).await?;
            let (name, after) = slice.after.clone().unwrap_or_default();
            let me = tx.person()?.id;
            let rows: Vec<OfStudent> = diesel::sql_query(format!(
                "SELECT p.id, p.name, w.begun_at,
                     (SELECT count(*) FROM assignment_question q
                      WHERE q.assignment_id = a.id AND q.version_number = a.current_version) AS questions,
                     (SELECT count(*) FROM question q WHERE q.work_id = w.id AND q.state = 'answered') AS answered,
                     (SELECT count(*) FROM question q WHERE q.work_id = w.id AND EXISTS (
                          SELECT FROM question_answer s WHERE s.question_id = q.id AND s.is_right)) AS right_ones,
                     {} AS opened_before, blind_work(w.id, $5) OR w.id IS NULL AND marked_blind(a.id) AS blind, v.opens_at, v.due_at, v.late_until, {OWN}
                 FROM assignment a JOIN assignment_version v
                     ON v.assignment_id = a.id AND v.number = a.current_version
                 JOIN cohort_member m ON m.cohort_id = a.cohort_id AND m.role = 'student'
                 JOIN person p ON p.id = m.person_id AND p.role = 'student'
                 LEFT JOIN assignment_work w ON w.assignment_id = a.id AND w.person_id = p.id
                 {}
                 WHERE a.id = $1 AND (p.name COLLATE \"C\", p.id) > ($2, $3)
                 ORDER BY p.name COLLATE \"C\", p.id LIMIT $4",
                work::opened_before_sql("a.id", "p.id"),
                stands::of("a.id", "p.id")
            ))
            .bind::<SqlUuid, _>(id.0)
            .bind::<Text, _>(name)
            .bind::<SqlUuid, _>(after)
            .bind::<BigInt, _>(slice.fetch())
            .bind::<SqlUuid, _>(me.0)
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| (row.name.clone(), row.id))?;
            let now = tx.now();
            let shown = |row: OfStudent| {
                let times = Times { opens: row.opens_at, due: row.due_at, late: row.late_until };
                Ok(StudentWork {
                    person: PersonId(row.id),
                    name: row.name,
                    // Of work without questions it is the moment at which it was handed in.
                    begun_at: row.begun_at.filter(|_| !row.blind || row.questions > 0),
                    questions: count(row.questions),
                    answered: count(row.answered),
                    right: count(row.right_ones),
                    state: match row.blind {
                        true => WorkState::Submitted,
                        false => stands(now, &times.with(&row.own), &row.own)?,
                    },
                    submissions: if row.blind { 0 } else { row.own.submissions.map_or(0, i32::unsigned_abs) },
                    late: !row.blind && row.own.late.unwrap_or_default(),
                    recipe_opened_before: row.opened_before,
                    hidden: row.blind,
                })
            };
            Ok(Page { items: page.items.into_iter().map(shown).collect::<Result<_>>()?, next: page.next })
        })
        .await
}
