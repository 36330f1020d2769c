//! Questions as a student gets them, answers, and what is found in them.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{AnswerId, AssignmentId, BankQuestionId, CohortId, PersonId, QuestionId};
use crate::teaching::QuestionKind;
use crate::words::words;

/// The answer to a question of the bank: exactly one of the two.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "number": { "value": "12.5 g", "tolerance_percent": "1" } }))]
pub struct BankAnswer {
    /// A number with its unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<BankNumber>,
    /// One of several answers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub choice: Option<BankChoice>,
}

/// A number with its unit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BankNumber {
    /// The right answer: a mass, a volume, a percentage, or a bare number.
    #[schema(example = "12.5 g")]
    pub value: String,
    /// By how many per cent an answer may differ: above 0, at most 50.
    #[schema(example = "1")]
    pub tolerance_percent: String,
}

/// One of several answers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BankChoice {
    /// The answers to choose from: 2 to 10, all different.
    #[schema(example = json!(["Because it parts", "Because it browns"]))]
    pub options: Vec<String>,
    /// The place of the right one, counted from 1.
    #[schema(example = 1)]
    pub right: u8,
}

/// A new question for the cohort's bank.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewBankQuestion {
    /// What is asked: 1 to 2000 characters.
    #[schema(example = "How much wax is 5 % of 250 g?")]
    pub text: String,
    /// The answer.
    pub answer: BankAnswer,
    /// How it is worked out, shown once the student's answer is final: 1 to 4000 characters.
    #[schema(example = "250 g × 5 / 100 = 12.5 g.")]
    pub worked: String,
}

/// A question of a cohort's own bank. Only its instructors and markers see it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct BankQuestion {
    /// The question.
    pub id: BankQuestionId,
    /// The cohort.
    pub cohort: CohortId,
    /// What is asked.
    pub text: String,
    /// The answer.
    pub answer: BankAnswer,
    /// How it is worked out.
    pub worked: String,
    /// When it was added.
    pub created_at: DateTime<Utc>,
}

words! {
    /// How a part of a question is answered.
    AnswerForm {
        /// A mass with its unit.
        Mass = "mass",
        /// A volume with its unit.
        Volume = "volume",
        /// A number with the sign %.
        Percent = "percent",
        /// A bare number.
        Number = "number",
        /// A day, such as 2026-03-20.
        Day = "day",
        /// One of the options, by its words.
        Choice = "choice",
        /// Each option that is true, by its words.
        Choices = "choices",
    }
}

words! {
    /// Whether a question is still open.
    QuestionState {
        /// It can be answered.
        Open = "open",
        /// Its answer is final: it was right, or every attempt is used.
        Answered = "answered",
    }
}

words! {
    /// A common error that an answer shows.
    CommonError {
        /// The loss was added as a share of what is wanted.
        LossAsMarkup = "loss_as_markup",
        /// The loss was left out.
        LossForgotten = "loss_forgotten",
        /// One jar or bottle is missing.
        OneForgotten = "one_forgotten",
        /// It is for one jar or bottle.
        OneOnly = "one_only",
        /// The container was counted as contents.
        TareCounted = "tare_counted",
        /// A share by mass was taken as grams in 100 mL.
        WeightInVolume = "weight_in_volume",
        /// The volumes of spirit and water were added up without contraction.
        VolumesAdded = "volumes_added",
        /// Spirit and water were swapped.
        Swapped = "swapped",
        /// A volume was given for a mass.
        VolumeForMass = "volume_for_mass",
        /// A mass was given for a volume.
        MassForVolume = "mass_for_volume",
        /// The decimal point is in another place.
        DecimalPoint = "decimal_point",
        /// The later of two dates was taken.
        LaterDate = "later_date",
        /// The date is one day off.
        OneDayOff = "one_day_off",
    }
}

/// A number that a question is asked with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct GivenNumber {
    /// What it is.
    #[schema(example = "share of emulsifying wax")]
    pub name: String,
    /// The number with its unit.
    #[schema(example = "8.5 %")]
    pub value: String,
}

/// A part of a question.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct QuestionPart {
    /// Its name, by which it is answered.
    #[schema(example = "mass")]
    pub part: String,
    /// What is asked.
    #[schema(example = "How much emulsifying wax do you weigh?")]
    pub text: String,
    /// How it is answered.
    pub form: AnswerForm,
    /// By how many per cent a number may differ.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.25")]
    pub tolerance_percent: Option<String>,
    /// The options of a choice.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!([]))]
    pub options: Vec<String>,
}

/// The answer to one part.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartAnswer {
    /// The part.
    #[schema(example = "mass")]
    pub part: String,
    /// One value; of `choices`, each option that is true.
    #[schema(example = json!(["27.2 g"]))]
    pub values: Vec<String>,
}

/// An answer to a question.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAnswer {
    /// The answer to each part.
    pub answers: Vec<PartAnswer>,
}

/// What was found in the answer to a part.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PartFound {
    /// The part.
    #[schema(example = "mass")]
    pub part: String,
    /// Whether it is right.
    pub right: bool,
    /// How the answer was read, where its unit is another than the question's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Read as 27.2 g.")]
    pub read_as: Option<String>,
    /// The common error that it shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub error: Option<CommonError>,
    /// The same in a sentence.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub says: Option<String>,
}

/// An answer that was given.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct GivenAnswer {
    /// The answer.
    pub id: AnswerId,
    /// Its number, counted from 1.
    pub number: i32,
    /// When it was given.
    pub at: DateTime<Utc>,
    /// Whether it was given after the assignment was due.
    pub late: bool,
    /// Whether every part is right.
    pub right: bool,
    /// The answer to each part, as it was sent.
    pub answers: Vec<PartAnswer>,
    /// What was found in each part.
    pub found: Vec<PartFound>,
}

/// How a question is worked out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WorkedAnswer {
    /// The right answer to each part.
    pub answers: Vec<PartAnswer>,
    /// The steps, each in a sentence.
    #[schema(example = json!(["mass to make: 12 × 45 g / (1 - 0.08) = 587 g"]))]
    pub steps: Vec<String>,
}

/// One student's question.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Question {
    /// The question.
    pub id: QuestionId,
    /// The assignment.
    pub assignment: AssignmentId,
    /// Its place in the assignment, counted from 1.
    pub position: i16,
    /// What it is about.
    pub kind: QuestionKind,
    /// What is asked.
    pub text: String,
    /// The student's own numbers.
    pub given: Vec<GivenNumber>,
    /// Its parts.
    pub parts: Vec<QuestionPart>,
    /// Whether it is still open.
    pub state: QuestionState,
    /// How often it may be answered.
    pub attempts_allowed: u8,
    /// How many attempts are used.
    pub attempts_used: u8,
    /// The answers so far, the first one first.
    pub answers: Vec<GivenAnswer>,
    /// How it is worked out; present once the answer is final.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worked: Option<WorkedAnswer>,
}

/// One student's questions of an assignment.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct StudentQuestions {
    /// The assignment.
    pub assignment: AssignmentId,
    /// The student.
    pub person: PersonId,
    /// When the student began.
    pub begun_at: DateTime<Utc>,
    /// Whether the student had opened the recipe of one of the formulas before every question was answered.
    pub recipe_opened_before: bool,
    /// The questions, in order.
    pub questions: Vec<Question>,
}
