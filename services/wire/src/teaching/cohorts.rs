//! Cohorts, their members, codes to join them, and class lists.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{CohortCodeId, CohortId, PersonId};
use crate::people::OneTimeCode;
use crate::words::words;

words! {
    /// What a person does in a cohort.
    CohortRole {
        /// Learns: sees the cohort's published work and their own answers.
        Student = "student",
        /// Teaches: enrols, sets work, sees everybody's.
        Instructor = "instructor",
        /// Visits to mark: sees the work and everybody's answers, and changes nothing.
        Marker = "marker",
    }
}

/// A new cohort.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCohort {
    /// Its name, unique in the clinic: 1 to 200 characters.
    #[schema(example = "First year, spring")]
    pub name: String,
    /// First day of the term.
    #[schema(example = "2026-03-02")]
    pub starts_on: NaiveDate,
    /// Last day of the term.
    #[schema(example = "2026-07-03")]
    pub ends_on: NaiveDate,
    /// The IANA time zone that the dates of its work are in.
    #[schema(example = "Europe/Berlin")]
    pub time_zone: String,
}

/// A class of people for a term.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Cohort {
    /// The cohort.
    pub id: CohortId,
    /// Its name.
    #[schema(example = "First year, spring")]
    pub name: String,
    /// First day of the term.
    #[schema(example = "2026-03-02")]
    pub starts_on: NaiveDate,
    /// Last day of the term.
    #[schema(example = "2026-07-03")]
    pub ends_on: NaiveDate,
    /// The time zone that the dates of its work are in.
    #[schema(example = "Europe/Berlin")]
    pub time_zone: String,
    /// The caller's role in it; absent for an administrator who is no member.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub role: Option<CohortRole>,
    /// When it was created.
    pub created_at: DateTime<Utc>,
}

/// Enrolling a person, or giving a member another role.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Enrol {
    /// The person.
    pub person: PersonId,
    /// The person's role in the cohort. Students of the clinic are students; instructors are instructors or markers.
    pub role: CohortRole,
}

/// A member of a cohort.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct CohortMember {
    /// The person.
    pub person: PersonId,
    /// The person's name.
    #[schema(example = "Noor Haddad")]
    pub name: String,
    /// The person's role in the cohort.
    pub role: CohortRole,
    /// Since when.
    pub added_at: DateTime<Utc>,
}

/// A new code to join a cohort with.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCohortCode {
    /// Until when it can be used.
    #[schema(example = "2026-03-31T18:00:00Z")]
    pub valid_until: DateTime<Utc>,
}

/// A code to join a cohort with, as a student.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct CohortCode {
    /// The code's ID, which closes it.
    pub id: CohortCodeId,
    /// The cohort.
    pub cohort: CohortId,
    /// The code itself. Only the response that creates it contains it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "sk_Zm9yIGV4YW1wbGUgb25seSwgbm90IGEgdG9rZW4")]
    pub code: Option<String>,
    /// Until when it can be used.
    pub valid_until: DateTime<Utc>,
    /// When it was closed, if it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub closed_at: Option<DateTime<Utc>>,
    /// When it was created.
    pub created_at: DateTime<Utc>,
}

/// Joining a cohort with a code.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JoinCohort {
    /// The code, as it was given to you.
    #[schema(example = "sk_Zm9yIGV4YW1wbGUgb25seSwgbm90IGEgdG9rZW4")]
    pub code: String,
}

/// A class list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewClass {
    /// One person a line: name, sign-in name, and a role where it is another than student. Commas, semicolons or tabs.
    #[schema(example = "Mira Okafor, mira.okafor\nJo Vane, jo.vane")]
    pub csv: String,
}

/// What became of a class list.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct EnrolledClass {
    /// Everybody on the list, in its order, as members of the cohort.
    pub members: Vec<CohortMember>,
    /// One-time codes of those who had no account. Only the first response to the request contains the codes themselves.
    pub invited: Vec<OneTimeCode>,
}
