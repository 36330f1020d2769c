//! Assignments: the work set to a cohort, its rubric and its dates.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::bench::FindingKind;
use crate::ids::{AssignmentId, BankQuestionId, CohortId, FormulaId, PersonId, RevisionId};
use crate::words::words;

words! {
    /// The state of an assignment.
    AssignmentState {
        /// Only the cohort's instructors and markers see it, and its instructors change it freely.
        Draft = "draft",
        /// Set: changes are new versions, each with its reason.
        Published = "published",
        /// Taken back with a reason. It holds no recipe and asks for nothing.
        Withdrawn = "withdrawn",
    }
}

words! {
    /// How an assignment stands for a student.
    WorkState {
        /// It has not opened yet.
        Upcoming = "upcoming",
        /// It is open.
        Open = "open",
        /// It is open, and due within the next 48 hours.
        Due = "due",
        /// It was due, and late work is still taken.
        Late = "late",
        /// It takes no work any more. Questions can still be answered, so that the recipe opens.
        Closed = "closed",
        /// It was handed in, and waits to be marked.
        Submitted = "submitted",
        /// It came back to be mended.
        Returned = "returned",
        /// Everything that it asks for is done: it was handed in and accepted.
        Done = "done",
        /// It was handed in and rejected.
        Rejected = "rejected",
        /// The student's absence is excused.
        Excused = "excused",
    }
}

words! {
    /// What a question is about.
    QuestionKind {
        /// How much of one ingredient fills the student's jars, with what stays in the pot.
        JarFilling = "jar_filling",
        /// How much of one ingredient fills the student's bottles, by the density of what is made.
        BottleFilling = "bottle_filling",
        /// What spirit and water make a wanted volume and strength, with contraction.
        SpiritDilution = "spirit_dilution",
        /// By when it must be used, and which rule says so.
        UseBy = "use_by",
        /// Who must not use it.
        MustNotUse = "must_not_use",
        /// A question of the cohort's own bank.
        Bank = "bank",
    }
}

/// One question of an assignment. Each student gets numbers of their own.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AssignmentQuestion {
    /// What it is about.
    pub kind: QuestionKind,
    /// For `bank`: the question of the cohort's bank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub bank_question: Option<BankQuestionId>,
}

/// One level of a criterion.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RubricLevel {
    /// What the work shows at this level: 1 to 500 characters.
    #[schema(example = "Every weighing is within tolerance.")]
    pub title: String,
    /// Its points.
    #[schema(example = 6)]
    pub points: u32,
}

words! {
    /// What a must-pass criterion is about. Work that fails one is not accepted, whatever its points are.
    MustPassKind {
        /// Every material was checked to be what it is called.
        Identity = "identity",
        /// No other material was used than the recipe names.
        WrongMaterial = "wrong_material",
        /// No limit is passed in what was made.
        LimitPassed = "limit_passed",
        /// Every line names its lot.
        MissingLot = "missing_lot",
        /// The use-by date is not later than the rules allow.
        UseByTooLong = "use_by_too_long",
        /// Every caution stands on the label.
        CautionAbsent = "caution_absent",
        /// No entry is falsified.
        FalsifiedEntry = "falsified_entry",
    }
}

/// One criterion of a rubric.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RubricCriterion {
    /// What is assessed: 1 to 200 characters.
    #[schema(example = "Weighing")]
    pub title: String,
    /// Whether the work fails without it. Such a criterion stands outside the points and has no levels.
    #[serde(default)]
    pub must_pass: bool,
    /// Of a must-pass criterion: what it is about, where it is one of these.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub must_pass_kind: Option<MustPassKind>,
    /// Its levels, from the fewest points to the most.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub levels: Vec<RubricLevel>,
    /// Kinds of findings by which a level is proposed. The marker decides. A kind stands in one criterion only, so that
    /// nothing counts twice.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!(["out_of_tolerance"]))]
    pub findings: Vec<FindingKind>,
}

/// What is assessed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "total_points": 10, "criteria": [
    { "title": "Weighing", "findings": ["out_of_tolerance"], "levels": [
        { "title": "Several lines are outside tolerance.", "points": 0 },
        { "title": "Every weighing is within tolerance.", "points": 6 } ] },
    { "title": "Emulsion", "levels": [
        { "title": "It parted.", "points": 0 }, { "title": "Smooth and stable.", "points": 4 } ] },
    { "title": "Every lot is recorded.", "must_pass": true, "must_pass_kind": "missing_lot" } ] }))]
pub struct Rubric {
    /// The points of the highest levels together.
    pub total_points: u32,
    /// The criteria.
    pub criteria: Vec<RubricCriterion>,
    /// Whether the work is practice: reviewed and not marked. Practice has no criteria and no points.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub practice: bool,
}

/// An assignment as it is written.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AssignmentContent {
    /// Its title: 1 to 200 characters.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// What is to be done, in the instructor's words: at most 8000 characters.
    #[serde(default)]
    #[schema(example = "Make it in the second bench hour and fill your own jars.")]
    pub instructions: String,
    /// Approved revisions: one, or several to choose from, each of another formula. Questions are about the first.
    pub formulas: Vec<RevisionId>,
    /// The quantity to make, as a mass or a volume.
    #[schema(example = "300 g")]
    pub quantity: String,
    /// When it opens, in the cohort's time zone: date and time of day. Add the offset where the clock shows a time twice.
    #[schema(example = "2026-03-09T09:00")]
    pub opens: String,
    /// When it is due.
    #[schema(example = "2026-03-20T18:00")]
    pub due: String,
    /// Until when late work is taken; absent: no late work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-03-27T18:00")]
    pub late_until: Option<String>,
    /// How often each question may be answered: 1 to 10.
    #[schema(example = 3)]
    pub attempts: u8,
    /// How often work may be returned to be mended: 0 to 10.
    #[schema(example = 1)]
    pub returns_allowed: u8,
    /// Whether it is marked blind: until work has its verdict, whoever marks it is told a candidate in place of the student.
    /// A published assignment may stop being marked blind, and never begins to.
    #[serde(default)]
    #[schema(example = false)]
    pub marked_blind: bool,
    /// What is assessed.
    pub rubric: Rubric,
    /// The questions to answer before the recipe opens: at most 20. Until a student has answered them, that student
    /// cannot open the recipe of any of the formulas.
    #[serde(default)]
    #[schema(example = json!([{ "kind": "jar_filling" }, { "kind": "use_by" }]))]
    pub questions: Vec<AssignmentQuestion>,
}

/// Changing an assignment.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AssignmentChange {
    /// The whole assignment as it shall be. Of a published one, formulas and questions stay.
    pub content: AssignmentContent,
    /// Why: needed once it is published, and shown with the version.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Two more days, because of the holiday.")]
    pub reason: Option<String>,
}

/// Taking an assignment back.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WithdrawAssignment {
    /// Why: 1 to 2000 characters.
    #[schema(example = "The herb did not arrive.")]
    pub reason: String,
}

/// A moment in the cohort's time zone.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CohortTime {
    /// Date, time of day and offset in the cohort's time zone.
    #[schema(example = "2026-03-09T09:00:00+01:00")]
    pub local: String,
    /// The instant.
    pub at: DateTime<Utc>,
}

/// A formula of an assignment.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct AssignedFormula {
    /// The approved revision that is named.
    pub revision: RevisionId,
    /// Its formula.
    pub formula: FormulaId,
    /// Its title.
    #[schema(example = "Calendula cream")]
    pub title: String,
}

/// One version of an assignment.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct AssignmentVersion {
    /// Its number, counted from 1.
    pub number: i32,
    /// Why it was made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Two more days, because of the holiday.")]
    pub reason: Option<String>,
    /// Who made it.
    pub created_by: PersonId,
    /// The name of who made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub created_by_name: Option<String>,
    /// When.
    pub created_at: DateTime<Utc>,
}

/// A piece of work that is set to a cohort.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Assignment {
    /// The assignment.
    pub id: AssignmentId,
    /// The cohort.
    pub cohort: CohortId,
    /// The name of the cohort.
    pub cohort_name: String,
    /// Its state.
    pub state: AssignmentState,
    /// Its title.
    pub title: String,
    /// What is to be done.
    pub instructions: String,
    /// The formulas to make or to choose from.
    pub formulas: Vec<AssignedFormula>,
    /// The quantity to make.
    pub quantity: String,
    /// When it opens.
    pub opens: CohortTime,
    /// When it is due.
    pub due: CohortTime,
    /// Until when late work is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub late_until: Option<CohortTime>,
    /// How often each question may be answered.
    pub attempts: u8,
    /// How often work may be returned to be mended.
    pub returns_allowed: u8,
    /// Whether it is marked blind.
    #[serde(default)]
    #[schema(example = false)]
    pub marked_blind: bool,
    /// What is assessed.
    pub rubric: Rubric,
    /// The questions, by kind.
    pub questions: Vec<AssignmentQuestion>,
    /// Every version since it was published, the newest first; of a draft, the one that it is.
    pub versions: Vec<AssignmentVersion>,
}

/// An assignment in a student's list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct OwnAssignment {
    /// The assignment.
    pub id: AssignmentId,
    /// The cohort.
    pub cohort: CohortId,
    /// The name of the cohort.
    pub cohort_name: String,
    /// Its title.
    pub title: String,
    /// The quantity to make.
    pub quantity: String,
    /// How it stands for the caller.
    pub state: WorkState,
    /// When it opens.
    pub opens: CohortTime,
    /// When it is due.
    pub due: CohortTime,
    /// Until when late work is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub late_until: Option<CohortTime>,
    /// The formulas to make or to choose from.
    pub formulas: Vec<AssignedFormula>,
    /// How many questions it has.
    pub questions: u32,
    /// How many of them the caller has answered.
    pub answered: u32,
}

/// An assignment in a cohort's list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct CohortAssignment {
    /// The assignment.
    pub id: AssignmentId,
    /// Its title.
    pub title: String,
    /// Its state.
    pub state: AssignmentState,
    /// When it opens.
    pub opens: CohortTime,
    /// When it is due.
    pub due: CohortTime,
    /// Until when late work is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub late_until: Option<CohortTime>,
    /// How many students the cohort has.
    pub students: u32,
    /// How many of them have not begun the questions.
    pub not_begun: u32,
    /// How many of them have begun and not answered every question.
    pub begun: u32,
    /// How many of them have answered every question.
    pub done: u32,
    /// How many of them have handed in work that waits to be marked.
    pub submitted: u32,
    /// How many of them have work that was accepted or rejected.
    pub settled: u32,
}

/// A student's work on an assignment, as the cohort's instructors and markers see it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct StudentWork {
    /// The student.
    pub person: PersonId,
    /// The student's name.
    pub name: String,
    /// When the student began the questions, if they did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub begun_at: Option<DateTime<Utc>>,
    /// How many questions the assignment has.
    pub questions: u32,
    /// How many of them the student has answered.
    pub answered: u32,
    /// How many of them the student has answered rightly.
    pub right: u32,
    /// How the work stands, by the dates that hold for the student.
    pub state: WorkState,
    /// How many versions of the work were handed in.
    pub submissions: u32,
    /// Whether the first of them was late.
    pub late: bool,
    /// Whether the student had opened the recipe of one of the formulas before every question was answered.
    pub recipe_opened_before: bool,
    /// Set where you may not be told how the work stands, and the state is `submitted`: you have a second mark to give in this
    /// assignment, or the assignment is marked blind and this work has no verdict yet.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    #[schema(example = false)]
    pub hidden: bool,
}
