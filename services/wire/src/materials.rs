//! The materia medica as callers see it.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::ids::MaterialId;

/// One entry of the materia medica, in a list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct MaterialSummary {
    /// The material.
    pub id: MaterialId,
    /// Its English name.
    #[schema(example = "yellow beeswax")]
    pub name: String,
    /// The kind of material.
    #[schema(example = "wax")]
    pub kind: String,
    /// The version of its facts.
    pub version: u32,
}

/// One entry of the materia medica with its facts, each with a source.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Material {
    /// The material.
    pub id: MaterialId,
    /// Its English name.
    #[schema(example = "yellow beeswax")]
    pub name: String,
    /// The kind of material.
    #[schema(example = "wax")]
    pub kind: String,
    /// The version of its facts.
    pub version: u32,
    /// Other names it is found by.
    pub synonyms: Vec<String>,
    /// The material that this one was found to be, where it was merged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub merged_into: Option<MaterialId>,
    /// Density, water content, cautions and so on, each with its source and whether it was verified.
    #[schema(value_type = Object)]
    pub facts: serde_json::Value,
}

/// What a clinic says of a material. What it says nothing of, the reference data may know by species, family, kind and
/// constituents: their cautions and allergy groups are added by themselves.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "name": "field mint oil",
    "kind": "essential oil",
    "botanical_name": "Mentha arvensis",
    "botanical_author": "L.",
    "family": "Lamiaceae",
    "part": "herb",
    "inci": "Mentha Arvensis Leaf Oil",
    "constituents": [{ "substance": "menthol", "low_percent": "70", "high_percent": "85" }],
    "source": "the supplier's data sheet of 2026-03",
    "status": "from memory",
}))]
pub struct MaterialEntry {
    /// English name, unique, 1 to 200 characters.
    pub name: String,
    /// What it is: `herb`, `fixed oil`, `butter`, `wax`, `hydrocarbon`, `emulsifier`, `essential oil`, `solvent`,
    /// `watery base`, `humectant`, `preservative`, `antioxidant`, `salt`, `thickener`, `mineral`, `sweetener`,
    /// `animal product`, `aromatic substance` or `resin`.
    pub kind: String,
    /// Other names it is found by.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub synonyms: Vec<String>,
    /// Name on a cosmetic's list of ingredients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inci: Option<String>,
    /// Botanical name without its author; a herb and an essential oil have one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub botanical_name: Option<String>,
    /// Author of the botanical name, for a species that the reference data do not hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub botanical_author: Option<String>,
    /// Botanical family, for a species that the reference data do not hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub family: Option<String>,
    /// Part of the plant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// `fresh`, `wilted` or `dried`; a herb has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<String>,
    /// Density, grams per millilitre.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density_g_per_ml: Option<String>,
    /// The temperature of that density, degrees Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density_at_celsius: Option<String>,
    /// Water in the material as supplied, per cent by mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_percent: Option<String>,
    /// Water in the fresh herb, per cent by mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fresh_water_percent: Option<String>,
    /// Water that a fresh herb keeps once it is dried, per cent by mass, less than it has fresh: so much of it counts as
    /// mass x (100 - `fresh_water_percent`) / (100 - `dried_water_percent`) of dried herb.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dried_water_percent: Option<String>,
    /// Ethanol in the material as supplied, per cent by volume at 20 C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ethanol_percent_by_volume: Option<String>,
    /// Drops in a millilitre, from 5 to 200, counted with the clinic's own dropper: by them a formula's drops become a
    /// volume.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drops_per_ml: Option<String>,
    /// An emulsifier's hydrophilic-lipophilic balance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hlb: Option<String>,
    /// The balance that an oil asks for in an oil-in-water emulsion.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub required_hlb: Option<String>,
    /// Keys of allergy groups that it belongs to of itself; those of its family are added.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub allergy_groups: Vec<String>,
    /// `known-harm`, `no-data` or `ordinary-use`; nothing said counts as `no-data`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pregnancy: Option<String>,
    /// The same while breast-feeding.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub breast_feeding: Option<String>,
    /// Its constituents, as far as limits, allergens or cautions depend on them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub constituents: Vec<EntryConstituent>,
    /// Cautions of its own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<EntryCaution>,
    /// Where all of this comes from.
    pub source: String,
    /// `verified` in that source, `secondary` (read in a copy that names it), `from memory` or `common practice`.
    pub status: String,
}

/// How much of a substance a material holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryConstituent {
    /// Key of the substance.
    #[schema(example = "limonene")]
    pub substance: String,
    /// Lower end of the range, per cent by mass.
    #[schema(example = "60")]
    pub low_percent: String,
    /// Upper end of the range; limits are judged on it.
    #[schema(example = "75")]
    pub high_percent: String,
}

/// A caution of a material's own.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryCaution {
    /// `note`, `caution`, `contraindication` or `stop`.
    #[schema(example = "caution")]
    pub level: String,
    /// For whom; `everyone` where nothing is given.
    #[serde(default)]
    pub audiences: Vec<String>,
    /// The text.
    #[schema(example = "Stains light fabrics.")]
    pub text: String,
}

/// A material as it can be revised, with the version that a revision names.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct EntryVersion {
    /// The material.
    pub material: MaterialId,
    /// The version of its facts.
    pub version: u32,
    /// The entry.
    pub entry: MaterialEntry,
}

/// Which materials are listed.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct MaterialQuery {
    /// A botanical, common or INCI name, or a part of one; misspelt ones are found too. The best match comes first, and
    /// the answer is one page of up to `limit`.
    #[param(example = "calandula")]
    pub search: Option<String>,
    /// How many at most: 1 to 100, 50 if absent.
    pub limit: Option<u32>,
    /// The `next` of the previous page; not with `search`.
    pub after: Option<String>,
}
