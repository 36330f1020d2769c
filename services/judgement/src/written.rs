//! A formula as it is kept: what the author wrote, with every ingredient resolved.

use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wire::formulary::FormulaContent;
use wire::ids::{FormulaId, MaterialId, RevisionId};

use crate::meant;

/// What a line's name led to when it was written.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum Ingredient {
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
    pub fn name(&self) -> &str {
        match self {
            Self::Material { name, .. } => name,
            Self::Revision { title, .. } => title,
        }
    }
}

/// What the author wrote, with every ingredient resolved and the household measures that were meant.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Written {
    /// As the author wrote it.
    pub content: FormulaContent,
    /// For each phase and line, what its name led to.
    pub ingredients: Vec<Vec<Ingredient>>,
    /// Which cups, spoons and fluid ounces were meant.
    pub customary: wire::policy::Customary,
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
            Ingredient::Revision { id, .. } => Some(*id),
            Ingredient::Material { .. } => None,
        })
    }

    /// The materials it is directly made from, with the version of their facts.
    pub fn materials(&self) -> impl Iterator<Item = (Uuid, i32)> {
        self.ingredients.iter().flatten().filter_map(|ingredient| match ingredient {
            Ingredient::Material { id, version, .. } => Some((id.0, *version)),
            Ingredient::Revision { .. } => None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What was frozen before these fields were there keeps its digest: a field that is left out is not written.
    #[test]
    fn whom_and_where_it_is_meant_for_are_written_only_where_they_are_said() {
        let old = serde_json::json!({
            "content": {
                "title": "Plain salve", "preparation": "salve", "route": "intact skin", "regime": "cosmetic",
                "phases": [], "method": [], "cautions": [],
                "label": {},
            },
            "ingredients": [], "customary": "us", "preparation": "salve", "route": "intact-skin-leave-on",
        });
        let written: Written = serde_json::from_value(old.clone()).unwrap();
        assert_eq!((written.site(), written.youngest_months()), (None, None));
        assert_eq!(serde_json::to_value(&written).unwrap(), old);
    }
}
