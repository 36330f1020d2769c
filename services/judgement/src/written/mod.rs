//! A formula as it is stored: the author's content with every ingredient resolved.
//!
//! These are types of their own, apart from `wire`, so that a change of the API alters neither a digest nor an old
//! record. Revisions are digested in this form: a field is never renamed, and one that is absent stays absent when
//! written again. All calculations take these types; `travel` converts them from requests and to answers.

mod content;
mod travel;
mod words;

use galenics::TargetPh;
use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wire::ids::RevisionId;

use crate::meant;

pub use content::{Content, LabelText, Line, OwnCaution, Phase, Serving, Stability, Step, WaterActivity};
pub use words::{Customary, Group, Level, Regime, Stage};

/// The ingredient that the name on a line resolved to when the draft was saved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum Ingredient {
    /// A material, in one version of its facts.
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
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Material { name, .. } => name,
            Self::Revision { title, .. } => title,
        }
    }
}

/// Drops in a millilitre from the clinic's own dropper, by kind of liquid, as decimal numbers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Dropper {
    /// The version of the policy that states them.
    pub policy: i32,
    /// Of what is mostly water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water: Option<String>,
    /// Of spirits and tinctures.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spirit: Option<String>,
    /// Of fixed oils and infused oils.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oil: Option<String>,
    /// Of essential oils.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub essential_oil: Option<String>,
    /// Of glycerol and glycerites.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub glycerol: Option<String>,
}

impl Dropper {
    /// The drops that a version of the policy states; `None` where it states none.
    #[must_use]
    pub fn of_policy(policy: i32, drops: &wire::policy::DropsPerMl) -> Option<Self> {
        if *drops == wire::policy::DropsPerMl::default() {
            return None;
        }
        let wire::policy::DropsPerMl { water, spirit, oil, essential_oil, glycerol } = drops.clone();
        Some(Self { policy, water, spirit, oil, essential_oil, glycerol })
    }
}

/// The author's content with every ingredient resolved, and the household measures in force when it was saved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Written {
    /// The content as the author wrote it.
    pub content: Content,
    /// For each phase and line, the ingredient.
    pub ingredients: Vec<Vec<Ingredient>>,
    /// The family of cups, spoons and fluid ounces.
    pub customary: Customary,
    /// The clinic's own drops in a millilitre, where it had counted any when the draft was saved.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dropper: Option<Dropper>,
    /// The key of the preparation kind in the reference data.
    pub preparation: String,
    /// The key of the route in the reference data.
    pub route: String,
}

impl Written {
    /// The intended part of the body: as the author stated, else as the route says, since what goes on the lips is meant
    /// for them.
    #[must_use]
    pub fn site(&self) -> Option<materia::Site> {
        let stated = self.content.site.as_deref().and_then(|text| meant::site(text).ok());
        stated.or_else(|| (self.route == "lips").then_some(materia::Site::Lips))
    }

    /// The pH that the product is to have.
    #[must_use]
    pub fn target_ph(&self) -> Option<TargetPh> {
        TargetPh::parse(self.content.target_ph.as_deref()?).ok()
    }

    /// The lowest intended age, in completed months. `None` means adults only.
    #[must_use]
    pub fn youngest_months(&self) -> Option<u32> {
        self.content.youngest.as_deref().and_then(|text| meant::months(text).ok())
    }

    /// The revisions named on its own lines, not those nested deeper.
    pub fn nested(&self) -> impl Iterator<Item = RevisionId> {
        self.ingredients.iter().flatten().filter_map(|ingredient| match ingredient {
            Ingredient::Revision { id, .. } => Some(RevisionId(*id)),
            Ingredient::Material { .. } => None,
        })
    }

    /// The materials named on its own lines, with the version of their facts.
    pub fn materials(&self) -> impl Iterator<Item = (Uuid, i32)> {
        self.ingredients.iter().flatten().filter_map(|ingredient| match ingredient {
            Ingredient::Material { id, version, .. } => Some((*id, *version)),
            Ingredient::Revision { .. } => None,
        })
    }
}
