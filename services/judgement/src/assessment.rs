//! Assessment of a composition: alcohol, emulsion, limits, allergens and preservation.
//!
//! Runs every assessment of this crate on one composition, of a formula as written or of a batch as made. Never here: a
//! calculation of its own.

use galenics::Evaluation;
use galenics::alcohol_content::{AlcoholContent, alcohol_content};
use galenics::emulsion::Emulsion;
use galenics::limits::{Declaration, GroupUse};
use galenics::use_by::{GROWTH, Preservation, WateryPhase};
use materia::Materia;

use crate::assembled::Assembled;
use crate::error::Result;
use crate::limits::LimitAssessment;
use crate::observed::Observed;
use crate::parts::{Known, by_id, parts};
use crate::written::Written;
use crate::{allergens, daily, emulsion, limits, preserved};

/// The assessment of a composition.
pub struct Assessment {
    /// Ethanol content of the product and of its water phase.
    pub alcohol: AlcoholContent,
    /// The emulsion, if the composition holds oil and water.
    pub emulsion: Option<Emulsion>,
    /// Every applicable limit with its outcome, the worst first.
    pub limits: Vec<LimitAssessment>,
    /// Sums over limits that restrict the same effect.
    pub groups: Vec<GroupUse>,
    /// The allergens present, each with whether the label must name it.
    pub allergens: Vec<Declaration>,
    /// Whether the water phase is preserved, and by what.
    pub preservation: Preservation,
    /// What its watery phase holds, where that is known.
    pub watery_phase: Option<WateryPhase>,
    /// The acids of its preservatives that give one: they work only below some pH.
    pub preserving_acids: Vec<String>,
    /// Whether something can grow in it: by its measured water activity, else because it holds water. An unknown share counts
    /// as water.
    pub watery: bool,
}

/// Assesses the composition in `evaluation`: of the formula as written, or of a batch as made with its measurements.
///
/// # Errors
/// Returns [`Error::Internal`](crate::Error::Internal) if `whole` lacks the facts of a material, or if the calculation
/// of preservation refuses these facts.
pub fn judge(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    evaluation: &Evaluation,
    observed: &Observed,
) -> Result<Assessment> {
    let materials = by_id(whole);
    let known: Known<'_> = materials.iter().map(|(id, material)| (id.as_str(), *material)).collect();
    let parts = parts(&materials, evaluation)?;
    let alcohol = alcohol_content(evaluation);
    let watery = match &observed.water_activity {
        Some(activity) => activity.value >= GROWTH,
        None => evaluation.water.value().is_none_or(|water| !water.is_zero()),
    };
    let (preservation, watery_phase) = preserved::judge(reference, evaluation, &parts, observed)?;
    let preserving_acids = preserved::acids(reference, &parts);
    let meant = limits::meant_for(reference, written, &parts);
    let mut limits = limits::judge(reference, &meant, evaluation, &parts, &known);
    let judgements = &mut limits.judgements;
    daily::judge(reference, written, &whole.formula, evaluation, observed, &known, judgements);
    Ok(Assessment {
        emulsion: emulsion::judge(evaluation, &parts, observed),
        limits: limits.judgements,
        groups: limits.groups,
        allergens: allergens::allergens(reference, &meant, evaluation, &parts, &known),
        preservation,
        watery_phase,
        preserving_acids,
        watery,
        alcohol,
    })
}
