//! A formula as it is stored: the author's content with every ingredient resolved.
//!
//! Revisions are stored and digested in this form, so a field that is absent must stay absent when written again.

use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wire::formulary::FormulaContent;
use wire::ids::{FormulaId, MaterialId, RevisionId};

use crate::meant;

/// The ingredient that the name on a line resolved to when the draft was saved.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum Ingredient {
    /// A material, in one version of its facts.
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
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Material { name, .. } => name,
            Self::Revision { title, .. } => title,
        }
    }
}

/// The author's content with every ingredient resolved, and the household measures in force when it was saved.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Written {
    /// The content as the author wrote it.
    pub content: FormulaContent,
    /// The ingredient of each line, by phase and line.
    pub ingredients: Vec<Vec<Ingredient>>,
    /// The system of cups, spoons and fluid ounces.
    pub customary: wire::policy::Customary,
    /// The key of the preparation kind in the reference data.
    pub preparation: String,
    /// The key of the route in the reference data.
    pub route: String,
}

impl Written {
    /// The intended part of the body, if the author stated one.
    #[must_use]
    pub fn site(&self) -> Option<materia::Site> {
        self.content.site.as_deref().and_then(|text| meant::site(text).ok())
    }

    /// The lowest intended age, in completed months. `None` means adults only.
    #[must_use]
    pub fn youngest_months(&self) -> Option<u32> {
        self.content.youngest.as_deref().and_then(|text| meant::months(text).ok())
    }

    /// The revisions named on its own lines, not those nested deeper.
    pub fn nested(&self) -> impl Iterator<Item = RevisionId> {
        self.ingredients.iter().flatten().filter_map(|ingredient| match ingredient {
            Ingredient::Revision { id, .. } => Some(*id),
            Ingredient::Material { .. } => None,
        })
    }

    /// The materials named on its own lines, with the version of their facts.
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

    /// Content frozen before these fields existed must keep its digest.
    #[test]
    fn absent_site_and_age_are_not_written() {
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
