//! One student's work on an assignment: the dates that hold for that student, and what was handed in.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Binary, Bool, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::assignment_version;
use store::sql::{marked_blind, unnamed_work};
use store::{Credentials, Error, Result, Store, Tx, known_as, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, BatchId, PersonId, WorkSubmissionId};
use wire::teaching::{CohortRole, CountableBatch, Rubric, StudentRecord, WorkState, WorkSubmission};

use crate::blind::NOBODY;
use crate::stands::{self, OWN, Own, Times, stands};
use crate::stored::Assessed;
use crate::{allowances, blind, cohorts, local, seat, versions, work};

/// The caller's own work on an assignment.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member of the cohort, and [`Error::Forbidden`] unless a student.
pub async fn record_own(store: &Store, credentials: &Credentials, id: AssignmentId) -> Result<StudentRecord> {
    store
        .read(credentials, async |tx| {
            let row = work::student_of(tx, id).await?;
            let me = tx.person()?.id;
            let record = shown(tx, &row, me).await?;
            let batches = countable(tx, &row, me).await?;
            Ok(StudentRecord { batches, ..record })
        })
        .await
}

/// A student's work on an assignment, for instructors and markers of the cohort.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member and the person one of the cohort's students, and
/// [`Error::Forbidden`] for students.
pub async fn record_of(
    store: &Store,
    credentials: &Credentials,
    id: AssignmentId,
    of: PersonId,
) -> Result<StudentRecord> {
    store
        .read(credentials, async |tx| {
            let (cohort, _) = seat::of_assignment(tx, id).await?;
            seat::assessor(tx, cohort).await?;
            allowances::student(tx, cohort, of).await?;
            let row = versions::row(tx, id).await?;
            shown(tx, &row, of).await
        })
        .await
}

#[derive(QueryableByName)]
struct OwnRow {
    #[diesel(embed)]
    own: Own,
    #[diesel(sql_type = BigInt)]
    open: i64,
}

/// What is one student's own of an assignment, the dates that hold for the student, and how many questions are open.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn dates(
    tx: &mut Tx<'_>,
    row: &versions::Row,
    version: &versions::Version,
    of: PersonId,
) -> Result<(Own, Times, u32)> {
    let found: OwnRow = diesel::sql_query(format!(
        "SELECT {OWN},
             (SELECT count(*) FROM assignment_question q
              WHERE q.assignment_id = $1 AND q.version_number = $3)
             - (SELECT count(*) FROM question q WHERE q.work_id = own_w.id AND q.state = 'answered') AS open
         FROM (SELECT 1) one {}",
        stands::of("$1", "$2")
    ))
    .bind::<SqlUuid, _>(row.id)
    .bind::<SqlUuid, _>(of.0)
    .bind::<Integer, _>(row.current_version)
    .get_result(tx.conn())
    .await?;
    let times = Times { opens: version.opens_at, due: version.due_at, late: version.late_until };
    let times = times.with(&found.own);
    Ok((found.own, times, u32::try_from(found.open).unwrap_or_default()))
}

async fn shown(tx: &mut Tx<'_>, row: &versions::Row, of: PersonId) -> Result<StudentRecord> {
    let id = AssignmentId(row.id);
    let version = versions::in_force(tx, row).await?;
    let zone = cohorts::class(tx, row.cohort()).await?.zone;
    let (own, times, questions_open) = dates(tx, row, &version, of).await?;
    let names = known_as::people(tx, [of.0]).await?;
    // Of a student who is named, nothing is told that a candidate could be known by.
    let hidden = hides(tx, row.id, of).await?;
    let submissions = if hidden { Vec::new() } else { submissions(tx, id, of).await? };
    let returned = submissions.len().saturating_sub(1);
    let allowed = usize::from(version.returns_allowed.unsigned_abs());
    Ok(StudentRecord {
        assignment: id,
        person: of,
        name: names.of(of.0),
        state: if hidden { WorkState::Submitted } else { stands(tx.now(), &times, &own)? },
        hidden,
        due: local::shown(times.due, zone),
        late_until: times.late.map(|at| local::shown(at, zone)),
        allowance: allowances::in_force(tx, id, of).await?,
        questions_open,
        returns_left: u32::try_from(allowed.saturating_sub(returned)).unwrap_or_default(),
        submissions,
        batches: Vec::new(),
    })
}

/// Whether the caller is not told how the work of a student stands, begun or not, since it is marked blind.
async fn hides(tx: &mut Tx<'_>, assignment: Uuid, of: PersonId) -> Result<bool> {
    let me = tx.person()?.id;
    if me == of {
        return Ok(false);
    }
    let work = work::found(tx, AssignmentId(assignment), of).await?;
    let hides: bool = match work {
        Some(work) => diesel::select(unnamed_work(work, me.0)).get_result(tx.conn()).await?,
        None => diesel::select(marked_blind(assignment)).get_result(tx.conn()).await?,
    };
    Ok(hides)
}

#[derive(QueryableByName)]
struct Handed {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    assignment_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    person_id: Uuid,
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = SqlUuid)]
    batch_id: Uuid,
    #[diesel(sql_type = Text)]
    batch_number: String,
    #[diesel(sql_type = Integer)]
    submission_number: i32,
    #[diesel(sql_type = Timestamptz)]
    received_at: DateTime<Utc>,
    #[diesel(sql_type = Bool)]
    late: bool,
    #[diesel(sql_type = Integer)]
    version_number: i32,
    #[diesel(sql_type = Binary)]
    digest: Vec<u8>,
    #[diesel(sql_type = Text)]
    state: String,
    /// Whether it is closed to the caller until they have given their second mark.
    #[diesel(sql_type = Bool)]
    blind: bool,
    /// Whether the caller is not told whose it is, and what is told instead.
    #[diesel(sql_type = Bool)]
    unnamed: bool,
    #[diesel(sql_type = Nullable<Text>)]
    candidate: Option<String>,
}

impl Handed {
    fn shown(self) -> Result<WorkSubmission> {
        let candidate = self.unnamed.then(|| self.candidate.unwrap_or_default());
        Ok(WorkSubmission {
            id: WorkSubmissionId(self.id),
            assignment: AssignmentId(self.assignment_id),
            person: if self.unnamed { NOBODY } else { PersonId(self.person_id) },
            number: self.number.unsigned_abs(),
            batch: BatchId(self.batch_id),
            batch_number: candidate.clone().unwrap_or(self.batch_number),
            candidate,
            submission_number: self.submission_number.unsigned_abs(),
            received_at: self.received_at,
            late: self.late,
            assignment_version: self.version_number,
            digest: hex::encode(self.digest),
            state: word(&self.state)?,
        })
    }
}

/// `$2` is the caller.
const HANDED: &str =
    "SELECT s.id, s.assignment_id, w.person_id, s.number, s.batch_id, b.number AS batch_number,
     s.submission_number, s.received_at, s.late, s.version_number, s.digest, s.state,
     blind_work(s.work_id, $2) AND NOT unnamed_work(s.work_id, $2) AS blind,
     unnamed_work(s.work_id, $2) AS unnamed, candidate_of_work(s.work_id) AS candidate
     FROM handed_work s JOIN assignment_work w ON w.id = s.work_id JOIN batch b ON b.id = s.batch_id";

async fn submissions(tx: &mut Tx<'_>, id: AssignmentId, of: PersonId) -> Result<Vec<WorkSubmission>> {
    let me = tx.person()?.id;
    let rows: Vec<Handed> = diesel::sql_query(format!(
        "{HANDED} WHERE w.assignment_id = $1 AND w.person_id = $3 ORDER BY s.number"
    ))
    .bind::<SqlUuid, _>(id.0)
    .bind::<SqlUuid, _>(me.0)
    .bind::<SqlUuid, _>(of.0)
    .load(tx.conn())
    .await?;
    if rows.iter().any(|row| row.blind) {
        return Err(blind::refused());
    }
    rows.into_iter().map(Handed::shown).collect()
}

/// A submission, for its author and the instructors and markers of the cohort.
///
/// # Errors
/// Returns [`Error::NotFound`] for everybody else.
pub(crate) async fn submission(tx: &mut Tx<'_>, id: WorkSubmissionId) -> Result<WorkSubmission> {
    let hidden = || Error::NotFound("submission");
    let me = tx.person()?.id;
    let row: Option<Handed> = diesel::sql_query(format!("{HANDED} WHERE s.id = $1"))
        .bind::<SqlUuid, _>(id.0)
        .bind::<SqlUuid, _>(me.0)
        .get_result(tx.conn())
        .await
        .optional()?;
    let row = row.ok_or_else(hidden)?;
    let (blind, author) = (row.blind, PersonId(row.person_id));
    let shown = row.shown()?;
    let seat = seat::of_assignment(tx, shown.assignment).await;
    let (_, role) = seat.map_err(|error| match error {
        Error::NotFound(_) => hidden(),
        other => other,
    })?;
    if role == CohortRole::Student && author != me {
        return Err(hidden());
    }
    if blind {
        return Err(blind::refused());
    }
    Ok(shown)
}

/// The rubric of a version of an assignment, for whoever may read the assignment.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn rubric(tx: &mut Tx<'_>, id: AssignmentId, version: i32) -> Result<Rubric> {
    let stored: serde_json::Value = assignment_version::table
        .find((id.0, version))
        .select(assignment_version::rubric)
        .first(tx.conn())
        .await?;
    let stored: Assessed = serde_json::from_value(stored)?;
    Ok(stored.turn())
}

/// One submission.
///
/// # Errors
/// Returns [`Error::NotFound`] for everybody but its author and the instructors and markers of the cohort.
pub async fn submission_view(
    store: &Store,
    credentials: &Credentials,
    id: WorkSubmissionId,
) -> Result<WorkSubmission> {
    store.read(credentials, async |tx| submission(tx, id).await).await
}

#[derive(QueryableByName)]
struct Countable {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    state: String,
    #[diesel(sql_type = Timestamptz)]
    opened_at: DateTime<Utc>,
}

/// The most batches that are offered.
const OFFERED: i64 = 50;

/// Batches of a student that can be handed in: of an assigned formula, not handed in, and counting for no other work.
async fn countable(tx: &mut Tx<'_>, row: &versions::Row, of: PersonId) -> Result<Vec<CountableBatch>> {
    let work = work::found(tx, AssignmentId(row.id), of).await?;
    let rows: Vec<Countable> = diesel::sql_query(
        "SELECT b.id, b.number, r.title, b.state, b.opened_at FROM batch b
         JOIN revision r ON r.id = b.revision_id JOIN formula m ON m.id = r.formula_id
         JOIN library_member l ON l.library_id = m.library_id AND l.holder_id = b.maker_id
         JOIN assignment_formula f ON f.formula_id = r.formula_id AND f.assignment_id = $1 AND f.version_number = $2
         LEFT JOIN work_batch c ON c.batch_id = b.id
         WHERE b.maker_id = $3 AND b.state IN ('making', 'returned', 'submitted')
           AND NOT EXISTS (SELECT FROM maker_of_batch o WHERE o.batch_id = b.id AND o.person_id <> $3)
           AND (c.work_id IS NULL OR c.work_id = $4)
           AND NOT (b.state = 'submitted' AND EXISTS (SELECT FROM handed_work s
               WHERE s.batch_id = b.id AND s.submission_number = b.last_submission))
         ORDER BY b.id DESC LIMIT $5",
    )
    .bind::<SqlUuid, _>(row.id)
    .bind::<Integer, _>(row.current_version)
    .bind::<SqlUuid, _>(of.0)
    .bind::<Nullable<SqlUuid>, _>(work)
    .bind::<BigInt, _>(OFFERED)
    .load(tx.conn())
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(CountableBatch {
                id: BatchId(row.id),
                number: row.number,
                title: row.title,
                state: word(&row.state)?,
                opened_at: row.opened_at,
            })
        })
        .collect()
}
