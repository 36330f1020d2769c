//! Ethanol and water.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::questions;

questions! {
    /// A question about ethanol and water: name one.
    AlcoholQuestion {
        /// How much of a stock makes a wanted amount and strength, with contraction.
        Dilution(SpiritDilution) = dilution,
        /// A strength by volume and by mass, with its density.
        Strength(SpiritStrength) = strength,
        /// The mixture of several streams.
        Mixture(SpiritMixture) = mixture,
        /// The strength behind a hydrometer's reading at another temperature than 20 °C.
        Hydrometer(HydrometerQuestion) = hydrometer,
        /// The strength behind a density.
        Density(DensityQuestion) = density,
    }
}

/// The stock and the water or weaker spirit that make the strength wanted.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SpiritDilution {
    /// How much is wanted, by volume at 20 °C or by mass.
    #[schema(example = "1000 mL")]
    pub wanted: String,
    /// The strength wanted, by volume at 20 °C.
    #[schema(example = "45 %")]
    pub strength: String,
    /// The strength of the stock, by volume at 20 °C.
    #[schema(example = "96 %")]
    pub stock: String,
    /// The strength of a weaker spirit to dilute with; water where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0 %")]
    pub diluent: Option<String>,
}

/// A strength by volume or by mass: give one of the two.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SpiritStrength {
    /// The strength by volume, as it is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "40 %")]
    pub by_volume: Option<String>,
    /// The strength by mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub by_mass: Option<String>,
    /// The temperature at which strength by volume is stated: 20 °C where it is left out, 15.56 °C in older
    /// American tables. From -20 to 40 °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "20 C")]
    pub stated_at: Option<String>,
    /// A temperature at which the density is wanted, where it is another. From -20 to 40 °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "25 C")]
    pub density_at: Option<String>,
}

/// Streams to mix.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SpiritMixture {
    /// From 1 to 50 streams.
    pub streams: Vec<SpiritStream>,
}

/// One stream of a mixture.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SpiritStream {
    /// How much, by mass or by volume at 20 °C.
    #[schema(example = "300 mL")]
    pub amount: String,
    /// Its strength by volume at 20 °C, `0 %` for water. Without it, it is neither ethanol nor water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "96 %")]
    pub strength: Option<String>,
    /// The volume that a mass of neither ethanol nor water takes up, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub fills: Option<String>,
}

/// A hydrometer marked in per cent by volume at 20 °C, read at another temperature.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HydrometerQuestion {
    /// The reading.
    #[schema(example = "45 %")]
    pub reading: String,
    /// How warm the liquid is, from -20 to 40 °C.
    #[schema(example = "25 C")]
    pub temperature: String,
}

/// A measured density.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DensityQuestion {
    /// The density as measured, with the temperature it was measured at.
    #[schema(example = "0.9138 g/mL at 20 C")]
    pub density: String,
}
