//! Progress: how a student's work was judged over time, what to practise next, and where a class struggles.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{QuestionKind, SubmissionState};
use crate::bench::FindingKind;
use crate::ids::{AssignmentId, BatchId, CohortId, PersonId, WorkSubmissionId};

/// What was decided on one criterion of one piece of work, by the mark that counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CriterionMark {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// The assignment.
    pub assignment: AssignmentId,
    /// The title of the assignment, as it was when the work was handed in.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// When the work was handed in.
    pub handed_in_at: DateTime<Utc>,
    /// Which of the levels, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 2)]
    pub level: Option<u32>,
    /// How many levels the criterion has. None where it must be passed.
    #[schema(example = 3)]
    pub levels: u32,
    /// The words of that level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "One line is outside tolerance.")]
    pub says: Option<String>,
    /// The points of that level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 3)]
    pub points: Option<u32>,
    /// The points of the highest level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 6)]
    pub of_points: Option<u32>,
    /// Of a must-pass criterion: whether it is met.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub met: Option<bool>,
}

/// A criterion over time. Criteria of several assignments are one where their titles are the same.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CriterionProgress {
    /// What is assessed.
    #[schema(example = "Weighing")]
    pub title: String,
    /// Whether it must be passed.
    pub must_pass: bool,
    /// What was decided on it, the first work first.
    pub marks: Vec<CriterionMark>,
}

/// How a student answers one kind of question.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct QuestionPractice {
    /// What the questions are about.
    pub kind: QuestionKind,
    /// How many were answered.
    #[schema(example = 4)]
    pub questions: u32,
    /// How many of them were not right at the first attempt.
    #[schema(example = 1)]
    pub missed: u32,
    /// The assignment of the last one that was not right at the first attempt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assignment: Option<AssignmentId>,
}

/// How often one kind of finding was in a student's work.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FindingPractice {
    /// The kind of finding.
    pub kind: FindingKind,
    /// How many versions of work were handed in.
    #[schema(example = 6)]
    pub works: u32,
    /// How many of them had such a finding.
    #[schema(example = 2)]
    pub with_finding: u32,
    /// How many such findings there were in all.
    #[schema(example = 3)]
    pub findings: u32,
    /// The batch of the last version that had one.
    pub batch: BatchId,
}

/// A piece of accepted work.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct AcceptedWork {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// The assignment.
    pub assignment: AssignmentId,
    /// The title of the assignment, as it was when the work was handed in.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// The batch.
    pub batch: BatchId,
    /// The number of the batch.
    #[schema(example = "2026-0042")]
    pub batch_number: String,
    /// The title of the formula that was made.
    #[schema(example = "Calendula cream")]
    pub formula: String,
    /// Which version of the work it is, counted from 1.
    #[schema(example = 1)]
    pub version: u32,
    /// When it was handed in.
    pub handed_in_at: DateTime<Utc>,
    /// Whether that was after it was due.
    pub late: bool,
    /// The points of the mark that counts. None of practice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 8)]
    pub points: Option<u32>,
    /// Of how many.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 10)]
    pub of_points: Option<u32>,
}

/// A student's progress. No amount of any formula is in it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct StudentProgress {
    /// The student.
    pub person: PersonId,
    /// The student's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub name: Option<String>,
    /// The criteria over time, by title.
    pub criteria: Vec<CriterionProgress>,
    /// The kinds of questions, those with most misses first.
    pub questions: Vec<QuestionPractice>,
    /// The kinds of findings, those in most work first.
    pub findings: Vec<FindingPractice>,
    /// Accepted work, the newest first.
    pub accepted: Vec<AcceptedWork>,
}

/// What was decided on one criterion of a version, as it is exported.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ExportedCriterion {
    /// What is assessed.
    #[schema(example = "Weighing")]
    pub title: String,
    /// Which of the levels, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 2)]
    pub level: Option<u32>,
    /// The words of that level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "One line is outside tolerance.")]
    pub says: Option<String>,
    /// The points of that level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 3)]
    pub points: Option<u32>,
    /// The points of the highest level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 6)]
    pub of_points: Option<u32>,
    /// Of a must-pass criterion: whether it is met.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub met: Option<bool>,
}

/// How many findings of one kind a version had.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ExportedFindings {
    /// The kind of finding.
    pub kind: FindingKind,
    /// How many.
    #[schema(example = 1)]
    pub findings: u32,
}

/// A version of work that was handed in, as its student exports it: one a line.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ExportedWork {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// The assignment.
    pub assignment: AssignmentId,
    /// The title of the assignment, as it was when the work was handed in.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// The name of the cohort.
    #[schema(example = "First year, spring")]
    pub cohort: String,
    /// The number of the batch.
    #[schema(example = "2026-0042")]
    pub batch_number: String,
    /// The title of the formula that was made.
    #[schema(example = "Calendula cream")]
    pub formula: String,
    /// Which version of the work it is, counted from 1.
    #[schema(example = 1)]
    pub version: u32,
    /// Its state.
    pub state: SubmissionState,
    /// When it was handed in.
    pub handed_in_at: DateTime<Utc>,
    /// Whether that was after it was due.
    pub late: bool,
    /// When the mark that counts was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub marked_at: Option<DateTime<Utc>>,
    /// The points of that mark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 8)]
    pub points: Option<u32>,
    /// Of how many.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 10)]
    pub of_points: Option<u32>,
    /// What was decided on each criterion. None without a mark.
    pub criteria: Vec<ExportedCriterion>,
    /// What was found in the record when it was handed in.
    pub findings: Vec<ExportedFindings>,
}

/// How a class does on one criterion, by the marks that count.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CriterionDifficulty {
    /// What is assessed.
    #[schema(example = "Weighing")]
    pub title: String,
    /// Whether it must be passed.
    pub must_pass: bool,
    /// How many works were judged by it.
    #[schema(example = 24)]
    pub works: u32,
    /// How many of them are below the highest level; of a must-pass criterion, how many do not meet it.
    #[schema(example = 9)]
    pub below: u32,
    /// The same in whole per cent. Absent below `shares_from` works.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 38)]
    pub percent: Option<u32>,
}

/// How a class answers one kind of question.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct QuestionDifficulty {
    /// What the questions are about.
    pub kind: QuestionKind,
    /// How many were answered.
    #[schema(example = 24)]
    pub questions: u32,
    /// How many of them were not right at the first attempt.
    #[schema(example = 6)]
    pub missed: u32,
    /// The same in whole per cent. Absent below `shares_from` questions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 25)]
    pub percent: Option<u32>,
}

/// How often one kind of finding is in the work of a class.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FindingDifficulty {
    /// The kind of finding.
    pub kind: FindingKind,
    /// How many versions of work were handed in.
    #[schema(example = 24)]
    pub works: u32,
    /// How many of them had such a finding.
    #[schema(example = 4)]
    pub with_finding: u32,
    /// The same in whole per cent. Absent below `shares_from` versions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 17)]
    pub percent: Option<u32>,
    /// How many such findings there were in all.
    #[schema(example = 5)]
    pub findings: u32,
}

/// Where a class struggles. What is closed to you as a second marker is left out.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct CohortDifficulties {
    /// The cohort.
    pub cohort: CohortId,
    /// From how many on a number is told as a share too.
    #[schema(example = 10)]
    pub shares_from: u32,
    /// The rule behind that.
    #[schema(
        example = "Shares are told from 10 on, since one more or less among fewer changes them much (common practice, no source)."
    )]
    pub rule: String,
    /// The criteria, those with most work below the highest level first.
    pub criteria: Vec<CriterionDifficulty>,
    /// The kinds of questions, those with most misses first.
    pub questions: Vec<QuestionDifficulty>,
    /// The kinds of findings, those in most work first.
    pub findings: Vec<FindingDifficulty>,
}
