//! The materia medica as callers see it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::MaterialId;

/// One entry of the materia medica, in a list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct MaterialSummary {
    /// The material.
    pub id: MaterialId,
    /// Its English name.
    #[schema(example = "yellow beeswax")]
    pub name: String,
    /// What kind of material it is.
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
    /// What kind of material it is.
    #[schema(example = "wax")]
    pub kind: String,
    /// The version of its facts.
    pub version: u32,
    /// Other names it is found by.
    pub synonyms: Vec<String>,
    /// Density, water content, cautions and so on, each with its source and whether it was verified.
    #[schema(value_type = Object)]
    pub facts: serde_json::Value,
}
