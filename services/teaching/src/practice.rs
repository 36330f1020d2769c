//! How often questions were missed and findings made, of one student or of a cohort, by kind.

use diesel::prelude::*;
use diesel::sql_types::{BigInt, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Result, Tx};
use uuid::Uuid;

use crate::judged_work::Whose;

/// One kind of question.
#[derive(QueryableByName)]
pub(crate) struct Questions {
    #[diesel(sql_type = Text)]
    pub(crate) kind: String,
    /// How many were answered.
    #[diesel(sql_type = BigInt)]
    pub(crate) questions: i64,
    /// Of how many the first answer was not right.
    #[diesel(sql_type = BigInt)]
    pub(crate) missed: i64,
    /// The assignment of the last of those.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(crate) assignment: Option<Uuid>,
}

/// The kinds of questions that were answered, those with most misses first. Only the first answer counts: those after it
/// were told what was wrong.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn questions(tx: &mut Tx<'_>, whose: Whose) -> Result<Vec<Questions>> {
    Ok(diesel::sql_query(format!(
        "SELECT q.kind, count(*) AS questions, count(*) FILTER (WHERE NOT f.is_right) AS missed,
             (array_agg(q.assignment_id ORDER BY f.at DESC, q.id DESC) FILTER (WHERE NOT f.is_right))[1] AS assignment
         FROM assignment_work w JOIN assignment a ON a.id = w.assignment_id JOIN question q ON q.work_id = w.id
         JOIN question_answer f ON f.question_id = q.id AND f.number = 1
         WHERE {} GROUP BY q.kind ORDER BY missed DESC, questions, q.kind COLLATE \"C\"",
        Whose::SQL
    ))
    .bind::<Nullable<SqlUuid>, _>(whose.student())
    .bind::<Nullable<SqlUuid>, _>(whose.cohort())
    .load(tx.conn())
    .await?)
}

/// One kind of finding.
#[derive(QueryableByName)]
pub(crate) struct Findings {
    #[diesel(sql_type = Text)]
    pub(crate) kind: String,
    /// How many versions were handed in.
    #[diesel(sql_type = BigInt)]
    pub(crate) works: i64,
    /// How many of them had such a finding.
    #[diesel(sql_type = BigInt)]
    pub(crate) with_finding: i64,
    /// How many there were in all.
    #[diesel(sql_type = BigInt)]
    pub(crate) findings: i64,
    /// The batch of the last version that had one.
    #[diesel(sql_type = SqlUuid)]
    pub(crate) batch: Uuid,
}

/// The kinds of findings in what was handed in, those in most versions first. What is closed to the caller as a second marker
/// is left out.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn findings(tx: &mut Tx<'_>, whose: Whose) -> Result<Vec<Findings>> {
    let me = tx.person()?.id;
    Ok(diesel::sql_query(format!(
        "WITH handed AS (SELECT h.id, h.batch_id, h.received_at
             FROM assignment_work w JOIN assignment a ON a.id = w.assignment_id JOIN handed_work h ON h.work_id = w.id
             WHERE {} AND NOT blind_work(w.id, $3))
         SELECT f.kind, (SELECT count(*) FROM handed) AS works, count(*) AS with_finding, sum(f.found) AS findings,
             (array_agg(h.batch_id ORDER BY h.received_at DESC, h.id DESC))[1] AS batch
         FROM handed h JOIN handed_finding f ON f.handed_id = h.id
         GROUP BY f.kind ORDER BY with_finding DESC, findings DESC, f.kind COLLATE \"C\"",
        Whose::SQL
    ))
    .bind::<Nullable<SqlUuid>, _>(whose.student())
    .bind::<Nullable<SqlUuid>, _>(whose.cohort())
    .bind::<SqlUuid, _>(me.0)
    .load(tx.conn())
    .await?)
}

/// Findings of one kind in one version.
#[derive(QueryableByName)]
pub(crate) struct OfVersion {
    #[diesel(sql_type = SqlUuid)]
    pub(crate) handed: Uuid,
    #[diesel(sql_type = Text)]
    pub(crate) kind: String,
    #[diesel(sql_type = diesel::sql_types::Integer)]
    pub(crate) found: i32,
}

/// The kinds of findings of some versions.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_versions(tx: &mut Tx<'_>, versions: &[Uuid]) -> Result<Vec<OfVersion>> {
    Ok(diesel::sql_query(
        "SELECT f.handed_id AS handed, f.kind, f.found FROM handed_finding f WHERE f.handed_id = ANY($1)
         ORDER BY f.handed_id, f.found DESC, f.kind COLLATE \"C\"",
    )
    .bind::<diesel::sql_types::Array<SqlUuid>, _>(versions)
    .load(tx.conn())
    .await?)
}
