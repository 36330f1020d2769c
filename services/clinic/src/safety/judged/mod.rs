//! What a formula's composition means: alcohol, emulsion, limits, allergens, and whether its water is preserved.
//!
//! For: handing the reference data's limits and properties to the calculations, for a formula as written and for a
//! batch as made alike. What never happens here: a limit without its source, or a share that is not known counted
//! as nothing.

mod dating;
mod emulsion;
pub(crate) mod limits;

use std::collections::HashMap;
use std::sync::Arc;

use galenics::alcohol::{AlcoholContent, alcohol_content};
use galenics::emulsion::Emulsion;
use galenics::limits::{Declaration, GroupUse};
use galenics::use_by::{Preservation, PreservationFacts, PreservationRules, preservation, watery_phase};
use galenics::{Evaluation, Leaf};
use materia::{Materia, Material};

use super::assemble::Assembled;
use crate::error::{Error, Result};
use crate::formulary::Written;

pub(super) use dating::use_by;
pub(crate) use emulsion::profile;
pub(super) use limits::Judgement;

/// A composition, judged.
pub(super) struct Judged {
    pub(super) alcohol: AlcoholContent,
    /// Where there are oil and water in it.
    pub(super) emulsion: Option<Emulsion>,
    pub(super) limits: Vec<Judgement>,
    /// Limits that share an effect, together.
    pub(super) groups: Vec<GroupUse>,
    pub(super) allergens: Vec<Declaration>,
    pub(super) preservation: Preservation,
    /// Whether there is water in it; not known counts as watery.
    pub(super) watery: bool,
}

/// The materials of a composition, by the id under which the calculations know them.
pub(crate) type Known<'a> = HashMap<&'a str, &'a Material>;

/// A leaf of the composition with the facts of its material.
pub(crate) struct Part<'a> {
    pub(crate) leaf: &'a Leaf,
    pub(crate) material: &'a Material,
}

/// Judges a composition: the formula's own, or that of a batch as made.
pub(super) fn judge(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    evaluation: &Evaluation,
) -> Result<Judged> {
    let ids: Vec<(String, &Arc<Material>)> =
        whole.materials.iter().map(|((id, _), material)| (id.to_string(), material)).collect();
    let known: Known<'_> = ids.iter().map(|(id, material)| (id.as_str(), material.as_ref())).collect();
    let parts: Vec<Part<'_>> = evaluation
        .composition
        .iter()
        .map(|leaf| {
            let material = known.get(leaf.material.id.as_str()).copied();
            material
                .map(|material| Part { leaf, material })
                .ok_or_else(|| Error::internal("a leaf without its facts"))
        })
        .collect::<Result<_>>()?;
    let alcohol = alcohol_content(evaluation);
    let watery = evaluation.water.value().is_none_or(|water| !water.is_zero());
    let preservation = preserved(evaluation, &parts)?;
    let meant = limits::meant_for(reference, written, &parts);
    let limits = limits::judge(reference, &meant, evaluation, &parts, &known);
    Ok(Judged {
        emulsion: emulsion::judge(evaluation, &parts),
        limits: limits.judgements,
        groups: limits.groups,
        allergens: limits::allergens(reference, &meant, evaluation, &parts),
        preservation,
        watery,
        alcohol,
    })
}

/// Whether the watery phase is shown to be preserved. No pH has been measured of a formula, so that an acid
/// preservative does not earn it here.
fn preserved(evaluation: &Evaluation, parts: &[Part<'_>]) -> Result<Preservation> {
    let glycerol: Vec<_> = parts
        .iter()
        .filter(|part| part.material.key == "glycerol")
        .map(|part| part.leaf.material.id.clone())
        .collect();
    let facts = match watery_phase(evaluation, &glycerol) {
        Ok(phase) => PreservationFacts {
            alcohol: Some(phase.alcohol),
            glycerol: Some(phase.glycerol),
            sugar: Some(phase.sugar),
            ..PreservationFacts::default()
        },
        // What is not known preserves nothing.
        Err(_) => PreservationFacts::default(),
    };
    preservation(&facts, &PreservationRules::remembered())
        .map_err(|refusal| Error::internal(refusal.says.to_string()))
}
