//! What one application brings.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Ingredient, questions};

/// A preparation and how it is used. The answer says what is in it, never what anybody should take.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DoseQuestion {
    /// The kind of preparation: in a tincture or infused oil the herb goes out with the marc, in a cream it stays.
    #[schema(example = "cream")]
    pub preparation: String,
    /// The ingredients; from 1 to 200.
    #[schema(example = json!([
        { "material": "olive oil", "amount": "200 g" }, { "material": "ethanol 96 %", "amount": "50 g" },
        { "material": "purified water", "amount": "q.s. 1000 g" }]))]
    pub lines: Vec<Ingredient>,
    /// The density of the whole, as measured; needed for spoons where a material's density is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.98 g/mL")]
    pub density: Option<String>,
    /// How much is used at once.
    pub application: ApplicationSize,
    /// How often in a day: 1 to 48.
    #[schema(example = 2)]
    pub times_a_day: u32,
}

questions! {
    /// How much is used at once: by mass, as a film, or by volume.
    #[schema(example = json!({ "film": { "area": "600 cm2", "film": "2 mg/cm2" } }))]
    ApplicationSize {
        /// An area of skin under a film.
        Film(Film) = film,
        /// By mass, like `2 g`.
        Mass(String) = mass,
        /// By volume, like `1 metric tsp`.
        Volume(String) = volume,
    }
}

/// An area under a film.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Film {
    /// The area: 0.1 to 20000 cm2.
    #[schema(example = "600 cm2")]
    pub area: String,
    /// The film: 0.01 to 100 mg/cm2; 1 to 2 is usual.
    #[schema(example = "2 mg/cm2")]
    pub film: String,
}
