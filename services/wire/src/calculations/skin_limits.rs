//! Limits on the skin, and allergens to declare.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Ingredient;
use crate::figure::Figure;
use crate::formulary::Regime;
use crate::recipe::{AllergenVerdict, LimitOutcome, LimitVerdict};

/// The product, its regime, and the people it is for.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SkinLimitsQuestion {
    /// The regime it is made as, which decides the limits that bind.
    pub regime: Regime,
    /// How it meets the body: `leave-on`, `rinse-off`, `sun-product`, `by-mouth`, `inhaled` or `mucosa`.
    #[schema(example = "leave-on")]
    pub exposure: String,
    /// The part of the body it is meant for, where it is one: `body`, `face`, `lips`, `hair`, `eyes`, `armpits` or
    /// `hands`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "face")]
    pub site: Option<String>,
    /// The youngest age it is meant for, like `6 years` or `30 months`; adults where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "12 years")]
    pub youngest: Option<String>,
    /// The ingredients; from 1 to 200.
    #[schema(example = json!([
        { "material": "lavender oil", "amount": "1 %" }, { "material": "olive oil", "amount": "q.s. 100 g" }]))]
    pub lines: Vec<Ingredient>,
    /// How much of it is used in a day, by mass: needed for limits on a daily amount.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "5 g")]
    pub used_daily: Option<String>,
    /// The assay of a lot, for limits on a daily amount.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!([]))]
    pub assays: Vec<Assay>,
}

/// The assay of a lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Assay {
    /// The material, which must be one of the lines.
    #[schema(example = "dried comfrey root")]
    pub material: String,
    /// The substance that was assayed: its name or key.
    #[schema(example = "pyrrolizidine-alkaloids")]
    pub substance: String,
    /// How many ug of it are in a g of the material.
    #[schema(example = "0.4")]
    pub micrograms_per_gram: String,
}

/// The result of the limits.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct SkinLimitsAnswer {
    /// The worst of all outcomes; `unknown` is not a pass.
    pub outcome: LimitOutcome,
    /// Every limit that binds and whose subject is in it, the worst first.
    pub limits: Vec<LimitVerdict>,
    /// Of limits that share an effect, how much is used up together: more than 1 is too much.
    pub figures: Vec<Figure>,
    /// Fragrance allergens in it, each with whether the label must name it.
    pub allergens: Vec<AllergenVerdict>,
}
