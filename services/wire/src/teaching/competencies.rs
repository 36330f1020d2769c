//! Competencies: what a student can be signed off as able to do, and the credential that says so.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::QuestionKind;
use crate::ids::{CohortId, CompetencyId, PersonId, SignOffId};
use crate::words::words;

/// So many accepted works.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AcceptedRule {
    /// How many: 1 to 100.
    #[schema(example = 3)]
    pub works: u32,
    /// Of which kind of preparation. Absent: of any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "cream")]
    pub preparation: Option<String>,
}

/// So many works at the highest level of a criterion, or that meet it where it must be passed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CriterionRule {
    /// How many: 1 to 100.
    #[schema(example = 2)]
    pub works: u32,
    /// The title of the criterion: 1 to 200 characters, in any case.
    #[schema(example = "Emulsion")]
    pub title: String,
}

/// So many questions that were answered rightly at the first attempt.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AnswersRule {
    /// How many: 1 to 100.
    #[schema(example = 5)]
    pub right: u32,
    /// Of which kind. Absent: of any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<QuestionKind>,
}

/// What must be there before an instructor can sign: every part that is named.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CompetencyRule {
    /// Accepted works.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accepted: Option<AcceptedRule>,
    /// Works at the highest level of a criterion.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub criterion: Option<CriterionRule>,
    /// Right answers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answers: Option<AnswersRule>,
}

/// A new competency. It never changes: another takes its place.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCompetency {
    /// Its name: 1 to 100 characters, unlike every other.
    #[schema(example = "Percolated tinctures")]
    pub name: String,
    /// What its holder can do, in a sentence or two: 1 to 1000 characters. It stands on the credential.
    #[schema(example = "Packs and runs a percolator, and corrects the strength of the tincture.")]
    pub says: String,
    /// The rule: at least one part.
    pub rule: CompetencyRule,
    /// For how many months a sign-off lasts: 1 to 120.
    #[schema(example = 24)]
    pub lasts_months: u32,
}

/// A competency.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Competency {
    /// The competency.
    pub id: CompetencyId,
    /// Its name.
    #[schema(example = "Emulsions")]
    pub name: String,
    /// What its holder can do.
    #[schema(example = "Makes an emulsion that stays smooth and stable.")]
    pub says: String,
    /// The rule.
    pub rule: CompetencyRule,
    /// For how many months a sign-off lasts.
    #[schema(example = 24)]
    pub lasts_months: u32,
    /// Who added it. Absent where it came with the service.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub added_by: Option<PersonId>,
    /// When it was added.
    pub added_at: DateTime<Utc>,
}

/// The clinic's competencies.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Competencies {
    /// All of them, by name.
    pub items: Vec<Competency>,
}

words! {
    /// Whether a sign-off holds.
    SignOffState {
        /// It holds.
        Valid = "valid",
        /// Its time is over.
        Expired = "expired",
        /// It was taken back.
        Revoked = "revoked",
    }
}

words! {
    /// Why a sign-off is taken back.
    RevocationReason {
        /// It was given by mistake.
        SignedByMistake = "signed_by_mistake",
        /// What was signed for was not shown again.
        NotShownAgain = "not_shown_again",
        /// The holder put somebody at risk.
        UnsafePractice = "unsafe_practice",
    }
}

/// How a sign-off was taken back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Revocation {
    /// Why.
    pub reason: RevocationReason,
    /// Who did it.
    pub revoked_by: PersonId,
    /// The name of who did it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub revoked_by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// An instructor's word that a student can do it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct SignOff {
    /// The sign-off, which is also the number of its credential.
    pub id: SignOffId,
    /// The competency.
    pub competency: CompetencyId,
    /// The name of the competency.
    #[schema(example = "Emulsions")]
    pub name: String,
    /// The student.
    pub person: PersonId,
    /// The cohort in which it was signed.
    pub cohort: CohortId,
    /// Who signed.
    pub signed_by: PersonId,
    /// The name of who signed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub signed_by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// When it ends by itself.
    pub ends_at: DateTime<Utc>,
    /// Whether it holds.
    pub state: SignOffState,
    /// How it was taken back, if it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revoked: Option<Revocation>,
}

/// How a student stands with a competency.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct StudentCompetency {
    /// The competency with its rule.
    pub competency: Competency,
    /// How many accepted works count for it.
    #[schema(example = 2)]
    pub accepted_works: u32,
    /// How many works are at the highest level of its criterion.
    #[schema(example = 1)]
    pub criterion_works: u32,
    /// How many right answers count for it.
    #[schema(example = 0)]
    pub right_answers: u32,
    /// Whether all that the rule asks for is there.
    pub met: bool,
    /// The last sign-off.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sign_off: Option<SignOff>,
}

/// How a student stands with every competency.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct StudentCompetencies {
    /// The student.
    pub person: PersonId,
    /// The student's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub name: Option<String>,
    /// Each competency, by name.
    pub items: Vec<StudentCompetency>,
}

/// Signing a student off.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewSignOff {
    /// The competency.
    pub competency: CompetencyId,
}

/// Taking a sign-off back.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewRevocation {
    /// Why.
    pub reason: RevocationReason,
}

/// What a credential says besides the competency.
#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct CredentialQuery {
    /// Whether the credential says your name besides your sign-in name.
    #[serde(default)]
    #[param(example = true)]
    pub with_name: bool,
}

/// What a credential is made of.
#[derive(Clone, Debug)]
pub struct CredentialFacts {
    /// The sign-off.
    pub id: SignOffId,
    /// The competency.
    pub competency: CompetencyId,
    /// The name of the competency.
    pub name: String,
    /// What its holder can do.
    pub says: String,
    /// What the rule asks for, in words.
    pub criteria: String,
    /// The holder's sign-in name.
    pub sign_in_name: String,
    /// The holder's name, where the holder asks for it.
    pub holder_name: Option<String>,
    /// The name of the clinic, which issues it.
    pub clinic: String,
    /// When it was signed.
    pub at: DateTime<Utc>,
    /// When it ends by itself.
    pub ends_at: DateTime<Utc>,
}

/// Whether a credential holds. It tells nothing of anybody.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CredentialStatus {
    /// The credential.
    pub credential: SignOffId,
    /// Whether it holds.
    pub state: SignOffState,
    /// When it ends by itself.
    pub ends_at: DateTime<Utc>,
    /// When it was taken back, if it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub revoked_at: Option<DateTime<Utc>>,
}
