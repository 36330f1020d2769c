//! The marks of a cohort as the CSV files of OneRoster 1.2, for another system that keeps grades: a manifest, one category, a
//! line item for each assignment that gives points, and a result for each mark that counts.
//!
//! Names of files and columns, their order and their words are from memory. The ids are those of the service. Whatever the
//! table of marks does not tell is not told here either; names of people are left out.

use std::io::{Cursor, Write};

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use diesel::prelude::*;
use diesel::sql_types::{Integer, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Credentials, Error, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::CohortId;
use wire::teaching::ExportedMark;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use crate::export::{self, Counting, table};
use crate::{cohorts, seat};

/// The files of the form. Of those that are absent the manifest says so.
const FILES: [(&str, bool); 21] = [
    ("academicSessions", false),
    ("categories", true),
    ("classes", false),
    ("classResources", false),
    ("courses", false),
    ("courseResources", false),
    ("demographics", false),
    ("enrollments", false),
    ("lineItemLearningObjectiveIds", false),
    ("lineItems", true),
    ("lineItemScoreScales", false),
    ("orgs", false),
    ("resources", false),
    ("resultLearningObjectiveIds", false),
    ("results", true),
    ("resultScoreScales", false),
    ("roles", false),
    ("scoreScales", false),
    ("userProfiles", false),
    ("userResources", false),
    ("users", false),
];

const MANIFEST: [&str; 2] = ["propertyName", "value"];

const CATEGORIES: [&str; 5] = ["sourcedId", "status", "dateLastModified", "title", "weight"];

const LINE_ITEMS: [&str; 13] = [
    "sourcedId",
    "status",
    "dateLastModified",
    "title",
    "description",
    "assignDate",
    "dueDate",
    "classSourcedId",
    "categorySourcedId",
    "gradingPeriodSourcedId",
    "resultValueMin",
    "resultValueMax",
    "schoolSourcedId",
];

const RESULTS: [&str; 15] = [
    "sourcedId",
    "status",
    "dateLastModified",
    "lineItemSourcedId",
    "studentSourcedId",
    "scoreStatus",
    "score",
    "scoreDate",
    "comment",
    "textScore",
    "classSourcedId",
    "inProgress",
    "incomplete",
    "late",
    "missing",
];

#[derive(QueryableByName)]
struct LineItem {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Timestamptz)]
    opens_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    due_at: DateTime<Utc>,
    #[diesel(sql_type = Integer)]
    points: i32,
}

/// The files in one archive, uncompressed, for the cohort's instructors and markers.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, and [`Error::Forbidden`] for students.
pub async fn marks_archive(store: &Store, credentials: &Credentials, cohort: CohortId) -> Result<Vec<u8>> {
    let files = store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            let zone = cohorts::class(tx, cohort).await?.zone;
            let items = line_items(tx, cohort).await?;
            let marks = export::counting(tx, cohort).await?;
            files(cohort, zone, &items, &marks)
        })
        .await?;
    archive(&files)
}

/// The assignments that give points, by when they are due. One that became practice keeps the points that it gave before.
async fn line_items(tx: &mut Tx<'_>, cohort: CohortId) -> Result<Vec<LineItem>> {
    Ok(diesel::sql_query(
        "SELECT a.id, v.title, v.opens_at, v.due_at, p.points
         FROM assignment a JOIN assignment_version v ON v.assignment_id = a.id AND v.number = a.current_version
         JOIN LATERAL (SELECT coalesce(nullif((v.rubric ->> 'total_points')::integer, 0),
                 max((o.rubric ->> 'total_points')::integer), 0) AS points
             FROM assignment_version o WHERE o.assignment_id = a.id) p ON p.points > 0
         WHERE a.cohort_id = $1 AND a.state <> 'draft' ORDER BY v.due_at, a.id",
    )
    .bind::<SqlUuid, _>(cohort.0)
    .load(tx.conn())
    .await?)
}

fn files(
    cohort: CohortId,
    zone: Tz,
    items: &[LineItem],
    marks: &[Counting],
) -> Result<[(&'static str, String); 4]> {
    let category = [cohort.to_string(), String::new(), String::new(), "Assignments".into(), String::new()];
    let results = marks.iter().filter_map(|one| {
        let item = items.iter().find(|item| item.id == one.mark.assignment.0)?;
        result(cohort, zone, item, one)
    });
    Ok([
        ("manifest.csv", table(&MANIFEST, manifest())?),
        ("categories.csv", table(&CATEGORIES, std::iter::once(category))?),
        ("lineItems.csv", table(&LINE_ITEMS, items.iter().map(|item| line_item(cohort, zone, item)))?),
        ("results.csv", table(&RESULTS, results)?),
    ])
}

fn manifest() -> impl Iterator<Item = [String; 2]> {
    let versions = [("manifest.version", "1.0"), ("oneroster.version", "1.2")];
    let files = FILES
        .iter()
        .map(|(file, here)| [format!("file.{file}"), if *here { "bulk" } else { "absent" }.to_owned()]);
    let source = [("source.systemName", "Stillroom"), ("source.systemCode", "stillroom")];
    let pair = |(name, value): (&str, &str)| [name.to_owned(), value.to_owned()];
    versions.into_iter().map(pair).chain(files).chain(source.into_iter().map(pair))
}

fn day(at: DateTime<Utc>, zone: Tz) -> String {
    at.with_timezone(&zone).date_naive().to_string()
}

/// In a bulk file state and change stay empty. A cohort has one term, which has no id of its own.
fn line_item(cohort: CohortId, zone: Tz, item: &LineItem) -> [String; 13] {
    [
        item.id.to_string(),
        String::new(),
        String::new(),
        item.title.clone(),
        String::new(),
        day(item.opens_at, zone),
        day(item.due_at, zone),
        cohort.to_string(),
        cohort.to_string(),
        cohort.to_string(),
        "0".into(),
        item.points.to_string(),
        String::new(),
    ]
}

/// A result, once an assignment gave points. Its id is that of the student's work, so that a changed mark is the same result.
fn result(cohort: CohortId, zone: Tz, item: &LineItem, one: &Counting) -> Option<[String; 15]> {
    let (score, comment) = score(&one.mark, item.points.unsigned_abs())?;
    Some([
        one.work.to_string(),
        String::new(),
        String::new(),
        item.id.to_string(),
        one.mark.student.to_string(),
        "fully graded".into(),
        score,
        day(one.mark.at, zone),
        comment,
        String::new(),
        cohort.to_string(),
        "false".into(),
        "false".into(),
        one.mark.late.to_string(),
        "false".into(),
    ])
}

/// The points out of those of the line item, and a comment where the work was marked out of others.
fn score(mark: &ExportedMark, of: u32) -> Option<(String, String)> {
    if mark.of_points == of {
        return Some((mark.points.to_string(), String::new()));
    }
    let (points, from) = (u64::from(mark.points), u64::from(mark.of_points));
    let hundredths = (points * u64::from(of) * 100 + from / 2).checked_div(from)?;
    let comment = format!("{points} of {from} points, by an earlier version of the assignment.");
    Some((format!("{}.{:02}", hundredths / 100, hundredths % 100), comment))
}

/// The files in an archive whose bytes follow from them alone.
fn archive(files: &[(&str, String)]) -> Result<Vec<u8>> {
    let broken = |error: zip::result::ZipError| Error::internal(error.to_string());
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .last_modified_time(zip::DateTime::default());
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in files {
        out.start_file(*name, options).map_err(broken)?;
        out.write_all(text.as_bytes()).map_err(|error| Error::internal(error.to_string()))?;
    }
    Ok(out.finish().map_err(broken)?.into_inner())
}

#[cfg(test)]
mod tests {
    use wire::ids::{AssignmentId, PersonId, WorkSubmissionId};

    use super::*;

    fn mark(points: u32, of_points: u32) -> ExportedMark {
        ExportedMark {
            assignment: AssignmentId(Uuid::nil()),
            title: String::new(),
            student: PersonId(Uuid::nil()),
            name: String::new(),
            submission: WorkSubmissionId(Uuid::nil()),
            version: 1,
            verdict: "accepted".into(),
            late: false,
            points,
            of_points,
            marks: 1,
            marker: String::new(),
            at: DateTime::UNIX_EPOCH,
            criteria: Vec::new(),
        }
    }

    #[test]
    fn a_score_is_out_of_the_points_of_its_line_item_and_says_so_where_it_was_given_out_of_others() {
        assert_eq!(score(&mark(8, 10), 10), Some(("8".into(), String::new())));
        let (points, comment) = score(&mark(8, 10), 20).unwrap();
        assert_eq!(points, "16.00");
        assert_eq!(comment, "8 of 10 points, by an earlier version of the assignment.");
        assert_eq!(score(&mark(2, 3), 10).unwrap().0, "6.67");
        assert_eq!(score(&mark(0, 0), 10), None, "practice has no score");
    }

    #[test]
    fn the_same_files_give_the_same_bytes() {
        let files = [("a.csv", "one\r\n".to_owned()), ("b.csv", String::new())];
        assert_eq!(archive(&files).unwrap(), archive(&files).unwrap());
    }
}
