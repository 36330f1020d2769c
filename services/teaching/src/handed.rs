//! Work that was handed in, as those who mark it find it.

use diesel::prelude::*;
use diesel::sql_types::{Bool, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::declared_relation;
use store::{Error, Result, Tx, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, BatchId, CohortId, PersonId, WorkSubmissionId};
use wire::teaching::{CohortRole, Rubric, SubmissionState};

use crate::{blind, record, seat};

/// One version of a student's work.
#[derive(QueryableByName)]
pub(crate) struct Handed {
    #[diesel(sql_type = SqlUuid)]
    pub(crate) id: Uuid,
    #[diesel(sql_type = Integer)]
    pub(crate) number: i32,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) work: Uuid,
    #[diesel(sql_type = SqlUuid)]
    person: Uuid,
    #[diesel(sql_type = SqlUuid)]
    assignment: Uuid,
    #[diesel(sql_type = SqlUuid)]
    cohort: Uuid,
    #[diesel(sql_type = Integer)]
    version_number: i32,
    #[diesel(sql_type = SqlUuid)]
    batch: Uuid,
    #[diesel(sql_type = Integer)]
    pub(crate) submission_number: i32,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(crate) allowance: Option<Uuid>,
    #[diesel(sql_type = Text)]
    state: String,
    /// Whether it is closed to the caller until they have given their second mark; what is only unnamed is not.
    #[diesel(sql_type = Bool)]
    blind: bool,
    /// Whether the caller is not told whose it is, and what is told instead.
    #[diesel(sql_type = Bool)]
    unnamed: bool,
    #[diesel(sql_type = Nullable<Text>)]
    candidate: Option<String>,
}

/// `$2` is the caller.
const COLUMNS: &str = "SELECT s.id, s.number, s.work_id AS work, w.person_id AS person, a.id AS assignment,
     a.cohort_id AS cohort, s.version_number, s.batch_id AS batch, s.submission_number, s.allowance_id AS allowance, s.state,
     blind_work(s.work_id, $2) AND NOT unnamed_work(s.work_id, $2) AS blind,
     unnamed_work(s.work_id, $2) AS unnamed, candidate_of_work(s.work_id) AS candidate
     FROM handed_work s JOIN assignment_work w ON w.id = s.work_id JOIN assignment a ON a.id = s.assignment_id";

impl Handed {
    pub(crate) const fn student(&self) -> PersonId {
        PersonId(self.person)
    }

    pub(crate) const fn assignment(&self) -> AssignmentId {
        AssignmentId(self.assignment)
    }

    pub(crate) const fn cohort(&self) -> CohortId {
        CohortId(self.cohort)
    }

    pub(crate) const fn batch(&self) -> BatchId {
        BatchId(self.batch)
    }

    /// What is told in place of the student, where the caller is not told the student.
    pub(crate) fn candidate(&self) -> Option<String> {
        self.unnamed.then(|| self.candidate.clone().unwrap_or_default())
    }

    pub(crate) fn state(&self) -> Result<SubmissionState> {
        word(&self.state)
    }

    /// What is locked while it is marked: the class and the assignment stay as they are, the work is held alone.
    pub(crate) fn locks(&self) -> Locks {
        Locks::new()
            .cohort(self.cohort(), Mode::Shared)
            .assignment(self.assignment(), Mode::Shared)
            .work(self.work)
    }

    /// The rubric that it is assessed by: that of the version of the assignment under which it was handed in.
    ///
    /// # Errors
    /// Returns the errors of the database.
    pub(crate) async fn rubric(&self, tx: &mut Tx<'_>) -> Result<Rubric> {
        record::rubric(tx, self.assignment(), self.version_number).await
    }
}

/// The work that the last submission of a batch record was handed in as, where it waits.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn waiting(tx: &mut Tx<'_>, id: BatchId) -> Result<Option<Handed>> {
    let found = of_batch(tx, id).await?;
    Ok(found.filter(|found| found.state == SubmissionState::Submitted.as_str()))
}

/// The work that the last submission of a batch record was handed in as, whatever became of it.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_batch(tx: &mut Tx<'_>, id: BatchId) -> Result<Option<Handed>> {
    let sql = format!(
        "{COLUMNS} JOIN batch b ON b.id = s.batch_id AND b.last_submission = s.submission_number WHERE b.id = $1"
    );
    let me = tx.person()?.id;
    let found = diesel::sql_query(sql).bind::<SqlUuid, _>(id.0).bind::<SqlUuid, _>(me.0);
    Ok(found.get_result(tx.conn()).await.optional()?)
}

/// Work that was handed in, for whoever was found to be allowed to know of it.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is none.
pub(crate) async fn found(tx: &mut Tx<'_>, id: WorkSubmissionId) -> Result<Handed> {
    let me = tx.person()?.id;
    let found: Option<Handed> = diesel::sql_query(format!("{COLUMNS} WHERE s.id = $1"))
        .bind::<SqlUuid, _>(id.0)
        .bind::<SqlUuid, _>(me.0)
        .get_result(tx.conn())
        .await
        .optional()?;
    found.ok_or(Error::NotFound("submission"))
}

/// Work that was handed in, for the instructors and markers of its cohort.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller may read it, [`Error::Forbidden`] for its author, and [`Error::State`] for
/// whoever must give their second mark first.
pub(crate) async fn for_marker(tx: &mut Tx<'_>, id: WorkSubmissionId) -> Result<Handed> {
    let hidden = || Error::NotFound("submission");
    let found = found(tx, id).await?;
    let role = match seat::member(tx, found.cohort()).await {
        Err(Error::NotFound(_)) => return Err(hidden()),
        other => other?,
    };
    if role == CohortRole::Student {
        return match tx.person()?.id == found.student() {
            true => Err(Error::Forbidden(
                "Only the cohort's instructors and markers assess work. Read your mark with your work."
                    .into(),
            )),
            false => Err(hidden()),
        };
    }
    if found.blind {
        return Err(blind::refused());
    }
    Ok(found)
}

/// As [`for_marker`], with the work held, to be changed.
///
/// # Errors
/// As [`for_marker`] and [`may_mark`].
pub(crate) async fn held_by_marker(tx: &mut Tx<'_>, id: WorkSubmissionId) -> Result<Handed> {
    let before = for_marker(tx, id).await?;
    lock(tx, before.locks()).await?;
    let handed = for_marker(tx, id).await?;
    may_mark(tx, &handed).await?;
    Ok(handed)
}

/// Refuses whoever made the work, or declared a relation to its maker. Triggers hold it too.
///
/// # Errors
/// Returns [`Error::Forbidden`].
pub(crate) async fn may_mark(tx: &mut Tx<'_>, handed: &Handed) -> Result<()> {
    let me = tx.person()?.id;
    if me == handed.student() {
        return Err(Error::Forbidden("You may not mark your own work. Ask another marker.".into()));
    }
    let related: Option<Uuid> = declared_relation::table
        .filter(declared_relation::staff_id.eq(me.0))
        .filter(declared_relation::student_id.eq(handed.person))
        .select(declared_relation::id)
        .first(tx.conn())
        .await
        .optional()?;
    match related {
        None => Ok(()),
        Some(_) => Err(Error::Forbidden(
            "You declared a relation to this student, so you may not mark this work. Ask another marker."
                .into(),
        )),
    }
}
