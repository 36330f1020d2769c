//! Adjusting a batch: more of it is made, so that a line of which too much was weighed is right.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::figure::Figure;
use crate::recipe::Recipe;

/// Proposing an adjustment.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAdjustment {
    /// Why, 1 to 1000 characters.
    #[schema(example = "The oil poured faster than expected.")]
    pub reason: String,
}

/// What could correct a batch of which too much of a line was weighed.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Adjustment {
    /// The line that is furthest above its target: phase and line, counted from 1. All others follow it.
    #[schema(example = "1.2")]
    pub line: String,
    /// Its material.
    #[schema(example = "yellow beeswax")]
    pub name: String,
    /// Every line of the recipe, with what it takes.
    pub lines: Vec<AdjustedLine>,
    /// The mass to weigh in all, as the batch asks for now.
    pub total: Figure,
    /// The recipe that would hold, worked out anew for what was weighed of the line.
    pub recipe: Recipe,
}

/// A line of a batch that could be adjusted.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct AdjustedLine {
    /// The line.
    #[schema(example = "1.1")]
    pub line: String,
    /// Its material.
    #[schema(example = "olive oil")]
    pub name: String,
    /// What the batch asks for now.
    pub asked: Figure,
    /// What it would ask for.
    pub adjusted: Figure,
    /// What was weighed of it. Absent where nothing was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weighed: Option<Figure>,
    /// What is still to be weighed, as the balance shows it. Absent where nothing is, or where the line has no mass of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_add: Option<Figure>,
}
