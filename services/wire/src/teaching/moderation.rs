//! Moderation: a share of the marks is given by a second marker too, who sees neither the first mark nor whose work it is.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{CriterionLevel, LevelProposal, MarkedCriterion, Rubric, WorkMark};
use crate::bench::BatchRecord;
use crate::ids::{AssignmentId, BatchId, CohortId, MarkId, ModerationId, PersonId, WorkSubmissionId};
use crate::words::words;

words! {
    /// Where a moderation stands.
    ModerationState {
        /// The second mark is missing.
        Waiting = "waiting",
        /// You have given the second mark, and have others to give in this assignment. What came of it is told after those.
        Given = "given",
        /// Both marks are there and differ. Nobody has settled them.
        Differs = "differs",
        /// It is settled. Both marks stay.
        Settled = "settled",
    }
}

words! {
    /// What came of two marks.
    SettlementOutcome {
        /// The marks were alike, so that there was nothing to settle.
        Agreed = "agreed",
        /// The mark that counted stands.
        FirstStands = "first_stands",
        /// The levels of the second mark count.
        SecondTaken = "second_taken",
        /// An instructor who gave neither mark decided between them.
        Decided = "decided",
    }
}

/// Setting which share of a cohort's marks is given by a second marker too. It holds for marks that are given from now on.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewModerationShare {
    /// The share in per cent: 0 to 100.
    #[schema(example = 20)]
    pub percent: u32,
}

/// Which share of a cohort's marks is given by a second marker too.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ModerationShare {
    /// The cohort.
    pub cohort: CohortId,
    /// The share in per cent. 0 as long as nobody has set one.
    #[schema(example = 20)]
    pub percent: u32,
    /// Who set it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_by: Option<PersonId>,
    /// The name of who set it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub set_by_name: Option<String>,
    /// When.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_at: Option<DateTime<Utc>>,
}

/// Work that waits for the caller's second mark, without a name.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct WaitingModeration {
    /// The moderation.
    pub id: ModerationId,
    /// What the work is called while nobody is named.
    #[schema(example = "7C20E5")]
    pub code: String,
    /// The assignment.
    pub assignment: AssignmentId,
    /// Its title, as it was when the work was handed in.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// The cohort.
    pub cohort: CohortId,
    /// Its name.
    #[schema(example = "Herbal medicine 2026")]
    pub cohort_name: String,
    /// When it was drawn.
    pub drawn_at: DateTime<Utc>,
}

/// Work as its second marker sees it.
///
/// The record is as it was handed in. It names nobody: each ID of a person, of the batch and of a lot is the nil UUID, the
/// number is the code, and there is no review.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct BlindWork {
    /// The moderation.
    pub id: ModerationId,
    /// What the work is called while nobody is named.
    #[schema(example = "7C20E5")]
    pub code: String,
    /// The rubric that it is assessed by.
    pub rubric: Rubric,
    /// What the findings propose, for the criteria that name kinds of findings.
    pub proposals: Vec<LevelProposal>,
    /// The record.
    pub record: BatchRecord,
}

/// What a second marker decides on one criterion.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SecondDecision {
    /// Which criterion of the rubric, counted from 1.
    #[schema(example = 1)]
    pub criterion: u32,
    /// Which of its levels, counted from 1. A must-pass criterion has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 2)]
    pub level: Option<u32>,
    /// Of a must-pass criterion: whether it is met.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub met: Option<bool>,
}

/// A second mark: every criterion decided.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "criteria": [{ "criterion": 1, "level": 2 }, { "criterion": 2, "level": 2 },
    { "criterion": 3, "met": true }] }))]
pub struct NewSecondMark {
    /// What is decided on each criterion.
    pub criteria: Vec<SecondDecision>,
}

/// Naming another second marker.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewSecondMarker {
    /// An instructor or marker of the cohort who gave no mark of the work. Choose somebody who has not read the first one.
    pub person: PersonId,
}

/// A second mark.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct SecondMark {
    /// Who gave it.
    pub marker: PersonId,
    /// The name of who gave it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Marek Dvorsky")]
    pub marker_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// The points of its levels together.
    #[schema(example = 8)]
    pub points: u32,
    /// What was decided on each criterion, in the order of the rubric.
    pub criteria: Vec<MarkedCriterion>,
}

/// Settling two marks that differ.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "outcome": "first_stands" }))]
pub struct NewSettlement {
    /// `first_stands`, `second_taken` or `decided`.
    pub outcome: SettlementOutcome,
    /// Where it is `decided`: the level of each criterion whose levels differ, from the lower of the two to the higher.
    #[serde(default)]
    pub criteria: Vec<CriterionLevel>,
}

/// How two marks were settled.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Settlement {
    /// What came of them.
    pub outcome: SettlementOutcome,
    /// Who settled them.
    pub settled_by: PersonId,
    /// The name of who settled them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub settled_by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// The mark that it gave, where the levels changed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub mark: Option<MarkId>,
}

/// A mark that was drawn, with the second one beside it once that was given.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Moderation {
    /// The moderation.
    pub id: ModerationId,
    /// What the work is called while nobody is named.
    #[schema(example = "7C20E5")]
    pub code: String,
    /// Where it stands.
    pub state: ModerationState,
    /// The submission.
    pub submission: WorkSubmissionId,
    /// The batch.
    pub batch: BatchId,
    /// The assignment.
    pub assignment: AssignmentId,
    /// Its title, as it was when the work was handed in.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// The cohort.
    pub cohort: CohortId,
    /// Whose work it is.
    pub person: PersonId,
    /// The name of the student.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub name: Option<String>,
    /// The share in per cent by which it was drawn.
    #[schema(example = 20)]
    pub percent: u32,
    /// When it was drawn: when the first mark was given.
    pub drawn_at: DateTime<Utc>,
    /// Who gives the second mark. Absent as long as nobody of the cohort can.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub second_marker: Option<PersonId>,
    /// The name of who gives the second mark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Marek Dvorsky")]
    pub second_marker_name: Option<String>,
    /// The rubric that both are given by.
    pub rubric: Rubric,
    /// The first mark. Absent in the state `given`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first: Option<WorkMark>,
    /// The second mark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub second: Option<SecondMark>,
    /// The criteria on which the two differ, counted from 1.
    #[schema(example = json!([1]))]
    pub differences: Vec<u32>,
    /// How they were settled.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub settlement: Option<Settlement>,
    /// What the caller can settle them as. Nothing where they are settled, or where the caller cannot.
    pub can_settle: Vec<SettlementOutcome>,
}

/// A mark that was drawn, in the list of a cohort.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct DrawnMark {
    /// The moderation.
    pub id: ModerationId,
    /// What the work is called while nobody is named.
    #[schema(example = "7C20E5")]
    pub code: String,
    /// Where it stands.
    pub state: ModerationState,
    /// What came of the two marks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outcome: Option<SettlementOutcome>,
    /// The assignment.
    pub assignment: AssignmentId,
    /// Its title, as it was when the work was handed in.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// Whose work it is.
    pub person: PersonId,
    /// The name of the student.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub name: Option<String>,
    /// Who gave the first mark.
    pub first_marker: PersonId,
    /// The name of who gave the first mark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub first_marker_name: Option<String>,
    /// Who gives the second mark. Absent as long as nobody of the cohort can.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub second_marker: Option<PersonId>,
    /// The name of who gives the second mark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Marek Dvorsky")]
    pub second_marker_name: Option<String>,
    /// When it was drawn: when the first mark was given.
    pub drawn_at: DateTime<Utc>,
    /// On how many criteria the two marks differ. 0 as long as the second is missing.
    #[schema(example = 1)]
    pub differences: u32,
}

/// Weighted kappa with its interval.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WeightedKappa {
    /// Kappa, rounded to three decimals: 1 where the two always agree, 0 where they agree as often as by chance.
    #[schema(example = "0.612")]
    pub value: String,
    /// The lower end of its 95 % interval.
    #[schema(example = "0.401")]
    pub low: String,
    /// The upper end of its 95 % interval.
    #[schema(example = "0.823")]
    pub high: String,
}

/// How far two marks of one piece of work are apart on a criterion.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct MarkDifference {
    /// The moderation.
    pub moderation: ModerationId,
    /// What the work is called while nobody is named.
    #[schema(example = "7C20E5")]
    pub code: String,
    /// The level of the first mark, counted from 1. Of a must-pass criterion 1 is not met and 2 is met.
    #[schema(example = 1)]
    pub first: u32,
    /// The level of the second mark.
    #[schema(example = 2)]
    pub second: u32,
}

/// How far first and second marks agree on a criterion.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct CriterionAgreement {
    /// The title of the criterion.
    #[schema(example = "Weighing")]
    pub title: String,
    /// Whether it must be passed.
    #[schema(example = false)]
    pub must_pass: bool,
    /// How many levels it has. Of a must-pass criterion 2.
    #[schema(example = 3)]
    pub levels: u32,
    /// How many pieces of work have both marks on it.
    #[schema(example = 34)]
    pub pairs: u32,
    /// On how many of them the two agree.
    #[schema(example = 28)]
    pub agreed: u32,
    /// Kappa, weighted linearly by the number of the level. From 30 pairs on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kappa: Option<WeightedKappa>,
    /// Why there is no kappa.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub why_not: Option<String>,
    /// Below 30 pairs: the pairs that differ, the oldest first.
    pub differences: Vec<MarkDifference>,
}

/// How far the marks of one assignment agree.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct AssignmentAgreement {
    /// The assignment.
    pub assignment: AssignmentId,
    /// Its title.
    #[schema(example = "Make a calendula cream")]
    pub title: String,
    /// How many marks were drawn.
    #[schema(example = 36)]
    pub drawn: u32,
    /// How many of them have a second mark.
    #[schema(example = 34)]
    pub pairs: u32,
    /// On how many of them the two marks agree on every criterion.
    #[schema(example = 25)]
    pub agreed: u32,
    /// One for each criterion. A criterion whose title or levels were changed counts as another.
    pub criteria: Vec<CriterionAgreement>,
}

/// How far first and second marks of a cohort agree.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct CohortAgreement {
    /// The cohort.
    pub cohort: CohortId,
    /// The share that holds now.
    pub share: ModerationShare,
    /// From how many pairs on kappa is told.
    #[schema(example = 30)]
    pub pairs_needed: u32,
    /// By which rule kappa and its interval are worked out.
    #[schema(
        example = "Kappa with linear weights; interval: large-sample standard error of Fleiss, Cohen and Everitt (1969)."
    )]
    pub rule: String,
    /// The assignments of which marks were drawn.
    pub assignments: Vec<AssignmentAgreement>,
}
