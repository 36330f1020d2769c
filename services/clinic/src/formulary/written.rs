//! A formula as it is kept: what the author wrote, with every ingredient resolved.

use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wire::formulary::FormulaContent;
use wire::ids::{FormulaId, MaterialId, RevisionId};

/// What a line's name led to when it was written.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub(crate) enum Ingredient {
    /// A material in one version of its facts.
    Material {
        /// The material.
        id: MaterialId,
        /// The version of its facts.
        version: i32,
        /// Its name at that time.
        name: String,
    },
    /// A preparation made by another formula, in one frozen revision.
    Revision {
        /// The revision.
        id: RevisionId,
        /// Its formula.
        formula: FormulaId,
        /// Its title.
        title: String,
        /// Its digest, in hex.
        digest: String,
    },
}

impl Ingredient {
    /// The name shown to members.
    pub(crate) fn name(&self) -> &str {
        match self {
            Self::Material { name, .. } => name,
            Self::Revision { title, .. } => title,
        }
    }
}

/// What the author wrote, with every ingredient resolved and the household measures that were meant.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Written {
    /// As the author wrote it.
    pub(crate) content: FormulaContent,
    /// For each phase and line, what its name led to.
    pub(crate) ingredients: Vec<Vec<Ingredient>>,
    /// Which cups, spoons and fluid ounces were meant.
    pub(crate) customary: wire::policy::Customary,
    /// The key of the preparation kind in the reference data.
    pub(crate) preparation: String,
    /// The key of the route in the reference data.
    pub(crate) route: String,
}

impl Written {
    /// The revisions it is directly made from.
    pub(crate) fn nested(&self) -> impl Iterator<Item = RevisionId> {
        self.ingredients.iter().flatten().filter_map(|ingredient| match ingredient {
            Ingredient::Revision { id, .. } => Some(*id),
            Ingredient::Material { .. } => None,
        })
    }

    /// The materials it is directly made from, with the version of their facts.
    pub(crate) fn materials(&self) -> impl Iterator<Item = (Uuid, i32)> {
        self.ingredients.iter().flatten().filter_map(|ingredient| match ingredient {
            Ingredient::Material { id, version, .. } => Some((id.0, *version)),
            Ingredient::Revision { .. } => None,
        })
    }
}
