//! The leaves of a composition, each with the facts of its material.

use std::collections::HashMap;

use galenics::{Evaluation, Leaf};
use materia::Material;

use crate::assembled::Assembled;
use crate::error::{Error, Result};

/// The materials of a composition, by the ID that the calculations use.
pub type Known<'a> = HashMap<&'a str, &'a Material>;

/// A leaf of the composition with the facts of its material.
pub struct Part<'a> {
    /// The leaf, with its share of the product.
    pub leaf: &'a Leaf,
    /// The material of the leaf.
    pub material: &'a Material,
}

/// The materials at every level, by the ID that the calculations use.
#[must_use]
pub fn by_id(whole: &Assembled) -> HashMap<String, &Material> {
    whole.materials.iter().map(|((id, _), material)| (id.to_string(), material.as_ref())).collect()
}

/// Pairs each leaf of a composition with the facts of its material.
///
/// # Errors
/// Returns [`Error::Internal`] if `materials` lacks the material of a leaf.
pub fn parts<'a>(
    materials: &HashMap<String, &'a Material>,
    evaluation: &'a Evaluation,
) -> Result<Vec<Part<'a>>> {
    // The water of a fresh herb is a leaf without a material of its own, so it has no facts to look up.
    let gathered = |leaf: &&Leaf| leaf.material.kind != galenics::MaterialKind::Water;
    let leaves = evaluation.composition.iter().filter(gathered);
    leaves
        .map(|leaf| match materials.get(leaf.material.id.as_str()) {
            Some(&material) => Ok(Part { leaf, material }),
            None => Err(Error::internal("a leaf without its facts")),
        })
        .collect()
}
