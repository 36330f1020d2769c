//! How a cohort stands: a grid of students by assignment, and its marks as a table.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{AssignmentState, CohortTime, MarkedCriterion, WorkState};
use crate::ids::{AssignmentId, CohortId, PersonId, WorkSubmissionId};

/// An assignment of the grid.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct GridAssignment {
    /// The assignment.
    pub id: AssignmentId,
    /// Its title.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// Whether it is published or was withdrawn. Drafts are left out.
    pub state: AssignmentState,
    /// When it is due for everybody.
    pub due: CohortTime,
    /// The points of its rubric. None of practice.
    #[schema(example = 10)]
    pub total_points: u32,
}

/// How one student stands with one assignment.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct GridCell {
    /// How it stands, by the dates that hold for the student.
    pub state: WorkState,
    /// The last version that was handed in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub submission: Option<WorkSubmissionId>,
    /// Which version that is, counted from 1; 0 where nothing was handed in.
    #[schema(example = 1)]
    pub number: u32,
    /// Whether it came after it was due.
    pub late: bool,
    /// The points of the mark that counts, once there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 8)]
    pub points: Option<u32>,
    /// Set where you may not be told how the work stands, and the state is `submitted`: you have a second mark to give in this
    /// assignment, or the assignment is marked blind and this work has no verdict yet.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    #[schema(example = false)]
    pub hidden: bool,
}

/// One student's row.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct GridStudent {
    /// The student.
    pub person: PersonId,
    /// The student's name.
    #[schema(example = "Noor Haddad")]
    pub name: String,
    /// One for each assignment, in their order.
    pub cells: Vec<GridCell>,
}

/// How a cohort stands.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct CohortGrid {
    /// The cohort.
    pub cohort: CohortId,
    /// The assignments, by when they are due.
    pub assignments: Vec<GridAssignment>,
    /// The students, by name.
    pub students: Vec<GridStudent>,
}

/// The mark that counts of one student's work, as it is exported: one a line.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ExportedMark {
    /// The assignment.
    pub assignment: AssignmentId,
    /// Its title, as it was when the work was handed in.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// The student.
    pub student: PersonId,
    /// The student's name.
    #[schema(example = "Noor Haddad")]
    pub name: String,
    /// The submission.
    pub submission: WorkSubmissionId,
    /// Which version of the work it is, counted from 1.
    #[schema(example = 1)]
    pub version: u32,
    /// `accepted` or `rejected`.
    #[schema(example = "accepted")]
    pub verdict: String,
    /// Whether it came after it was due. No points are taken off for that.
    pub late: bool,
    /// The points.
    #[schema(example = 8)]
    pub points: u32,
    /// Of how many.
    #[schema(example = 10)]
    pub of_points: u32,
    /// How many marks were given, changed ones among them.
    #[schema(example = 1)]
    pub marks: u32,
    /// The name of who gave it.
    #[schema(example = "Ilse Brandt")]
    pub marker: String,
    /// When.
    pub at: DateTime<Utc>,
    /// What was decided on each criterion. Absent from the table, which has a column for each field before it.
    pub criteria: Vec<MarkedCriterion>,
}
