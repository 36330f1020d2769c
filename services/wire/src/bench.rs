//! Batch records, their entries, submission and review.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculations::cost::CostAnswer;
use crate::calculations::use_by::UseByAnswer;
use crate::checks::Check;
use crate::deviations::Authorisation;
use crate::figure::Figure;
use crate::handovers::Maker;
use crate::holds::HoldRelease;
use crate::ids::{BatchId, EntryId, LotId, PersonId, ReviewId, RevisionId};
use crate::long_work::Pause;
use crate::mark::NewMark;
use crate::recipe::{Evaluation, MakeFor, Recipe};
use crate::safety::CautionInRecipe;
use crate::stock::LotChoice;
use crate::words::words;

pub use crate::entry_kind::EntryKind;

words! {
    /// Where a batch record stands.
    BatchState {
        /// Opened, nothing written yet.
        Planned = "planned",
        /// Being made.
        Making = "making",
        /// Handed in.
        Submitted = "submitted",
        /// Sent back with comments.
        Returned = "returned",
        /// Accepted.
        Accepted = "accepted",
        /// Rejected.
        Rejected = "rejected",
        /// Given up by its maker.
        Abandoned = "abandoned",
    }
}

words! {
    /// The disposition of the jars.
    Disposition {
        /// Made for practice; never given out.
        PracticeOnly = "practice_only",
        /// Kept apart until decided.
        Quarantine = "quarantine",
        /// Given out.
        Released = "released",
        /// Called back.
        Recalled = "recalled",
        /// Thrown away.
        Discarded = "discarded",
    }
}

/// Opening a batch record from a released recipe.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewBatch {
    /// The approved revision.
    pub revision: RevisionId,
    /// The quantity.
    #[serde(default)]
    pub make_for: MakeFor,
}

/// A new entry.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "kind": "weighing", "line": "1.1", "quantity": "30.1 g", "lot": "BW-2026-03" }))]
pub struct NewEntry {
    /// The kind of entry.
    pub kind: EntryKind,
    /// The line: phase and line, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "1.1")]
    pub line: Option<String>,
    /// The step, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<u16>,
    /// Amount and unit, a temperature, a pH or a water activity. A volume, spoons and drops are taken with the density and the drops of the
    /// line in the recipe, and kept as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "30.1 g")]
    pub quantity: Option<String>,
    /// The lot it came from, as it stands on the container.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "BW-2026-03")]
    pub lot: Option<String>,
    /// The lot of the shelf that it was weighed from. It supplies `lot`, `lot_expires`, `assay` and `price`, and what was
    /// weighed is drawn from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub lot_id: Option<LotId>,
    /// Until when the lot is good: a day such as `2027-03-31`, or a month such as `2027-03`, which ends with its last
    /// day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2027-03")]
    pub lot_expires: Option<String>,
    /// The lot's own assay of a substance that is limited by the day, such as `0.5 ug/g pyrrolizidine alkaloids`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub assay: Option<String>,
    /// The price of the lot in the clinic's currency, such as `12.50 per 100 g`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "12.50 per 100 g")]
    pub price: Option<String>,
    /// The observation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The entry that this one corrects; it stays readable.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrects: Option<EntryId>,
    /// Why; needed with `corrects`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Read the balance before it had settled.")]
    pub reason: Option<String>,
    /// Of a weighing: why the line is outside its tolerance, 1 to 1000 characters. Needed where the weighing takes the line above
    /// it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub deviation: Option<String>,
    /// Of a weighing that was noted without a network: writes it without `deviation`. The finding that no reason is recorded stays
    /// until a correction gives one.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    #[schema(example = false)]
    pub reason_later: bool,
}

impl NewEntry {
    /// An entry of a kind that says nothing yet.
    #[must_use]
    pub const fn of(kind: EntryKind) -> Self {
        Self {
            kind,
            line: None,
            step: None,
            quantity: None,
            lot: None,
            lot_id: None,
            lot_expires: None,
            assay: None,
            price: None,
            note: None,
            corrects: None,
            reason: None,
            deviation: None,
            reason_later: false,
        }
    }
}

/// An entry of a batch record.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Entry {
    /// The entry.
    pub id: EntryId,
    /// Its number within the record.
    pub number: u32,
    /// The kind of entry.
    pub kind: EntryKind,
    /// The line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<String>,
    /// The step.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<u32>,
    /// Amount and unit as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<String>,
    /// The mass, in g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grams: Option<Figure>,
    /// By which drops and density the typed volume became grams.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "30 drops at 20 drops per mL, 0.885 g/mL")]
    pub converted_by: Option<String>,
    /// The temperature, in degrees Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub celsius: Option<Figure>,
    /// The pH.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph: Option<Figure>,
    /// The water activity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_activity: Option<Figure>,
    /// The lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// The lot of the shelf that it was weighed from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot_id: Option<LotId>,
    /// Until when the lot is good, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2027-03")]
    pub lot_expires: Option<String>,
    /// The lot's own assay of a substance that is limited by the day, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.5 ug/g pyrrolizidine alkaloids")]
    pub assay: Option<String>,
    /// The price of the lot, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "12.50 per 100 g")]
    pub price: Option<String>,
    /// The observation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The entry that this one corrects.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrects: Option<EntryId>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Of a weighing: why the line is outside its tolerance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deviation: Option<String>,
    /// Who authorised the deviation, and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub authorised: Option<Authorisation>,
    /// The entry that corrects this one: it stays readable but no longer counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrected_by: Option<EntryId>,
    /// Who wrote it.
    pub by: PersonId,
    /// The name of the person who wrote it. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// Set when the cautions had changed and the maker had not acknowledged the change yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark: Option<String>,
}

words! {
    /// The kind of finding.
    FindingKind {
        /// A weighing outside the tolerance.
        OutOfTolerance = "out_of_tolerance",
        /// A temperature outside what the step says.
        Temperature = "temperature",
        /// Something the recipe asks for was not recorded.
        Missing = "missing",
        /// More came out than went in.
        Yield = "yield",
        /// A pH that is not the target of the formula.
        Ph = "ph",
        /// A lot that was no longer good on the day of making.
        LotExpired = "lot_expired",
        /// A step that is recorded as done before an earlier one.
        StepOrder = "step_order",
        /// A step that took less time than its words ask for.
        TooFast = "too_fast",
        /// Less came out than was expected.
        YieldLow = "yield_low",
        /// A check before the start that failed, came late or is not recorded.
        Check = "check",
        /// A hold that nobody has released.
        Hold = "hold",
        /// A deviation without a reason, or one that nobody has authorised.
        Deviation = "deviation",
    }
}

/// A difference between a batch record and its recipe.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Finding {
    /// The kind of finding.
    pub kind: FindingKind,
    /// The line it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<String>,
    /// The step it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<u32>,
    /// The entry it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<EntryId>,
    /// The target.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub asked: Option<String>,
    /// The recorded value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recorded: Option<String>,
    /// One sentence that says all of it.
    pub sentence: String,
    /// Where the tolerance comes from.
    pub rule: String,
}

/// How far a line of the recipe is weighed.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LineWeighed {
    /// The line: phase and line, counted from 1.
    #[schema(example = "1.1")]
    pub line: String,
    /// All that was weighed of it so far.
    pub weighed: Figure,
    /// How far that is off, as a share of the target, with a sentence such as `0.1 g under (4.8 %)`; absent where the
    /// recipe has no mass of the line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deviation: Option<Figure>,
}

/// An entry as it was written, and its findings. The whole record stands at its own address.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct EntryWritten {
    /// The batch.
    pub batch: BatchId,
    /// Where its record stands now.
    pub state: BatchState,
    /// The version of the record: it grows with everything that is written into it.
    pub version: u64,
    /// The entry.
    pub entry: Entry,
    /// Of a weighing: its line so far.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<LineWeighed>,
    /// What is out of tolerance or missing at this line or step, or of the yield.
    pub findings: Vec<Finding>,
}

/// Handing a batch record in.
#[derive(Clone, Debug, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Submit {
    /// The maker's answer to the comments, when the record had been returned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "I weighed it again on the other balance.")]
    pub answer: Option<String>,
}

/// A submission and its findings.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Submission {
    /// Its number within the record.
    pub number: u32,
    /// When.
    pub at: DateTime<Utc>,
    /// The maker's answer to earlier comments.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answer: Option<String>,
    /// The findings at that time.
    pub findings: Vec<Finding>,
    /// The review that followed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub review: Option<Review>,
}

words! {
    /// The verdict of a review.
    Verdict {
        /// Send it back with comments.
        Return = "return",
        /// Accept the record.
        Accept = "accept",
        /// Reject the record.
        Reject = "reject",
    }
}

/// Reviewing a submitted batch record.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "verdict": "return", "summary": "Careful work. One lot is missing.",
    "comments": [{ "text": "Which lot was this?" }] }))]
pub struct NewReview {
    /// The decision.
    pub verdict: Verdict,
    /// 1 to 4000 characters.
    #[schema(example = "Careful work. One lot is missing.")]
    pub summary: String,
    /// Comments, tied to entries where they belong to one.
    #[serde(default)]
    pub comments: Vec<ReviewComment>,
    /// The mark, for a record that was handed in for an assignment with a rubric. Accepting such work needs it; work that is
    /// returned gets none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub mark: Option<NewMark>,
}

/// A comment of a review.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "text": "Which lot was this?" }))]
pub struct ReviewComment {
    /// The entry it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<EntryId>,
    /// The text: 1 to 4000 characters.
    #[schema(example = "Which lot was this?")]
    pub text: String,
}

/// A review.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Review {
    /// The review.
    pub id: ReviewId,
    /// Who reviewed.
    pub reviewer: PersonId,
    /// The reviewer's name. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub reviewer_name: Option<String>,
    /// The decision.
    pub verdict: Verdict,
    /// In a few words.
    pub summary: String,
    /// Comments.
    pub comments: Vec<ReviewComment>,
    /// When.
    pub at: DateTime<Utc>,
    /// `reviewed by its maker`, where the policy allowed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A batch record in a list, without its recipe.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct BatchSummary {
    /// The batch.
    pub id: BatchId,
    /// The number on the jar.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// The revision it is made from.
    pub revision: RevisionId,
    /// Its title.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// Who makes it.
    pub maker: PersonId,
    /// The maker's name. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub maker_name: Option<String>,
    /// Where the record stands.
    pub state: BatchState,
    /// The disposition of the jars.
    pub disposition: Disposition,
    /// When it was opened.
    pub opened_at: DateTime<Utc>,
}

/// Help for the person who weighs a line.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineAid {
    /// The line: phase and line, counted from 1.
    pub line: String,
    /// The least that is within tolerance, in grams; absent where the target is not known.
    pub low: Option<String>,
    /// The most that is within tolerance, in grams.
    pub high: Option<String>,
    /// The tolerance in per cent.
    pub percent: Option<String>,
    /// What is still to be weighed, where something was and it is below the tolerance.
    #[serde(default)]
    pub rest: Option<LineRest>,
    /// The lot that the maker used last time.
    pub lot: Option<String>,
    /// Until when that lot is good, as it was typed.
    pub lot_expires: Option<String>,
    /// That lot's own assay, as it was typed.
    pub assay: Option<String>,
    /// The price of that lot, as typed.
    pub price: Option<String>,
    /// The lots of the shelf that it can be weighed from: that which expires first comes first.
    #[serde(default)]
    pub lots: Vec<LotChoice>,
}

/// What is still to be weighed of a line, in grams.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineRest {
    /// What was weighed of it.
    pub weighed: String,
    /// What is missing, as the balance shows it.
    pub more: String,
    /// The least more that is within tolerance.
    pub low: String,
    /// The most more that is within tolerance.
    pub high: String,
}

/// What stands on the bench: the record, and help for each of its lines.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct AtBench {
    /// The record.
    pub record: BatchRecord,
    /// The help.
    pub aids: Vec<LineAid>,
    /// Whether too much of a line was weighed and a larger batch could correct it.
    pub adjustable: bool,
}

/// The product as made, calculated from the weighings.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct AsMade {
    /// Composition, limits, emulsion and so on, of what was weighed; absent for whoever has not acknowledged the
    /// cautions of everything nested in it, since it tells their amounts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evaluation: Option<Evaluation>,
    /// Until when it may be used: by the rules that hold for what was made, with the pH as measured and the lots'
    /// own dates. For whoever has not acknowledged the cautions of everything nested in it: by the approved formula and
    /// the lots' own dates, without the reasons.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub use_by: Option<UseByAnswer>,
    /// What the product as made raises and the acknowledged caution set does not hold, where an evaporation loss was planned:
    /// it stands on the label. For whoever has acknowledged the cautions of everything nested in it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<CautionInRecipe>,
    /// What it cost, from the prices of the lots: exact, and rounded once, half up, to the currency's smallest unit.
    /// A line without a price makes the total unknown. Absent where no price was written.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<CostAnswer>,
    /// How far each weighed line is off.
    pub deviations: Vec<Figure>,
    /// Theoretical, expected and actual yield.
    pub yields: Vec<Figure>,
    /// Lines of which nothing was weighed; the composition leaves them out.
    pub missing: Vec<String>,
}

/// A whole batch record: recipe, entries, findings, submissions and reviews.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct BatchRecord {
    /// The batch.
    #[serde(flatten)]
    pub summary: BatchSummary,
    /// The version of the record: it grows with everything that is written into it.
    pub version: u64,
    /// Everybody who made it, where it was handed over: `maker` has it now. None of them decides about it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub makers: Vec<Maker>,
    /// The version of the clinic's policy it is made under.
    pub policy_version: u32,
    /// The recipe as it was released to the maker.
    pub recipe: Recipe,
    /// What was checked before the start and what it is made with, corrected checks too.
    #[serde(default)]
    pub checks: Vec<Check>,
    /// The holds of the method that a second person has released.
    #[serde(default)]
    pub hold_releases: Vec<HoldRelease>,
    /// For what it was left, the first pause first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pauses: Vec<Pause>,
    /// Every entry, corrected ones too.
    pub entries: Vec<Entry>,
    /// The present findings.
    pub findings: Vec<Finding>,
    /// The product as made; absent until a line is weighed, or if it cannot be calculated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub as_made: Option<Box<AsMade>>,
    /// The submissions, each with its findings and its review.
    pub submissions: Vec<Submission>,
    /// Set when the cautions have changed since the recipe was released: acknowledge before finishing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution_change: Option<String>,
}
