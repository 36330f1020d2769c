//! Appeals: a student disagrees with a mark, and somebody who did not give it looks at the work again.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{CohortTime, CriterionLevel};
use crate::ids::{AssignmentId, BatchId, MarkId, PersonId, WorkSubmissionId};
use crate::words::words;

words! {
    /// Why a student disagrees with a mark.
    AppealReason {
        /// The record was read wrongly.
        RecordMisread = "record_misread",
        /// A finding is wrong.
        FindingWrong = "finding_wrong",
        /// The work is as a higher level describes it.
        LevelAsDescribed = "level_as_described",
        /// Something that the record does not show stood in the way.
        Circumstances = "circumstances",
    }
}

/// Appealing against the mark that counts. The details are told to whoever looks at the work again.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAppeal {
    /// Why.
    pub reason: AppealReason,
    /// Which criteria of the rubric it is about, counted from 1. At least one.
    #[schema(example = json!([1]))]
    pub criteria: Vec<u32>,
}

words! {
    /// What came of an appeal.
    AppealOutcome {
        /// The mark was changed.
        Upheld = "upheld",
        /// The mark stands.
        Stands = "stands",
    }
}

/// Deciding an appeal.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "outcome": "stands" }))]
pub struct AppealDecision {
    /// What comes of it.
    pub outcome: AppealOutcome,
    /// For `upheld`: the criteria that get another level. Else empty or absent.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub criteria: Vec<CriterionLevel>,
}

/// What was decided of an appeal.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct DecidedAppeal {
    /// What came of it.
    pub outcome: AppealOutcome,
    /// Who decided.
    pub decided_by: PersonId,
    /// The name of who decided.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Marek Dvorsky")]
    pub decided_by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// The mark that it gave. The one of before stays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark: Option<MarkId>,
}

/// An appeal.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Appeal {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// The mark that it is against.
    pub mark: MarkId,
    /// Why.
    pub reason: AppealReason,
    /// Which criteria it is about.
    #[schema(example = json!([1]))]
    pub criteria: Vec<u32>,
    /// When it was made.
    pub at: DateTime<Utc>,
    /// What was decided. Absent while it waits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decided: Option<DecidedAppeal>,
}

/// Until when and whether a mark can be appealed against, and the appeal that was made.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Appeals {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// Until when the mark that counts can be appealed against. Absent before there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<CohortTime>,
    /// The appeal. One can be made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub appeal: Option<Appeal>,
}

/// An appeal that waits, for those who may decide it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct WaitingAppeal {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// The batch, with which the record is read.
    pub batch: BatchId,
    /// The number of the batch.
    #[schema(example = "2026-0042")]
    pub batch_number: String,
    /// The assignment.
    pub assignment: AssignmentId,
    /// Its title.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// The student's name.
    #[schema(example = "Noor Haddad")]
    pub name: String,
    /// Why.
    pub reason: AppealReason,
    /// Which criteria it is about.
    #[schema(example = json!([1]))]
    pub criteria: Vec<u32>,
    /// When it was made.
    pub at: DateTime<Utc>,
}
