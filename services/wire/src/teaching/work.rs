//! Work that students hand in: reflections, submissions, and more time for one student.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{CohortTime, WorkState};
use crate::bench::BatchState;
use crate::ids::{AllowanceId, AssignmentId, BatchId, PersonId, WorkSubmissionId};
use crate::words::words;

words! {
    /// What one student is allowed.
    AllowanceKind {
        /// The dates come later by some minutes.
        ExtraTime = "extra_time",
        /// The absence is excused: nothing is asked of the student.
        Excused = "excused",
        /// The dates are those of everybody again.
        AsEverybody = "as_everybody",
    }
}

/// Allowing one student more time, or excusing an absence. The last allowance of a student counts.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAllowance {
    /// What is allowed.
    pub kind: AllowanceKind,
    /// For `extra_time`: by how many minutes every date comes later, 1 to 129,600.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 2880)]
    pub extra_minutes: Option<u32>,
    /// Why: 1 to 2000 characters. The student reads it.
    #[schema(example = "Two days more, as agreed for every written work.")]
    pub reason: String,
}

/// What one student is allowed.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Allowance {
    /// The allowance.
    pub id: AllowanceId,
    /// What is allowed.
    pub kind: AllowanceKind,
    /// By how many minutes every date comes later.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 2880)]
    pub extra_minutes: Option<u32>,
    /// Why.
    #[schema(example = "Two days more, as agreed for every written work.")]
    pub reason: String,
    /// Who gave it.
    pub given_by: PersonId,
    /// The name of who gave it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub given_by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// What a student writes about the work before handing it in.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReflection {
    /// The text: at most 4000 characters.
    #[schema(example = "The emulsion was slow to thicken. Next time I cool it in a water bath.")]
    pub text: String,
}

/// The draft of a reflection. Only its author reads it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Reflection {
    /// The text.
    #[schema(example = "The emulsion was slow to thicken. Next time I cool it in a water bath.")]
    pub text: String,
    /// When it was saved, if it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub saved_at: Option<DateTime<Utc>>,
}

/// Handing work in.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewWorkSubmission {
    /// A batch of your own, of one of the assigned formulas. Its record is submitted with it.
    pub batch: BatchId,
    /// The reflection: at most 4000 characters; an empty text is none. Absent: the draft that is kept, if there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "The emulsion was slow to thicken. Next time I cool it in a water bath.")]
    pub reflection: Option<String>,
}

words! {
    /// The state of work that was handed in.
    SubmissionState {
        /// It waits to be marked.
        Submitted = "submitted",
        /// It came back to be mended, and is handed in again as the next version.
        Returned = "returned",
        /// It was accepted.
        Accepted = "accepted",
        /// It was rejected.
        Rejected = "rejected",
    }
}

/// Work that was handed in, frozen as it was.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct WorkSubmission {
    /// The submission.
    pub id: WorkSubmissionId,
    /// The assignment.
    pub assignment: AssignmentId,
    /// The student.
    pub person: PersonId,
    /// What stands in place of the student while the work is marked blind: `person` is nil then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub candidate: Option<String>,
    /// Which version of the work it is, counted from 1.
    #[schema(example = 1)]
    pub number: u32,
    /// The batch.
    pub batch: BatchId,
    /// The number of the batch.
    #[schema(example = "2026-0042")]
    pub batch_number: String,
    /// Which submission of the batch record it is.
    #[schema(example = 1)]
    pub submission_number: u32,
    /// When the request came in. This counts against the dates.
    pub received_at: DateTime<Utc>,
    /// Whether that was after it was due. What comes again after a return is as late as its first version was.
    pub late: bool,
    /// Which version of the assignment it was handed in under. It is assessed by the rubric of that version.
    #[schema(example = 1)]
    pub assignment_version: i32,
    /// Digest over what was handed in: the record up to its last entry, the reflection, and the rubric.
    #[schema(example = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
    pub digest: String,
    /// Its state.
    pub state: SubmissionState,
}

/// A batch that can be handed in.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct CountableBatch {
    /// The batch.
    pub id: BatchId,
    /// Its number.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// The title of its formula.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// The state of its record.
    pub state: BatchState,
    /// When it was opened.
    pub opened_at: DateTime<Utc>,
}

/// One student's work on an assignment, with the dates that hold for that student.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct StudentRecord {
    /// The assignment.
    pub assignment: AssignmentId,
    /// The student.
    pub person: PersonId,
    /// The student's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub name: Option<String>,
    /// How it stands.
    pub state: WorkState,
    /// When it is due for this student.
    pub due: CohortTime,
    /// Until when late work of this student is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub late_until: Option<CohortTime>,
    /// What this student is allowed, if anything was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub allowance: Option<Allowance>,
    /// How many questions have no final answer. Work is handed in when none is left.
    #[schema(example = 0)]
    pub questions_open: u32,
    /// How often the work may still be returned to be mended.
    #[schema(example = 1)]
    pub returns_left: u32,
    /// Set for those who teach while the work is marked blind: nothing is told of what was handed in, and the state is
    /// `submitted`.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    #[schema(example = false)]
    pub hidden: bool,
    /// What was handed in, in order.
    pub submissions: Vec<WorkSubmission>,
    /// For the student: batches that can be handed in, the newest first.
    pub batches: Vec<CountableBatch>,
}

words! {
    /// What a note says of work. It judges nobody.
    NoteKind {
        /// Every figure is the same as in another student's work.
        SameFigures = "same_figures",
        /// Every weighing is its target to the last digit.
        NoVariation = "no_variation",
        /// The whole record was written within one minute.
        WrittenAtOnce = "written_at_once",
    }
}

/// A neutral note on work that was handed in, for those who teach.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct SubmissionNote {
    /// What it says.
    pub kind: NoteKind,
    /// One sentence that says it.
    #[schema(example = "The whole record was written within 40 seconds.")]
    pub sentence: String,
    /// For `same_figures`: the other submissions, at most 20.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!([]))]
    pub submissions: Vec<WorkSubmissionId>,
}
