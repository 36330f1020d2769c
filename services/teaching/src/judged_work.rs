//! Work that was handed in, with what was decided on each criterion by the mark that counts: of one student or of a cohort.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{
    Array, BigInt, Bool, Integer, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use store::{Result, Tx};
use uuid::Uuid;
use wire::ids::{CohortId, PersonId};

/// The most versions that are read of one student or one cohort: as many as a grid can show.
const MOST: i64 = 100_000;

/// A version that was handed in.
#[derive(QueryableByName)]
pub(crate) struct Version {
    #[diesel(sql_type = SqlUuid)]
    pub(crate) handed: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) assignment: Uuid,
    #[diesel(sql_type = Text)]
    pub(crate) title: String,
    #[diesel(sql_type = Text)]
    pub(crate) cohort: String,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) batch: Uuid,
    #[diesel(sql_type = Text)]
    pub(crate) batch_number: String,
    #[diesel(sql_type = Text)]
    pub(crate) formula: String,
    #[diesel(sql_type = Integer)]
    pub(crate) number: i32,
    #[diesel(sql_type = Text)]
    pub(crate) state: String,
    #[diesel(sql_type = Bool)]
    pub(crate) late: bool,
    #[diesel(sql_type = Timestamptz)]
    pub(crate) received_at: DateTime<Utc>,
    #[diesel(sql_type = Integer)]
    pub(crate) of_points: i32,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub(crate) marked_at: Option<DateTime<Utc>>,
}

/// Whose work is read: of one student, in one cohort or in all of theirs; or of a whole cohort.
#[derive(Clone, Copy)]
pub(crate) struct Whose {
    pub(crate) student: Option<PersonId>,
    pub(crate) cohort: Option<CohortId>,
}

impl Whose {
    /// Of whom, for SQL: `$1` is the student, `$2` the cohort, each of which may be NULL, and `$3` the reader.
    pub(crate) const SQL: &str =
        "($1::uuid IS NULL OR w.person_id = $1) AND ($2::uuid IS NULL OR a.cohort_id = $2)";

    pub(crate) fn student(self) -> Option<Uuid> {
        self.student.map(|id| id.0)
    }

    pub(crate) fn cohort(self) -> Option<Uuid> {
        self.cohort.map(|id| id.0)
    }
}

/// The versions that a student or a cohort handed in, the first one first. Those that are closed to the caller as a second
/// marker are left out.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn versions(tx: &mut Tx<'_>, whose: Whose) -> Result<Vec<Version>> {
    let me = tx.person()?.id;
    Ok(diesel::sql_query(format!(
        "SELECT h.id AS handed, a.id AS assignment, v.title, c.name AS cohort, h.batch_id AS batch,
             b.number AS batch_number, r.title AS formula, h.number, h.state, h.late, h.received_at,
             coalesce((v.rubric ->> 'total_points')::integer, 0) AS of_points, k.at AS marked_at
         FROM assignment_work w JOIN assignment a ON a.id = w.assignment_id JOIN cohort c ON c.id = a.cohort_id
         JOIN handed_work h ON h.work_id = w.id
         JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
         JOIN batch b ON b.id = h.batch_id JOIN revision r ON r.id = b.revision_id
         LEFT JOIN LATERAL (SELECT m.at FROM work_mark m WHERE m.handed_id = h.id ORDER BY m.number DESC LIMIT 1) k ON true
         WHERE {} AND NOT blind_work(w.id, $3) ORDER BY h.received_at, h.id LIMIT $4",
        Whose::SQL
    ))
    .bind::<Nullable<SqlUuid>, _>(whose.student())
    .bind::<Nullable<SqlUuid>, _>(whose.cohort())
    .bind::<SqlUuid, _>(me.0)
    .bind::<BigInt, _>(MOST)
    .load(tx.conn())
    .await?)
}

/// What was decided on one criterion of a version.
#[derive(QueryableByName)]
pub(crate) struct Criterion {
    #[diesel(sql_type = SqlUuid)]
    handed: Uuid,
    #[diesel(sql_type = Text)]
    pub(crate) title: String,
    #[diesel(sql_type = Bool)]
    pub(crate) must_pass: bool,
    #[diesel(sql_type = Integer)]
    pub(crate) levels: i32,
    #[diesel(sql_type = Nullable<SmallInt>)]
    pub(crate) level: Option<i16>,
    #[diesel(sql_type = Nullable<Text>)]
    pub(crate) says: Option<String>,
    #[diesel(sql_type = Nullable<Integer>)]
    pub(crate) points: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    pub(crate) of_points: Option<i32>,
    #[diesel(sql_type = Nullable<Bool>)]
    pub(crate) met: Option<bool>,
}

/// What was decided on each criterion of some versions, by version and in the order of its rubric.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn criteria(tx: &mut Tx<'_>, versions: &[Version]) -> Result<HashMap<Uuid, Vec<Criterion>>> {
    let ids: Vec<Uuid> =
        versions.iter().filter(|one| one.marked_at.is_some()).map(|one| one.handed).collect();
    let rows: Vec<Criterion> = diesel::sql_query(
        "SELECT h.id AS handed, r.criterion ->> 'title' AS title, (r.criterion ->> 'must_pass')::boolean AS must_pass,
             jsonb_array_length(r.criterion -> 'levels') AS levels, c.level,
             r.criterion -> 'levels' -> (c.level - 1) ->> 'title' AS says, c.points,
             (r.criterion -> 'levels' -> -1 ->> 'points')::integer AS of_points, c.met
         FROM unnest($1) i (id) JOIN handed_work h ON h.id = i.id
         JOIN LATERAL (SELECT m.id FROM work_mark m WHERE m.handed_id = h.id ORDER BY m.number DESC LIMIT 1) k ON true
         JOIN work_mark_criterion c ON c.mark_id = k.id
         JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
         CROSS JOIN LATERAL (SELECT v.rubric -> 'criteria' -> (c.position - 1) AS criterion) r
         ORDER BY h.id, c.position",
    )
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.conn())
    .await?;
    let mut of: HashMap<Uuid, Vec<Criterion>> = HashMap::new();
    for row in rows {
        of.entry(row.handed).or_default().push(row);
    }
    Ok(of)
}

impl Criterion {
    /// Whether the work is below the highest level, or does not meet what it must.
    pub(crate) fn is_below(&self) -> bool {
        match self.met {
            Some(met) => !met,
            None => self.level.is_some_and(|level| i32::from(level) < self.levels),
        }
    }
}

/// The points of a mark.
pub(crate) fn points(criteria: &[Criterion]) -> u32 {
    criteria.iter().filter_map(|one| one.points).map(i32::unsigned_abs).sum()
}

/// A count of the database.
pub(crate) fn count(number: i64) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}
