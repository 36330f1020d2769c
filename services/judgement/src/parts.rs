//! A composition leaf by leaf, each with the facts of its material.

use std::collections::HashMap;

use galenics::{Evaluation, Leaf};
use materia::Material;

use crate::assembled::Assembled;
use crate::error::{Error, Result};

/// The materials of a composition, by the id under which the calculations know them.
pub type Known<'a> = HashMap<&'a str, &'a Material>;

/// A leaf of the composition with the facts of its material.
pub struct Part<'a> {
    pub leaf: &'a Leaf,
    pub material: &'a Material,
}

/// The materials at every level, by the id under which the calculations know them.
pub fn by_id(whole: &Assembled) -> HashMap<String, &Material> {
    whole.materials.iter().map(|((id, _), material)| (id.to_string(), material.as_ref())).collect()
}

/// Each leaf of a composition with the facts of its material.
pub fn parts<'a>(
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
