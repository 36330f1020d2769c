//! What a formula's composition means: alcohol, emulsion, limits, allergens, and whether its water is preserved.
//!
//! For: handing the reference data's limits and properties to the calculations, for a formula as written and for a
//! batch as made alike. What never happens here: a limit without its source, or a share that is not known counted
//! as nothing.

use galenics::Evaluation;
use galenics::alcohol::{AlcoholContent, alcohol_content};
use galenics::emulsion::Emulsion;
use galenics::limits::{Declaration, GroupUse};
use galenics::use_by::Preservation;
use materia::Materia;

use crate::assembled::Assembled;
use crate::error::Result;
use crate::limits::LimitAssessment;
use crate::observed::Observed;
use crate::parts::{Known, by_id, parts};
use crate::written::Written;
use crate::{daily, emulsion, limits, preserved};

/// A composition, judged.
pub struct Assessment {
    pub alcohol: AlcoholContent,
    /// Where there are oil and water in it.
    pub emulsion: Option<Emulsion>,
    pub limits: Vec<LimitAssessment>,
    /// Limits that share an effect, together.
    pub groups: Vec<GroupUse>,
    pub allergens: Vec<Declaration>,
    pub preservation: Preservation,
    /// Whether there is water in it; not known counts as watery.
    pub watery: bool,
}

/// Judges a composition: the formula's own, or that of a batch as made with what was measured of it.
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
    let watery = evaluation.water.value().is_none_or(|water| !water.is_zero());
    let preservation = preserved::judge(reference, evaluation, &parts, observed)?;
    let meant = limits::meant_for(reference, written, &parts);
    let mut limits = limits::judge(reference, &meant, evaluation, &parts, &known);
    let judgements = &mut limits.judgements;
    daily::judge(reference, written, &whole.formula, evaluation, observed, &known, judgements);
    Ok(Assessment {
        emulsion: emulsion::judge(evaluation, &parts, observed),
        limits: limits.judgements,
        groups: limits.groups,
        allergens: limits::allergens(reference, &meant, evaluation, &parts),
        preservation,
        watery,
        alcohol,
    })
}
