//! The markers' queue: work that waits to be marked.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::CohortTime;
use crate::bench::FindingKind;
use crate::ids::{AssignmentId, BatchId, CohortId, PersonId, WorkSubmissionId};
use crate::words::words;

words! {
    /// In what order work waits.
    QueueOrder {
        /// Work of which something stands out comes before clean work; of each, the oldest first.
        Exceptions = "exceptions",
        /// By when it came in.
        Oldest = "oldest",
        /// By when it was due for the student.
        Due = "due",
    }
}

words! {
    /// The one thing to know of work before it is opened. Of several, the first of this list.
    StandsOut {
        /// It was returned, and came back mended.
        CameBack = "came_back",
        /// There is a neutral note for those who teach.
        Noted = "noted",
        /// Something was found in the record; `finding` says of what kind.
        Found = "found",
        /// It came after it was due.
        Late = "late",
    }
}

/// Which work, in what order.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct QueueQuery {
    /// In what order. Exceptions first if absent.
    #[param(inline)]
    pub order: Option<QueueOrder>,
    /// Only of this cohort.
    pub cohort: Option<CohortId>,
    /// `true`: only work that was returned and came back.
    pub came_back: Option<bool>,
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
    /// The `next` of the previous page, which was asked for in the same order.
    pub after: Option<String>,
}

/// Who holds work, and until when.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct QueueClaim {
    /// Who is marking it.
    pub marker: PersonId,
    /// The name of who is marking it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub marker_name: Option<String>,
    /// Until when nobody else can.
    pub until: CohortTime,
}

/// Work that waits to be marked. It holds no amount.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct WaitingWork {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// Which version of the work it is, counted from 1.
    #[schema(example = 1)]
    pub number: u32,
    /// The assignment.
    pub assignment: AssignmentId,
    /// Its title.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// The cohort.
    pub cohort: CohortId,
    /// Its name.
    #[schema(example = "First year")]
    pub cohort_name: String,
    /// The student.
    pub person: PersonId,
    /// The student's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub name: Option<String>,
    /// What stands in place of the student while the work is marked blind: `person` is nil then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub candidate: Option<String>,
    /// The batch, with which the record is read.
    pub batch: BatchId,
    /// The number of the batch, or the candidate.
    #[schema(example = "2026-0042")]
    pub batch_number: String,
    /// When it came in.
    pub received_at: DateTime<Utc>,
    /// When it was due for this student; of a candidate, for the class.
    pub due: CohortTime,
    /// Whether it came after it was due.
    pub late: bool,
    /// How many things were found in the record. The record says what they are.
    #[schema(example = 2)]
    pub findings: u32,
    /// The gravest kind of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finding: Option<FindingKind>,
    /// Whether there is a neutral note for those who teach.
    pub noted: bool,
    /// The one thing to know of it before it is opened. Absent of clean work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stands_out: Option<StandsOut>,
    /// Who holds it, if anybody does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub claim: Option<QueueClaim>,
}
