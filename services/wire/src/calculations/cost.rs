//! What something costs.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The materials drawn and their prices, in one currency.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CostQuestion {
    /// The currency of every price (ISO 4217); the clinic's own where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "EUR")]
    pub currency: Option<String>,
    /// The materials drawn, losses included; from 1 to 200.
    pub draws: Vec<DrawPriced>,
    /// Other costs: jars, labels, hours.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub extras: Vec<ExtraCost>,
    /// Over how many containers it is spread: 1 to 100000.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 12, minimum = 1, maximum = 100_000)]
    pub containers: Option<u32>,
}

/// One draw with its price.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DrawPriced {
    /// What it is.
    #[schema(example = "olive oil")]
    pub name: String,
    /// How much of it is drawn.
    #[schema(example = "300 g")]
    pub quantity: String,
    /// The price of the amount in `per`; without it the cost is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "8.90")]
    pub price: Option<String>,
    /// For how much the price is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "1 kg")]
    pub per: Option<String>,
    /// The density, needed where one of the two is a mass and the other a volume.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub density: Option<String>,
}

/// Something else that costs money.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ExtraCost {
    /// What it is.
    #[schema(example = "jars and labels")]
    pub name: String,
    /// The cost.
    #[schema(example = "6.60")]
    pub amount: String,
}

/// The cost.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct CostAnswer {
    /// The currency of all figures.
    #[schema(example = "EUR")]
    pub currency: String,
    /// The total, each container, and every draw. The total is rounded once, half up, to the currency's smallest
    /// unit.
    pub figures: Vec<crate::figure::Figure>,
}
