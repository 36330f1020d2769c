//! What a formula's composition means: alcohol, emulsion, limits, allergens, and whether its water is preserved.
//!
//! For: handing the reference data's limits and properties to the calculations, for a formula as written and for a
//! batch as made alike. What never happens here: a limit without its source, or a share that is not known counted
//! as nothing.

mod daily;
mod dating;
mod emulsion;
pub(crate) mod limits;
mod observed;
mod preserved;

use std::collections::HashMap;

use galenics::alcohol::{AlcoholContent, alcohol_content};
use galenics::emulsion::Emulsion;
use galenics::limits::{Declaration, GroupUse};
use galenics::use_by::Preservation;
use galenics::{Evaluation, Leaf};
use materia::{Materia, Material};

use super::assemble::Assembled;
use crate::error::{Error, Result};
use crate::formulary::Written;

pub(crate) use daily::mass as used_daily;
pub(super) use dating::{Dated, switched_off, use_by};
pub(crate) use emulsion::profile;
pub(super) use limits::Judgement;
pub(super) use observed::Observed;

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

/// The materials at every level, by the id under which the calculations know them.
pub(super) fn by_id(whole: &Assembled) -> HashMap<String, &Material> {
    whole.materials.iter().map(|((id, _), material)| (id.to_string(), material.as_ref())).collect()
}

/// Each leaf of a composition with the facts of its material.
pub(super) fn parts<'a>(
    materials: &HashMap<String, &'a Material>,
    evaluation: &'a Evaluation,
) -> Result<Vec<Part<'a>>> {
    // The water that a fresh herb gives to its menstruum is a leaf of its own and no material: it is plain water.
    let gathered = |leaf: &&Leaf| leaf.material.kind != galenics::MaterialKind::Water;
    let leaves = evaluation.composition.iter().filter(gathered);
    leaves
        .map(|leaf| match materials.get(leaf.material.id.as_str()) {
            Some(&material) => Ok(Part { leaf, material }),
            None => Err(Error::internal("a leaf without its facts")),
        })
        .collect()
}

/// Judges a composition: the formula's own, or that of a batch as made with what was measured of it.
pub(super) fn judge(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    evaluation: &Evaluation,
    observed: &Observed,
) -> Result<Judged> {
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
    Ok(Judged {
        emulsion: emulsion::judge(evaluation, &parts, observed),
        limits: limits.judgements,
        groups: limits.groups,
        allergens: limits::allergens(reference, &meant, evaluation, &parts),
        preservation,
        watery,
        alcohol,
    })
}
