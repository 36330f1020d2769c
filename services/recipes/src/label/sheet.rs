//! Input of a label, collected before it is written.

use chrono::NaiveDate;
use formulary::Facts;
use galenics::{Evaluation, Text};
use judgement::dating::DatedLot;
use judgement::{Assembled, Assessment, Observed, Written};
use policy::Rules;
use release::entries::Entry;
use wire::bench::Disposition;
use wire::ids::BatchId;
use wire::label::LabelComposition;
use wire::safety::CautionSet;

use crate::stored::Recipe;

use super::room::{Area, Net};

/// The batch whose label is requested.
pub struct LabelledBatch<'a> {
    /// ID of the batch.
    pub id: BatchId,
    /// Number of the batch as printed, such as `2026-014`.
    pub number: &'a str,
    /// Decision on its use, such as released or in quarantine.
    pub disposition: Disposition,
    /// The day of making.
    pub made_on: NaiveDate,
    /// The recipe that the batch was opened with.
    pub asked: &'a Recipe,
    /// The entries of its record.
    pub entries: &'a [Entry],
    /// The policy version in force when it was made.
    pub rules: &'a Rules,
    /// A last day that somebody chose, and why; it binds where the rules date later or not at all.
    pub no_later: Option<(NaiveDate, String)>,
    /// Whether it is the label of a jar that is kept as a sample.
    pub sample: bool,
}

/// Input of a label.
pub(super) struct Sheet<'a> {
    pub(super) facts: &'a Facts,
    /// Whether the revision is withheld because a new stop applies.
    pub(super) withheld: bool,
    /// The policy in force now: a label shows the current name and notice of the clinic.
    pub(super) rules: &'a Rules,
    pub(super) written: &'a Written,
    /// The formula with the current facts of its materials: a label shows current names and warnings.
    pub(super) whole: &'a Assembled,
    /// The evaluation of the approved formula, or of the batch as made.
    pub(super) evaluation: &'a Evaluation,
    pub(super) judged: &'a Assessment,
    /// The measurements of the batch, or the values of the method.
    pub(super) observed: &'a Observed,
    /// The weighed lots with their expiry dates.
    pub(super) lots: Vec<DatedLot>,
    /// The dating rules that the clinic has switched off.
    pub(super) switched_off: Vec<(Text, Text)>,
    pub(super) of: LabelComposition,
    pub(super) why_planned: Option<String>,
    /// Whether the label shows the plan although the batch is submitted: the weighings may call for another one.
    pub(super) unchecked: bool,
    pub(super) set: CautionSet,
    pub(super) batch: Option<&'a LabelledBatch<'a>>,
    pub(super) net: Option<Net>,
    pub(super) made_on: Option<NaiveDate>,
    /// Today in the clinic's time zone. Without a day of making it is used to work out the storage conditions.
    pub(super) today: NaiveDate,
    pub(super) room: Option<Area>,
}
