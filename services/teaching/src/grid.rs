//! How a cohort stands: every student by every assignment, in three statements however many there are of both.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Credentials, Result, Store, Tx, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, CohortId, PersonId, WorkSubmissionId};
use wire::teaching::{CohortGrid, GridAssignment, GridCell, GridStudent, WorkState};

use crate::stands::{self, OWN, Times, stands};
use crate::{cohorts, local, seat};

/// The most assignments and the most students that a grid shows: far more than a class has.
const MOST_ASSIGNMENTS: i64 = 100;
const MOST_STUDENTS: i64 = 1000;

#[derive(QueryableByName)]
struct OfAssignment {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    state: String,
    #[diesel(sql_type = Timestamptz)]
    opens_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    due_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    late_until: Option<DateTime<Utc>>,
    #[diesel(sql_type = Integer)]
    total_points: i32,
}

#[derive(QueryableByName)]
struct OfStudent {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
}

#[derive(QueryableByName)]
struct Cell {
    #[diesel(embed)]
    own: stands::Own,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    handed: Option<Uuid>,
    #[diesel(sql_type = Nullable<BigInt>)]
    points: Option<i64>,
    #[diesel(sql_type = Bool)]
    blind: bool,
}

/// The grid of a cohort, for its instructors and markers.
///
/// # Errors
/// Returns [`store::Error::NotFound`] unless the caller is a member, and [`store::Error::Forbidden`] for students.
pub async fn grid(store: &Store, credentials: &Credentials, cohort: CohortId) -> Result<CohortGrid> {
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            let zone = cohorts::class(tx, cohort).await?.zone;
            let assignments = assignments(tx, cohort).await?;
            let students = students(tx, cohort).await?;
            let mut cells = cells(tx, &assignments, &students).await?.into_iter();
            let now = tx.now();
            let row = |student: OfStudent| {
                let of = |one: &OfAssignment| {
                    let times = Times { opens: one.opens_at, due: one.due_at, late: one.late_until };
                    cells.next().map(|cell| shown(now, &times, cell)).transpose()
                };
                let cells = assignments.iter().map(of).collect::<Result<Vec<_>>>()?;
                Ok(GridStudent {
                    person: PersonId(student.id),
                    name: student.name,
                    cells: cells.into_iter().flatten().collect(),
                })
            };
            let students = students.into_iter().map(row).collect::<Result<_>>()?;
            let head = |one: OfAssignment| {
                Ok(GridAssignment {
                    id: AssignmentId(one.id),
                    title: one.title,
                    state: word(&one.state)?,
                    due: local::shown(one.due_at, zone),
                    total_points: one.total_points.unsigned_abs(),
                })
            };
            let assignments = assignments.into_iter().map(head).collect::<Result<_>>()?;
            Ok(CohortGrid { cohort, assignments, students })
        })
        .await
}

async fn assignments(tx: &mut Tx<'_>, cohort: CohortId) -> Result<Vec<OfAssignment>> {
    Ok(diesel::sql_query(
        "SELECT a.id, v.title, a.state, v.opens_at, v.due_at, v.late_until,
             coalesce((v.rubric ->> 'total_points')::integer, 0) AS total_points
         FROM assignment a JOIN assignment_version v ON v.assignment_id = a.id AND v.number = a.current_version
         WHERE a.cohort_id = $1 AND a.state <> 'draft' ORDER BY v.due_at, a.id LIMIT $2",
    )
    .bind::<SqlUuid, _>(cohort.0)
    .bind::<BigInt, _>(MOST_ASSIGNMENTS)
    .load(tx.conn())
    .await?)
}

async fn students(tx: &mut Tx<'_>, cohort: CohortId) -> Result<Vec<OfStudent>> {
    Ok(diesel::sql_query(
        "SELECT p.id, p.name FROM cohort_member m JOIN person p ON p.id = m.person_id AND p.role = 'student'
         WHERE m.cohort_id = $1 AND m.role = 'student' ORDER BY p.name COLLATE \"C\", p.id LIMIT $2",
    )
    .bind::<SqlUuid, _>(cohort.0)
    .bind::<BigInt, _>(MOST_STUDENTS)
    .load(tx.conn())
    .await?)
}

/// One for each student and assignment, in the order of both.
async fn cells(tx: &mut Tx<'_>, assignments: &[OfAssignment], students: &[OfStudent]) -> Result<Vec<Cell>> {
    let of: Vec<Uuid> = assignments.iter().map(|one| one.id).collect();
    let me = tx.person()?.id;
    let whose: Vec<Uuid> = students.iter().map(|one| one.id).collect();
    Ok(diesel::sql_query(format!(
        "SELECT {OWN}, own_h.id AS handed, own_p.points, blind_work(own_w.id, $3) OR own_w.id IS NULL AND marked_blind(a.id) AS blind
         FROM unnest($2) WITH ORDINALITY s (id, place) CROSS JOIN unnest($1) WITH ORDINALITY a (id, place)
         {}
         LEFT JOIN handed_work own_h ON own_h.work_id = own_w.id AND own_h.number = own_s.number
         LEFT JOIN LATERAL (SELECT sum(c.points) AS points FROM work_mark_criterion c WHERE c.mark_id = (
             SELECT k.id FROM work_mark k WHERE k.handed_id = own_h.id ORDER BY k.number DESC LIMIT 1)) own_p ON true
         ORDER BY s.place, a.place",
        stands::of("a.id", "s.id")
    ))
    .bind::<diesel::sql_types::Array<SqlUuid>, _>(of)
    .bind::<diesel::sql_types::Array<SqlUuid>, _>(whose)
    .bind::<SqlUuid, _>(me.0)
    .load(tx.conn())
    .await?)
}

fn shown(now: DateTime<Utc>, times: &Times, cell: Cell) -> Result<GridCell> {
    if cell.blind {
        return Ok(GridCell {
            state: WorkState::Submitted,
            submission: None,
            number: 0,
            late: false,
            points: None,
            hidden: true,
        });
    }
    Ok(GridCell {
        hidden: false,
        state: stands(now, &times.with(&cell.own), &cell.own)?,
        submission: cell.handed.map(WorkSubmissionId),
        number: cell.own.submissions.map_or(0, i32::unsigned_abs),
        late: cell.own.late.unwrap_or_default(),
        points: cell.points.and_then(|points| u32::try_from(points).ok()),
    })
}
