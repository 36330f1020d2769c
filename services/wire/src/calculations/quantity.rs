//! A quantity in another unit.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What a quantity is in another unit. From mass to volume and back leads only a density.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct QuantityQuestion {
    /// The quantity as typed; a bare cup, spoon or fluid ounce is of the clinic's customary measures.
    #[schema(example = "1 US cup")]
    pub quantity: String,
    /// The unit wanted; drops only as `drops at 20 per mL`.
    #[schema(example = "g")]
    pub to: String,
    /// The density, where a mass becomes a volume or a volume a mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.91 g/mL at 25 C")]
    pub density: Option<String>,
    /// Instead of the density: the material, whose density the materia medica may know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub material: Option<String>,
}
