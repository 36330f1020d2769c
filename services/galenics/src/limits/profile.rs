//! What is known of a material for limits: its constituents and what was never looked for in it.

use serde::Serialize;

use crate::{Fraction, Source, Text};

/// A substance in a material, by mass.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Constituent {
    /// The substance's id.
    pub substance: Text,
    /// Its name.
    pub name: Text,
    /// The least share that is usual.
    pub least: Fraction,
    /// The largest share that is usual, or the one analysed; this one is counted.
    pub most: Fraction,
    /// Whether it is the acid that a salt gives rather than something the material holds.
    pub as_acid: bool,
    /// Where the range comes from.
    pub source: Source,
}

/// What is known of a material for limits.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Profile {
    /// The material's id.
    pub material: Text,
    /// Its constituents that any limit or allergen is on.
    pub constituents: Vec<Constituent>,
    /// Substances that it may hold and that were never looked for in it, by id.
    pub untested: Vec<Text>,
}
