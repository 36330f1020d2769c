//! Neutral notes on work that was handed in, for those who teach: figures that are another student's, no variation at all,
//! a whole record written at once. They judge nobody, and the student does not see them.

use diesel::prelude::*;
use diesel::sql_types::{Array, Bool, Integer, Nullable, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::handed_trace;
use store::{Credentials, Error, NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{AssignmentId, WorkSubmissionId};
use wire::teaching::{CohortRole, NoteKind, SubmissionNote};

use crate::kept::TRACE;
use crate::{record, seat};

/// Within how many seconds a whole record counts as written at once.
const AT_ONCE: i32 = 60;

/// The notes on a submission, for instructors and markers of the cohort. Three statements.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller may read the submission, and [`Error::Forbidden`] for students.
pub async fn notes(
    store: &Store,
    credentials: &Credentials,
    id: WorkSubmissionId,
) -> Result<Vec<SubmissionNote>> {
    store
        .read(credentials, async |tx| {
            let of = record::submission(tx, id).await?;
            let (_, role) = seat::of_assignment(tx, of.assignment).await?;
            if role == CohortRole::Student {
                return Err(Error::Forbidden(
                    "Only the cohort's instructors and markers may read notes on work.".into(),
                ));
            }
            found(tx, id).await
        })
        .await
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Bool)]
    unvaried: bool,
    #[diesel(sql_type = Nullable<Integer>)]
    seconds: Option<i32>,
    #[diesel(sql_type = Array<SqlUuid>)]
    alike: Vec<Uuid>,
}

async fn found(tx: &mut Tx<'_>, id: WorkSubmissionId) -> Result<Vec<SubmissionNote>> {
    let row: Option<Row> = diesel::sql_query(
        "SELECT t.unvaried, t.seconds, ARRAY(
             SELECT o.handed_id FROM handed_trace o JOIN handed_work h ON h.id = o.handed_id
             JOIN handed_work own ON own.id = t.handed_id
             WHERE o.assignment_id = t.assignment_id AND o.figures = t.figures AND h.work_id <> own.work_id
             ORDER BY o.handed_id LIMIT 20) AS alike
         FROM handed_trace t WHERE t.handed_id = $1",
    )
    .bind::<SqlUuid, _>(id.0)
    .get_result(tx.conn())
    .await
    .optional()?;
    let Some(row) = row else { return Ok(Vec::new()) };
    let mut notes = Vec::new();
    if !row.alike.is_empty() {
        let (figures, others) = ("Every weighing, temperature, pH and yield", row.alike.len());
        notes.push(SubmissionNote {
            kind: NoteKind::SameFigures,
            sentence: format!("{figures} is the same as in {others} other submissions of this assignment."),
            submissions: row.alike.into_iter().map(WorkSubmissionId).collect(),
        });
    }
    if row.unvaried {
        notes.push(SubmissionNote {
            kind: NoteKind::NoVariation,
            sentence: "Every weighing is its target to the last digit.".into(),
            submissions: Vec::new(),
        });
    }
    if let Some(seconds) = row.seconds.filter(|seconds| *seconds <= AT_ONCE) {
        notes.push(SubmissionNote {
            kind: NoteKind::WrittenAtOnce,
            sentence: format!("The whole record was written within {seconds} seconds."),
            submissions: Vec::new(),
        });
    }
    Ok(notes)
}

/// Keeps how a record came about, with what was handed in.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn keep(
    tx: &mut Tx<'_>,
    (id, assignment): (Uuid, AssignmentId),
    trace: &bench::Trace,
    event: NewEvent,
) -> Result<NewEvent> {
    diesel::insert_into(handed_trace::table)
        .values((
            handed_trace::handed_id.eq(id),
            handed_trace::assignment_id.eq(assignment.0),
            handed_trace::figures.eq(trace.figures.map(|figures| figures.to_vec())),
            handed_trace::unvaried.eq(trace.unvaried),
            handed_trace::seconds.eq(trace.seconds),
        ))
        .execute(tx.conn())
        .await?;
    Ok(event.keeps(&TRACE, [id]))
}
