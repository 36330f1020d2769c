//! Marks: how work that was handed in is assessed, claimed and marked.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Allowance, CohortTime, Rubric, WorkSubmission};
use crate::bench::Finding;
use crate::ids::{BatchId, MarkId, PersonId, PhraseId, RelationId, WorkSubmissionId};
use crate::words::words;

words! {
    /// Why a mark is changed.
    MarkReason {
        /// Another level was meant.
        WrongLevel = "wrong_level",
        /// The record was read wrongly.
        RecordMisread = "record_misread",
        /// The marker saw something that was not known before.
        NewEvidence = "new_evidence",
        /// A second marker judged otherwise, and the two marks were settled.
        SecondMarker = "second_marker",
        /// The student disagreed, and was right.
        Appeal = "appeal",
    }
}

/// The level of one criterion.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CriterionLevel {
    /// Which criterion of the rubric, counted from 1.
    #[schema(example = 1)]
    pub criterion: u32,
    /// Which of its levels, counted from 1.
    #[schema(example = 1)]
    pub level: u32,
}

/// Changing a mark. The mark of before stays.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkChange {
    /// Why.
    pub reason: MarkReason,
    /// The criteria that get another level. What a must-pass criterion is stays as the verdict has it.
    pub criteria: Vec<CriterionLevel>,
}

/// What was decided on one criterion.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct MarkedCriterion {
    /// Which criterion of the rubric, counted from 1.
    #[schema(example = 1)]
    pub criterion: u32,
    /// Which of its levels, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 2)]
    pub level: Option<u32>,
    /// The points of that level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 6)]
    pub points: Option<u32>,
    /// Of a must-pass criterion: whether it is met.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub met: Option<bool>,
    /// Which comment of the review is beside it, counted from 1. The comments are read with the batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 1)]
    pub comment: Option<u32>,
}

/// A mark.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct WorkMark {
    /// The mark.
    pub id: MarkId,
    /// Its number, counted from 1. The highest counts.
    #[schema(example = 1)]
    pub number: u32,
    /// Who gave it.
    pub marker: PersonId,
    /// The name of who gave it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub marker_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// Why it takes the place of the one before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub reason: Option<MarkReason>,
    /// The points of its levels together.
    #[schema(example = 10)]
    pub points: u32,
    /// What was decided on each criterion, in the order of the rubric.
    pub criteria: Vec<MarkedCriterion>,
}

/// The marks of work that was handed in, as they were released with the verdict.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct WorkMarks {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// The batch, with which the comments are read.
    pub batch: BatchId,
    /// Whether it came after it was due. No points are taken off for that.
    pub late: bool,
    /// The rubric that it is assessed by: that of the version of the assignment under which it was handed in.
    pub rubric: Rubric,
    /// The marks, the newest first. None before the verdict, and none of practice.
    pub marks: Vec<WorkMark>,
}

/// Who is marking work that was handed in, and until when nobody else can.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct WorkClaim {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// Who is marking it.
    pub marker: PersonId,
    /// The name of who is marking it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub marker_name: Option<String>,
    /// Since when.
    pub claimed_at: DateTime<Utc>,
    /// Until when. Claiming again prolongs it.
    pub until: CohortTime,
}

/// The level that the findings propose for one criterion. It decides nothing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LevelProposal {
    /// Which criterion of the rubric, counted from 1.
    #[schema(example = 1)]
    pub criterion: u32,
    /// The level that is proposed, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 2)]
    pub level: Option<u32>,
    /// Of a must-pass criterion: whether it looks met.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub met: Option<bool>,
    /// The findings that it rests on.
    pub findings: Vec<Finding>,
    /// Findings that only carry an earlier one forward. They do not count again.
    pub carried_forward: Vec<Finding>,
    /// The rule by which it is proposed.
    #[schema(
        example = "One level below the highest for each line, step or entry with a finding (common practice, no source)."
    )]
    pub rule: String,
}

/// The version of the work that was returned before this one. What is new since is every entry of the same batch with a
/// higher number than `last_entry`, or all of another batch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReturnedVersion {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// Which version of the work it was, counted from 1.
    #[schema(example = 1)]
    pub number: u32,
    /// Its batch.
    pub batch: BatchId,
    /// The number of its batch.
    #[schema(example = "2026-0041")]
    pub batch_number: String,
    /// The number of the last entry that was handed in with it.
    #[schema(example = 14)]
    pub last_entry: u32,
}

/// What a marker needs to assess work that was handed in.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Assessment {
    /// The submission.
    pub submission: WorkSubmission,
    /// The rubric that it is assessed by.
    pub rubric: Rubric,
    /// What the student was allowed when it was handed in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub allowance: Option<Allowance>,
    /// The claim that holds it, if one does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub claim: Option<WorkClaim>,
    /// The version that was returned before it, if one was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub returned: Option<ReturnedVersion>,
    /// What the findings propose, for the criteria that name kinds of findings.
    pub proposals: Vec<LevelProposal>,
}

/// Declaring a relation to a student.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewRelation {
    /// The student.
    pub student: PersonId,
}

/// A declared relation. Whoever declares it marks no work of that student.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Relation {
    /// The relation.
    pub id: RelationId,
    /// The student.
    pub student: PersonId,
    /// The student's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub student_name: Option<String>,
    /// When it was declared.
    pub declared_at: DateTime<Utc>,
}

/// Keeping a phrase for comments.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPhrase {
    /// The phrase: 1 to 400 characters.
    #[schema(example = "Wait until the balance stands still, then read it.")]
    pub text: String,
}

/// A phrase that is kept for comments. Only its author sees it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct KeptPhrase {
    /// The phrase.
    pub id: PhraseId,
    /// Its text.
    #[schema(example = "Wait until the balance stands still, then read it.")]
    pub text: String,
    /// When it was added.
    pub added_at: DateTime<Utc>,
}
