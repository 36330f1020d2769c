//! What students tell their instructors that they cannot work with.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{CohortId, PersonId};

/// Telling the instructors of a cohort.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewWorkLimit {
    /// What you cannot work with, in your words: 1 to 300 characters on one line. Say no reason that you want to keep.
    #[schema(example = "wool fat and fresh daisies")]
    pub cannot_work_with: String,
    /// That you agree that the instructors of the cohort read it until you withdraw it. Only `true` is accepted.
    #[schema(example = true)]
    pub consent: bool,
}

/// What a student cannot work with, in the student's words.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct WorkLimit {
    /// The cohort.
    pub cohort: CohortId,
    /// The student.
    pub person: PersonId,
    /// The student's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub name: Option<String>,
    /// What the student cannot work with.
    #[schema(example = "wool fat and fresh daisies")]
    pub cannot_work_with: String,
    /// When it was told.
    pub told_at: DateTime<Utc>,
}

/// What the students of a cohort cannot work with.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct WorkLimits {
    /// For an instructor, of every student who told it, by name; for a student, the student's own.
    pub items: Vec<WorkLimit>,
}
