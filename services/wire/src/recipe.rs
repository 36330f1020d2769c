//! Evaluations and recipes: what lies behind the gate.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::figure::Figure;
use crate::formulary::{FormulaContent, LabelText, Regime, RevisionState, Step};
use crate::ids::{FormulaId, RevisionId};
use crate::safety::CautionSet;

/// How a formula comes out: composition, totals and ratios, each explaining itself.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Evaluation {
    /// The mass of everything.
    pub total: Figure,
    /// The mass and share of each phase.
    pub phases: Vec<PhaseTotal>,
    /// Each leaf material's share, through every level of nesting, largest first.
    pub composition: Vec<Component>,
    /// Oil to water, emulsifier to oil, dried herb per gram and so on.
    pub figures: Vec<Figure>,
    /// What cannot be known from the present data, such as `unknown: density of honey`.
    pub unknown: Vec<String>,
}

/// The total of a phase.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct PhaseTotal {
    /// The phase.
    #[schema(example = "oil phase")]
    pub name: String,
    /// Its mass.
    pub mass: Figure,
    /// Its share of the whole.
    pub share: Figure,
    /// Its lines.
    pub lines: Vec<LineTotal>,
}

/// The mass and share of a line.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LineTotal {
    /// Its place in the phase, counted from 1.
    pub line: usize,
    /// The ingredient.
    #[schema(example = "yellow beeswax")]
    pub name: String,
    /// Its mass.
    pub mass: Figure,
    /// Its share of the whole.
    pub share: Figure,
}

/// One leaf material of a composition.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Component {
    /// The material.
    #[schema(example = "yellow beeswax")]
    pub name: String,
    /// Its share of the finished mass.
    pub share: Figure,
}

/// A line of a recipe.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RecipeLine {
    /// Names the line in batch entries: phase and line, counted from 1.
    #[schema(example = "1.2")]
    pub line: String,
    /// The ingredient.
    #[schema(example = "yellow beeswax")]
    pub name: String,
    /// Set when it is itself made by a formula.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nested_revision: Option<RevisionId>,
    /// What it is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub function: Option<String>,
    /// The amount as the author wrote it.
    #[schema(example = "80 g")]
    pub as_written: String,
    /// What to weigh.
    pub weigh: Figure,
    /// What to measure, where the author gave a volume or a household measure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measure: Option<Figure>,
    /// The exact amount before rounding to the balance, and how far the rounding is off.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rounding: Option<Figure>,
    /// Set where the balance cannot weigh it well: what to mind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weighing_note: Option<String>,
    /// Grams in a millilitre, where known: by it a volume that was measured becomes a mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.912")]
    pub g_per_ml: Option<String>,
}

/// A phase of a recipe.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RecipePhase {
    /// The phase.
    #[schema(example = "oil phase")]
    pub name: String,
    /// Its lines, in the order they are weighed.
    pub lines: Vec<RecipeLine>,
}

/// A revision worked out for a quantity: what to weigh and what to do.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Recipe {
    /// The revision.
    pub revision: RevisionId,
    /// The formula.
    pub formula: FormulaId,
    /// Its number.
    pub number: u32,
    /// The revision's state when this was worked out; only `approved` may be made.
    pub state: RevisionState,
    /// The revision's digest.
    pub digest: String,
    /// Its title.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// The kind of preparation.
    #[schema(example = "cream")]
    pub preparation: String,
    /// Where and how it is used.
    pub route: String,
    /// What it is made as.
    pub regime: Regime,
    /// `approved by its author`, where the policy allowed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub approval_note: Option<String>,
    /// The cautions that were acknowledged.
    pub caution_set: CautionSet,
    /// What it was worked out for.
    #[schema(example = "12 jars of 30 g with 4 % loss")]
    pub made_for: String,
    /// The mass to weigh in all.
    pub total: Figure,
    /// The phases with what to weigh.
    pub phases: Vec<RecipePhase>,
    /// The method.
    pub method: Vec<Step>,
    /// What the label says besides what is computed.
    pub label: LabelText,
    /// Ratios, losses, dried herb per gram and so on.
    pub figures: Vec<Figure>,
    /// What cannot be known from the present data.
    pub unknown: Vec<String>,
}

/// For what quantity a recipe is worked out. Give one of `mass`, `volume`, `containers` with `fill`, or `line` with
/// `line_amount`; without any, the formula's own quantity.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct MakeFor {
    /// The mass to have in the end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "500 g")]
    #[param(example = "500 g")]
    pub mass: Option<String>,
    /// The volume to have in the end; needs the product's density.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "250 mL")]
    #[param(example = "250 mL")]
    pub volume: Option<String>,
    /// How many containers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 12)]
    #[param(example = 12)]
    pub containers: Option<u32>,
    /// What goes into each container.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "30 g")]
    #[param(example = "30 g")]
    pub fill: Option<String>,
    /// The line that limits the quantity: phase and line, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "1.1")]
    #[param(example = "1.1")]
    pub line: Option<String>,
    /// How much there is of that line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2.5 cups")]
    #[param(example = "2.5 cups")]
    pub line_amount: Option<String>,
    /// What stays behind in vessels and tools, as per cent of what is weighed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "4 %")]
    #[param(example = "4 %")]
    pub transfer_loss: Option<String>,
    /// What evaporates, as per cent of what is weighed; it concentrates what stays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "1 %")]
    #[param(example = "1 %")]
    pub evaporation_loss: Option<String>,
    /// The smallest step the balance shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.1 g")]
    #[param(example = "0.1 g")]
    pub readability: Option<String>,
}

/// Evaluating a formula without keeping it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Evaluate {
    /// The formula.
    pub content: FormulaContent,
}
