//! What is left of each material, and from which lots a batch can be weighed.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::ids::{LotId, MaterialId, PersonId};

/// How little of a material may be left before it counts as running low.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewThreshold {
    /// A mass, or a volume, which becomes a mass by the density of the material; `null` for no threshold.
    #[schema(example = "200 g")]
    pub least: Option<String>,
}

/// The threshold of a material.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Threshold {
    /// The material.
    pub material: MaterialId,
    /// Its name.
    #[schema(example = "yellow beeswax")]
    pub material_name: String,
    /// The threshold, as typed; absent where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "200 g")]
    pub least: Option<String>,
    /// Who set it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_by: Option<PersonId>,
    /// The name of that person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub set_by_name: Option<String>,
    /// When.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_at: Option<DateTime<Utc>>,
}

/// What is left of a material, over all its lots.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct MaterialStock {
    /// The material.
    pub material: MaterialId,
    /// Its name.
    #[schema(example = "yellow beeswax")]
    pub material_name: String,
    /// How many lots have something left.
    #[schema(example = 2)]
    pub lots: u32,
    /// What is left in lots that may be used today, in g.
    #[schema(example = "412.5")]
    pub usable_grams: String,
    /// What is left in all other lots: in quarantine, or past their date, in g.
    #[schema(example = "0")]
    pub other_grams: String,
    /// The threshold, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "200 g")]
    pub least: Option<String>,
    /// Whether less is usable than the threshold.
    pub low: bool,
    /// What all that is left cost, by currency, rounded once to hundredths.
    pub cost: Vec<StockCost>,
    /// How many lots with something left have no price that can be used.
    #[schema(example = 0)]
    pub lots_without_cost: u32,
}

/// A sum of money.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct StockCost {
    /// The currency (ISO 4217).
    #[schema(example = "EUR")]
    pub currency: String,
    /// The amount.
    #[schema(example = "7.59")]
    pub amount: String,
}

/// Which materials are listed.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct StockQuery {
    /// Only materials that are running low.
    #[param(example = true)]
    pub low: Option<bool>,
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
    /// The `next` of the previous page.
    pub after: Option<String>,
}

/// A lot from which a line of a batch can be weighed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LotChoice {
    /// The lot.
    pub id: LotId,
    /// What the clinic writes on the container.
    #[schema(example = "L2026-0042")]
    pub number: String,
    /// Who supplied it.
    #[schema(example = "Quillbrook apiary")]
    pub supplier: String,
    /// The supplier's lot.
    #[schema(example = "QB-26-117")]
    pub supplier_lot: String,
    /// The last day on which it may be used.
    pub keeps_until: NaiveDate,
    /// Whether it is open already.
    pub opened: bool,
    /// Whether the batch has reserved some of it for this line.
    pub reserved: bool,
    /// Whether it holds what the line asks for, without what others have reserved.
    pub enough: bool,
    /// What is left, in g, where that is not enough.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "12.4")]
    pub left_grams: Option<String>,
    /// Set where the lot keeps for less long than the product would: the product is then used by the lot's date. What the
    /// clinic made may be dated anew, where the product preserves it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shortens_use_by: Option<String>,
}

/// The lots from which a line of a batch can be weighed: that which expires first comes first.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LineLots {
    /// The line.
    #[schema(example = "1.1")]
    pub line: String,
    /// Its lots, ten at most.
    pub lots: Vec<LotChoice>,
}

/// The lots from which the lines of a batch can be weighed.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct BatchLots {
    /// The lines, in the order of the recipe. A line that is made by a formula is weighed from lots of the same revision.
    pub lines: Vec<LineLots>,
}
