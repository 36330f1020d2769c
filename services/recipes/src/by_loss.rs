//! Cautions that an evaporation loss raises: of a recipe by the loss that is planned, of a batch by what was made.
//!
//! The acknowledged set follows the formula and is acknowledged once for every batch; a loss concentrates what stays, so
//! that a batch may pass a threshold which the formula keeps. A planned loss that raises a contraindication is refused,
//! since nobody acknowledged that. Never here: an answer that follows from nested amounts, for a reader to whom they are
//! closed.

use std::sync::Arc;

use formulary::assemble::{FactsAsOf, with_facts};
use formulary::gate::Passed;
use formulary::{FrozenRevision, clinic_cautions};
use galenics::Evaluation;
use judgement::cautions::cautions;
use judgement::{Assembled, ClinicCautions, Observed, judge};
use materia::Materia;
use release::EveryLevel;
use store::{Result, Tx};
use wire::safety::{Caution, CautionInRecipe, CautionLevel, CautionSet};

use crate::application::after_evaporation;
use crate::face::Face;
use crate::made_for::Asked;
use crate::work::WorkedOut;

/// What is said where the amounts that decide are closed to the reader.
const CLOSED: &str = "The evaporation loss may raise cautions that are not listed here, because they depend on nested \
                      formulas. Acknowledge the cautions of every nested formula to read them.";
/// What is said where so great a loss cannot be reckoned with.
const TOO_MUCH: &str = "The evaporation loss may raise cautions that are not listed here, because more evaporates than the \
                        ingredients can lose. Enter a smaller loss.";

/// What an evaporation loss raises beside the acknowledged set.
#[derive(Default)]
pub(crate) struct ByLoss {
    /// The cautions, the strongest first.
    pub(crate) raised: Vec<Caution>,
    /// Why it could not be judged.
    pub(crate) not_judged: Option<&'static str>,
}

impl ByLoss {
    /// The recipe that says so with its cautions.
    pub(crate) fn told_in(&self, mut worked: WorkedOut) -> WorkedOut {
        let told = &mut worked.recipe.caution_set;
        told.by_loss = self.raised.iter().map(CautionInRecipe::from).collect();
        told.loss_not_judged = self.not_judged.map(str::to_owned);
        worked
    }
}

/// What the planned loss of a recipe raises. `levels` proves that nothing nested is closed to the reader.
///
/// # Errors
/// Returns [`store::Error::Invalid`] at `evaporation_loss` if it raises a contraindication or a stop, and the errors of the
/// database.
pub(crate) async fn planned(
    tx: &mut Tx<'_>,
    passed: &Passed<'_>,
    frozen: &Arc<FrozenRevision>,
    face: &Face,
    asked: &Asked,
    levels: Option<&EveryLevel<'_, '_>>,
) -> Result<ByLoss> {
    if asked.losses.evaporation.get().is_zero() {
        return Ok(ByLoss::default());
    }
    let not_judged = |why| Ok(ByLoss { raised: Vec::new(), not_judged: Some(why) });
    if levels.is_none() && !frozen.assembled.nested.is_empty() {
        return not_judged(CLOSED);
    }
    let written = &frozen.written;
    let nested = frozen.assembled.nested.clone();
    let whole = with_facts(tx, passed.facts.formula, written, nested, FactsAsOf::Now).await?;
    // What leaves more than there is, is refused by the formula's own lines where the recipe is scaled.
    let Ok(evaporated) = after_evaporation(&whole.evaluation, asked) else { return not_judged(TOO_MUCH) };
    let own = clinic_cautions::read(tx).await?;
    let (reference, frozen) = (Arc::clone(tx.reference), Arc::clone(frozen));
    let acknowledged = face.cautions.clone();
    let raised = tx.calculate(move || {
        let observed = Observed::as_written(&frozen.written.content);
        let of = Beside { reference: &reference, frozen: &frozen, whole: &whole, own: &own };
        Ok(of.raised(&acknowledged, evaporated, &observed)?)
    });
    let raised = raised.await?;
    if let Some(bars) = raised.iter().find(|caution| caution.level >= CautionLevel::Contraindication) {
        let refused = format!(
            "This loss concentrates the product until a {} applies that the acknowledged cautions do not hold: {} Enter a \
             smaller loss, or have a revision approved that states this caution.",
            bars.level, bars.text
        );
        return Err(asked.refuse("evaporation_loss", refused));
    }
    Ok(ByLoss { raised, not_judged: None })
}

/// A formula with the facts of now, whose cautions are worked out for another composition than the written one.
pub(crate) struct Beside<'a> {
    pub(crate) reference: &'a Materia,
    pub(crate) frozen: &'a FrozenRevision,
    pub(crate) whole: &'a Assembled,
    pub(crate) own: &'a ClinicCautions,
}

impl Beside<'_> {
    /// The binding cautions of a composition that neither the acknowledged set nor the formula as written holds.
    ///
    /// # Errors
    /// Returns the errors of judging.
    pub(crate) fn raised(
        &self,
        acknowledged: &CautionSet,
        evaluation: Evaluation,
        observed: &Observed,
    ) -> judgement::Result<Vec<Caution>> {
        let mut raised = self.all(&self.whole.evaluated_as(evaluation), observed)?;
        raised.retain(|caution| !holds(&acknowledged.cautions, caution));
        if raised.is_empty() {
            return Ok(raised);
        }
        let written = self.all(self.whole, &Observed::as_written(&self.frozen.written.content))?;
        raised.retain(|caution| !holds(&written, caution));
        Ok(raised)
    }

    fn all(&self, whole: &Assembled, observed: &Observed) -> judgement::Result<Vec<Caution>> {
        let written = &self.frozen.written;
        let judged = judge(self.reference, written, whole, &whole.evaluation, observed)?;
        let found = cautions(self.reference, written, whole, &judged, self.own)?.cautions;
        let binding = |caution: &Caution| caution.level >= CautionLevel::Caution;
        Ok(found.into_iter().map(|counted| counted.caution).filter(binding).collect())
    }
}

/// Whether a set says the same at least as strongly: under its key, or in its words.
pub(crate) fn holds(set: &[Caution], caution: &Caution) -> bool {
    let same = |it: &Caution| {
        let by_key = it.key == caution.key && it.text_version == caution.text_version;
        (by_key || it.text == caution.text) && it.level >= caution.level
    };
    set.iter().any(same)
}
