//! Extraction.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::questions;

questions! {
    /// A question about extraction: name one.
    ExtractionQuestion {
        /// The dried herb behind an amount of extract.
        DriedEquivalent(DriedEquivalent) = dried_equivalent,
        /// How much extract stands for an amount of dried herb.
        ExtractForDried(ExtractForDried) = extract_for_dried,
        /// The result of pressing an extract.
        Pressed(PressedExtract) = pressed,
        /// One maceration or several, one after the other on the same herb.
        Maceration(MacerationQuestion) = maceration,
        /// How strong the menstruum must be for a fresh herb.
        FreshMenstruum(FreshMenstruumQuestion) = fresh_menstruum,
        /// Dried herb for fresh, or fresh for dried.
        FreshAndDried(FreshAndDried) = fresh_and_dried,
        /// A decoction, boiled down, strained and made up through the marc.
        Decoction(DecoctionQuestion) = decoction,
    }
}

/// An amount of an extract of a ratio.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DriedEquivalent {
    /// How much extract: a volume for a ratio w/v, else a mass.
    #[schema(example = "10 mL")]
    pub extract: String,
    /// Drug to extract.
    #[schema(example = "1:5")]
    pub ratio: String,
    /// What the ratio is to: `drug to solvent, w/w`, `drug to solvent, w/v`, `drug to product, w/w`,
    /// `drug to product, w/v`, `drug to native extract` or `drug to total preparation`. It must be named, since a
    /// ratio can be read in each of these ways.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "drug to product, w/v")]
    pub convention: Option<String>,
}

/// An amount of dried herb and the ratio of an extract of it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ExtractForDried {
    /// The dried herb, by mass.
    #[schema(example = "2 g")]
    pub herb: String,
    /// Drug to extract.
    #[schema(example = "1:5")]
    pub ratio: String,
    /// The convention of the ratio, as for the dried equivalent; it is required.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "drug to product, w/v")]
    pub convention: Option<String>,
}

/// The menstruum and the pressed liquid, both by mass or both by volume.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PressedExtract {
    /// The herb.
    #[schema(example = "100 g")]
    pub herb: String,
    /// The menstruum put on.
    #[schema(example = "500 g")]
    pub menstruum: String,
    /// The pressed liquid.
    #[schema(example = "420 g")]
    pub pressed: String,
}

/// A herb macerated in turns.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MacerationQuestion {
    /// The herb, by mass.
    #[schema(example = "100 g")]
    pub herb: String,
    /// How many g of liquid a g of the marc holds back after pressing, from the clinic's own record: 0 to 20. In mL where
    /// the turns are by volume.
    #[schema(example = "1.2")]
    pub retained: String,
    /// The menstruum of each turn, all by mass or all by volume; from 1 to 20 turns.
    #[schema(example = json!(["500 g", "300 g"]))]
    pub turns: Vec<String>,
}

/// A fresh herb, a menstruum, and the strength that the liquid is to have in the end.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FreshMenstruumQuestion {
    /// The fresh herb, by mass.
    #[schema(example = "100 g")]
    pub herb: String,
    /// The water in the herb, by mass; where it is left out, name the material.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "80 %")]
    pub water: Option<String>,
    /// Instead of the water: the material, whose water the materia medica may know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub material: Option<String>,
    /// The menstruum, by mass or as it is poured, such as `200 mL`.
    #[schema(example = "200 g")]
    pub menstruum: String,
    /// The strength wanted in the end, by volume at 20 °C.
    #[schema(example = "40 %")]
    pub wanted: String,
    /// The strongest spirit at hand, by volume at 20 °C; 96 % where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "96 %")]
    pub strongest: Option<String>,
}

/// A fresh or a dried herb, one of the two, and the water in each.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FreshAndDried {
    /// The fresh herb, by mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "100 g")]
    pub fresh: Option<String>,
    /// The dried herb, by mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub dried: Option<String>,
    /// The water in the fresh herb, by mass.
    #[schema(example = "80 %")]
    pub water: String,
    /// The water in the dried herb, by mass.
    #[schema(example = "10 %")]
    pub dried_water: String,
}

/// A decoction.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DecoctionQuestion {
    /// The dried herb, by mass.
    #[schema(example = "50 g")]
    pub herb: String,
    /// The water put on, by volume.
    #[schema(example = "1200 mL")]
    pub water: String,
    /// The volume that boils off; 0 if omitted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "300 mL")]
    pub evaporated: Option<String>,
    /// How many mL a g of the herb holds back: 0 to 20.
    #[schema(example = "2")]
    pub retained: String,
    /// The volume that it is made up to through the marc.
    #[schema(example = "1000 mL")]
    pub target: String,
}
