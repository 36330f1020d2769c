//! Everything that a label is put together from.

use chrono::NaiveDate;
use formulary::Facts;
use galenics::use_by::DatedPart;
use galenics::{Evaluation, Text};
use judgement::{Assembled, Assessment, Observed, Written};
use policy::Rules;
use wire::bench::{Disposition, Entry};
use wire::ids::BatchId;
use wire::label::LabelComposition;
use wire::recipe::Recipe;
use wire::safety::CautionSet;

use super::room::{Area, Net};

/// A batch whose label is asked for.
pub struct LabelledBatch<'a> {
    pub id: BatchId,
    pub number: &'a str,
    pub disposition: Disposition,
    /// The day of making.
    pub made_on: NaiveDate,
    /// What it asked for.
    pub asked: &'a Recipe,
    /// What was written into its record.
    pub entries: &'a [Entry],
    /// The rules it was made under.
    pub rules: &'a Rules,
}

/// Everything that a label is put together from.
pub(super) struct Sheet<'a> {
    pub(super) facts: &'a Facts,
    /// Whether a stop that it gained holds it back.
    pub(super) withheld: bool,
    /// The rules in force: a label printed today bears the clinic's name and notice of today.
    pub(super) rules: &'a Rules,
    pub(super) written: &'a Written,
    /// With the facts of its materials as they are known now: it is a jar of today that bears their names and warnings.
    pub(super) whole: &'a Assembled,
    /// Of what was planned, as it was approved and is weighed, or of what was made.
    pub(super) evaluation: &'a Evaluation,
    pub(super) judged: &'a Assessment,
    /// What was measured of it, or what its method asks for.
    pub(super) observed: &'a Observed,
    /// The lots it was made from, with their own dates.
    pub(super) lots: Vec<DatedPart>,
    /// The dating rules that the clinic has switched off.
    pub(super) switched_off: Vec<(Text, Text)>,
    pub(super) of: LabelComposition,
    pub(super) why_planned: Option<String>,
    pub(super) set: CautionSet,
    pub(super) batch: Option<&'a LabelledBatch<'a>>,
    pub(super) net: Option<Net>,
    pub(super) made_on: Option<NaiveDate>,
    /// The clinic's today: how a preparation is kept can be said before anybody knows when it will be made.
    pub(super) today: NaiveDate,
    pub(super) room: Option<Area>,
}
