//! A formula as it is kept: what the author wrote, with every ingredient resolved.
//!
//! For: types of its own for what is stored, so that a change of the API alters neither a digest nor an old record.
//! Everything that judges or works out a formula takes these; `wire` appears where a request comes in and an answer goes
//! out, in `travel`. What never happens here: a field renamed or reordered, since digests were taken over this JSON.

mod content;
mod travel;
mod words;

use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wire::ids::RevisionId;

use crate::meant;

pub use content::{Content, LabelText, Line, OwnCaution, Phase, Stability, Step};
pub use words::{Customary, Level, Regime};

/// What a line's name led to when it was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum Ingredient {
    /// A material in one version of its facts.
    Material {
        /// The material.
        id: Uuid,
        /// The version of its facts.
        version: i32,
        /// Its name at that time.
        name: String,
    },
    /// A preparation made by another formula, in one frozen revision.
    Revision {
        /// The revision.
        id: Uuid,
        /// Its formula.
        formula: Uuid,
        /// Its title.
        title: String,
        /// Its digest, in hex.
        digest: String,
    },
}

impl Ingredient {
    /// The name shown to members.
    pub fn name(&self) -> &str {
        match self {
            Self::Material { name, .. } => name,
            Self::Revision { title, .. } => title,
        }
    }
}

/// What the author wrote, with every ingredient resolved and the household measures that were meant.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Written {
    /// As the author wrote it.
    pub content: Content,
    /// For each phase and line, what its name led to.
    pub ingredients: Vec<Vec<Ingredient>>,
    /// Which cups, spoons and fluid ounces were meant.
    pub customary: Customary,
    /// The key of the preparation kind in the reference data.
    pub preparation: String,
    /// The key of the route in the reference data.
    pub route: String,
}

impl Written {
    /// The part of the body it is meant for, where it is meant for one.
    pub fn site(&self) -> Option<materia::Site> {
        self.content.site.as_deref().and_then(|text| meant::site(text).ok())
    }

    /// The age in months of the youngest person it is meant for; adults only where it is not said.
    pub fn youngest_months(&self) -> Option<u32> {
        self.content.youngest.as_deref().and_then(|text| meant::months(text).ok())
    }

    /// The revisions it is directly made from.
    pub fn nested(&self) -> impl Iterator<Item = RevisionId> {
        self.ingredients.iter().flatten().filter_map(|ingredient| match ingredient {
            Ingredient::Revision { id, .. } => Some(RevisionId(*id)),
            Ingredient::Material { .. } => None,
        })
    }

    /// The materials it is directly made from, with the version of their facts.
    pub fn materials(&self) -> impl Iterator<Item = (Uuid, i32)> {
        self.ingredients.iter().flatten().filter_map(|ingredient| match ingredient {
            Ingredient::Material { id, version, .. } => Some((*id, *version)),
            Ingredient::Revision { .. } => None,
        })
    }
}
