//! The marks of a cohort as a table or as a line of JSON each. A cell that a spreadsheet would evaluate as a formula is
//! written with a leading apostrophe.

use chrono::{DateTime, SecondsFormat, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Integer, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Credentials, Error, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{AssignmentId, CohortId, PersonId, WorkSubmissionId};
use wire::teaching::ExportedMark;

use crate::{marks, seat};

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    mark: Uuid,
    #[diesel(sql_type = SqlUuid)]
    assignment: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = SqlUuid)]
    student: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = SqlUuid)]
    work: Uuid,
    #[diesel(sql_type = SqlUuid)]
    handed: Uuid,
    #[diesel(sql_type = Integer)]
    version: i32,
    #[diesel(sql_type = Text)]
    verdict: String,
    #[diesel(sql_type = Bool)]
    late: bool,
    #[diesel(sql_type = Integer)]
    of_points: i32,
    #[diesel(sql_type = Integer)]
    marks: i32,
    #[diesel(sql_type = Text)]
    marker: String,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
}

/// The most marks that are exported at once: as many as a grid can show.
const MOST: i64 = 100_000;

/// A mark that counts, with the work that it is of, whatever version.
pub(crate) struct Counting {
    pub(crate) work: Uuid,
    pub(crate) mark: ExportedMark,
}

/// The marks that count of a cohort, by assignment and student, for its instructors and markers. Work of those who left the
/// cohort is among them; marks that are closed to the caller as a second marker are not. Two statements.
async fn exported(store: &Store, credentials: &Credentials, cohort: CohortId) -> Result<Vec<ExportedMark>> {
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            Ok(counting(tx, cohort).await?.into_iter().map(|one| one.mark).collect())
        })
        .await
}

/// As [`exported`], in a transaction, for whoever was found to be allowed to read them.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn counting(tx: &mut Tx<'_>, cohort: CohortId) -> Result<Vec<Counting>> {
    let me = tx.person()?.id;
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT k.id AS mark, a.id AS assignment, v.title, p.id AS student, p.name, w.id AS work, h.id AS handed,
             h.number AS version, h.state AS verdict, h.late,
             coalesce((v.rubric ->> 'total_points')::integer, 0) AS of_points, k.number AS marks,
             marker.name AS marker, k.at
         FROM assignment a JOIN assignment_work w ON w.assignment_id = a.id
         JOIN handed_work h ON h.work_id = w.id
         JOIN LATERAL (SELECT m.id, m.number, m.marker_id, m.at FROM work_mark m WHERE m.handed_id = h.id
             ORDER BY m.number DESC LIMIT 1) k ON true
         JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
         JOIN person p ON p.id = w.person_id JOIN person marker ON marker.id = k.marker_id
         WHERE a.cohort_id = $1 AND NOT blind_work(w.id, $3)
         ORDER BY v.due_at, a.id, p.name COLLATE \"C\", p.id LIMIT $2",
    )
    .bind::<SqlUuid, _>(cohort.0)
    .bind::<BigInt, _>(MOST)
    .bind::<SqlUuid, _>(me.0)
    .load(tx.conn())
    .await?;
    let ids: Vec<Uuid> = rows.iter().map(|row| row.mark).collect();
    let mut criteria = marks::criteria_of(tx, &ids).await?;
    let shown = |row: Row| {
        let criteria = criteria.remove(&row.mark).unwrap_or_default();
        let mark = ExportedMark {
            assignment: AssignmentId(row.assignment),
            title: row.title,
            student: PersonId(row.student),
            name: row.name,
            submission: WorkSubmissionId(row.handed),
            version: row.version.unsigned_abs(),
            verdict: row.verdict,
            late: row.late,
            points: criteria.iter().filter_map(|one| one.points).sum(),
            of_points: row.of_points.unsigned_abs(),
            marks: row.marks.unsigned_abs(),
            marker: row.marker,
            at: row.at,
            criteria,
        };
        Counting { work: row.work, mark }
    };
    Ok(rows.into_iter().map(shown).collect())
}

/// The marks as lines of JSON.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, and [`Error::Forbidden`] for students.
pub async fn marks_lines(store: &Store, credentials: &Credentials, cohort: CohortId) -> Result<String> {
    let mut lines = String::new();
    for mark in exported(store, credentials, cohort).await? {
        lines.push_str(&serde_json::to_string(&mark)?);
        lines.push('\n');
    }
    Ok(lines)
}

/// The headings of the table: the fields of a line of JSON.
const HEADINGS: [&str; 13] = [
    "assignment",
    "title",
    "student",
    "name",
    "submission",
    "version",
    "verdict",
    "late",
    "points",
    "of_points",
    "marks",
    "marker",
    "at",
];

/// The marks as CSV (RFC 4180).
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, and [`Error::Forbidden`] for students.
pub async fn marks_table(store: &Store, credentials: &Credentials, cohort: CohortId) -> Result<String> {
    let marks = exported(store, credentials, cohort).await?;
    table(&HEADINGS, marks.iter().map(cells))
}

/// A table as CSV (RFC 4180), below its headings.
///
/// # Errors
/// Returns [`Error::Internal`] where it cannot be written.
pub(crate) fn table<const N: usize>(
    headings: &[&str; N],
    rows: impl Iterator<Item = [String; N]>,
) -> Result<String> {
    let broken = |error: csv::Error| Error::Internal(error.into());
    let terminator = csv::Terminator::CRLF;
    let mut out = csv::WriterBuilder::new().terminator(terminator).from_writer(Vec::new());
    out.write_record(headings).map_err(broken)?;
    for row in rows {
        out.write_record(row.map(harmless)).map_err(broken)?;
    }
    let bytes = out.into_inner().map_err(|error| Error::internal(error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| Error::internal(error.to_string()))
}

fn cells(mark: &ExportedMark) -> [String; 13] {
    [
        mark.assignment.to_string(),
        mark.title.clone(),
        mark.student.to_string(),
        mark.name.clone(),
        mark.submission.to_string(),
        mark.version.to_string(),
        mark.verdict.clone(),
        mark.late.to_string(),
        mark.points.to_string(),
        mark.of_points.to_string(),
        mark.marks.to_string(),
        mark.marker.clone(),
        mark.at.to_rfc3339_opts(SecondsFormat::AutoSi, true),
    ]
}

/// A title such as `=1+1` would be worked out by a spreadsheet.
fn harmless(cell: String) -> String {
    if cell.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{cell}") } else { cell }
}
