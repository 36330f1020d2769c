//! Evaluations and recipes: what lies behind the gate.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::calculations::use_by::UseByAnswer;
use crate::figure::{Figure, FigureSource};
use crate::formulary::{
    FormulaContent, LabelText, MeasuredWaterActivity, Regime, RevisionState, Serving, StabilityEvidence, Step,
};
use crate::ids::{FormulaId, RevisionId};
use crate::safety::CautionsInRecipe;
use crate::words::words;

words! {
    /// On which basis a composition is given. Shares on different bases are never in one list.
    #[derive(Default)]
    CompositionBasis {
        /// Every material by its share of the mass, through every level of nesting.
        #[default]
        Materials = "materials",
        /// Nested extracts, such as a tincture or an infused oil, as they are put in; everything else as materials.
        NativeExtracts = "native_extracts",
        /// The dried herb behind a gram of the product, in mg; nothing else.
        DriedHerb = "dried_herb",
    }
}

/// On which basis the composition of an evaluation is given.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct CompositionQuery {
    /// `materials` where it is left out.
    #[serde(default)]
    pub composition: CompositionBasis,
}

/// How a formula comes out: composition, totals and ratios, each explaining itself.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Evaluation {
    /// The mass of everything.
    pub total: Figure,
    /// The mass and share of each phase.
    pub phases: Vec<PhaseTotal>,
    /// The basis of the composition.
    #[serde(default)]
    pub composition_basis: CompositionBasis,
    /// Each leaf material's share, through every level of nesting, or what stands for it on the basis that was asked for;
    /// largest first.
    pub composition: Vec<Component>,
    /// Oil to water, emulsifier to oil, dried herb per gram, alcohol and so on.
    pub figures: Vec<Figure>,
    /// The emulsion, where there are oil and water to make one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub emulsion: Option<Emulsion>,
    /// Whether the watery phase is shown to be preserved, and by what; absent without water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub preservation: Option<Figure>,
    /// Every limit that binds what it is made as and whose subject is in it, the worst first. Of two limits of one
    /// authority the more particular takes the general one's place: the one that names the part of the body or the
    /// exposure where the other names none. An essential oil, aromatic substance or preservative on which no limit is
    /// recorded stands there as `not covered`.
    pub limits: Vec<LimitVerdict>,
    /// What all limits come to: the worst of them, and `not covered` where there is none.
    #[schema(example = "within")]
    pub limits_outcome: LimitOutcome,
    /// Fragrance allergens in it, each with whether the label must name it.
    pub allergens: Vec<AllergenVerdict>,
    /// The amounts above which cautions are raised, each beside the amount in the formula as written.
    /// Only with `explain=true`, and never of a batch as made.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub thresholds: Vec<ThresholdVerdict>,
    /// What cannot be known from the present data, such as `unknown: density of honey`.
    pub unknown: Vec<String>,
}

/// An amount above which a caution is raised, and what the preparation holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ThresholdVerdict {
    /// The caution.
    #[schema(example = "furocoumarin-sun")]
    pub caution: String,
    /// What is counted.
    #[schema(example = "lemon oil")]
    pub subject: String,
    /// The threshold in words.
    #[schema(example = "2 % of the product")]
    pub threshold: String,
    /// Whether the amount is known and not above it.
    pub below: bool,
    /// The share that was found.
    pub share: Figure,
    /// Where the threshold comes from.
    pub source: FigureSource,
}

/// What is to be said of an emulsion.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Emulsion {
    /// Oil-in-water or water-in-oil, with the reason.
    pub likely_type: Figure,
    /// The HLB that the oils require for oil-in-water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub required_hlb: Option<Figure>,
    /// The HLB of the emulsifiers, or why it does not apply.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub emulsifier_hlb: Option<Figure>,
    /// What to look at for stability (common practice).
    pub advice: Vec<Figure>,
}

words! {
    /// What holding something against a limit comes to.
    LimitOutcome {
        /// At or below it.
        Within = "within",
        /// Not a pass: no rule is recorded for this, so that nothing was held against anything.
        NotCovered = "not covered",
        /// Not a pass: something that would have to be counted is not known.
        Unknown = "unknown",
        /// Past it.
        Exceeded = "exceeded",
        /// None is allowed, and it is there.
        Prohibited = "prohibited",
    }
}

/// One limit compared with the product. A remembered limit says so in `status` and is not law.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LimitVerdict {
    /// The subject of the limit.
    #[schema(example = "sorbic acid")]
    pub subject: String,
    /// The limit in words.
    #[schema(example = "at most 0.6 % as acid")]
    pub bound: String,
    /// The result.
    pub outcome: LimitOutcome,
    /// Where it holds.
    #[schema(example = "EU")]
    pub jurisdiction: String,
    /// `law`, `opinion`, `convention`, or `dosage` for the strength that a monograph speaks of.
    #[schema(example = "law")]
    pub force: String,
    /// Where it comes from, and whether that was verified.
    pub source: FigureSource,
    /// The share that was counted: constituents at the top of their ranges, a fresh herb as dry as it comes. Where not
    /// everything is known, and what is known is too much by itself, that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share: Option<Figure>,
    /// The share as a fraction of the limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of_limit: Option<Figure>,
    /// Where it is exceeded: the largest share of each material that would still pass, of a herb as dried herb.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub would_pass: Vec<Figure>,
}

/// A fragrance allergen in the product.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct AllergenVerdict {
    /// Its name on a label.
    #[schema(example = "Linalool")]
    pub label_name: String,
    /// Whether the label must name it; absent where its share is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub declare: Option<bool>,
    /// Its share, counted at the top of the ranges.
    pub share: Figure,
    /// Where the rule comes from.
    pub source: FigureSource,
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
    /// How its amount was read, where the trade reads it in more than one way: a ratio of herb to menstruum, a bare
    /// household measure, drops. Keeping the formula confirms the reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "1:5 in 45 % is read as 100 g to 500 mL (w/v)")]
    pub read_as: Option<String>,
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
    /// Its purpose.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub function: Option<String>,
    /// The amount as the author wrote it.
    #[schema(example = "80 g")]
    pub as_written: String,
    /// How that was read, where the trade reads it in more than one way: a ratio of herb to menstruum, a bare household
    /// measure, drops.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "1:5 in 45 % is read as 100 g to 500 mL (w/v)")]
    pub read_as: Option<String>,
    /// The mass to weigh, rounded to the balance; unrounded if the balance cannot show it, as `weighing_note` then says.
    pub weigh: Figure,
    /// The amount to measure, if the author gave a volume or a household measure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measure: Option<Figure>,
    /// How far rounding to the balance is off, in g; absent where nothing was rounded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rounding: Option<Figure>,
    /// Advice, if the balance cannot weigh the amount well.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weighing_note: Option<String>,
    /// How to weigh it all the same, where another line dissolves it: more of it dissolved in that, of which a part is
    /// taken, and so much left out of the other line.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub aliquot: Vec<Figure>,
    /// Grams in a millilitre, where known: by it a volume that was measured becomes a mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub g_per_ml: Option<Figure>,
    /// Drops in a millilitre, where known: by it drops that were counted become a volume.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "20")]
    pub drops_per_ml: Option<String>,
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

/// A revision scaled to a quantity: the weighings and the method.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Recipe {
    /// The revision.
    pub revision: RevisionId,
    /// The formula.
    pub formula: FormulaId,
    /// Its number.
    pub number: u32,
    /// The revision's state when this was calculated; only `approved` may be made.
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
    /// The regime it is made as.
    pub regime: Regime,
    /// The part of the body it is meant for, where it is meant for one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "face")]
    pub site: Option<String>,
    /// The youngest person it is meant for; adults where it is not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "3 years")]
    pub youngest: Option<String>,
    /// The pH that it is to have, which a batch is judged against.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "4.5-5.0")]
    pub target_ph: Option<String>,
    /// The amount used at once, and the liquid that it is added to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serving: Option<Serving>,
    /// The yield as its author wrote it.
    #[serde(rename = "yield", default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "about 1000 g")]
    pub yield_: Option<String>,
    /// The most of it that is used in a day, as its author wrote it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "5 g")]
    pub used_daily: Option<String>,
    /// Evidence on file that it keeps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stability: Option<StabilityEvidence>,
    /// The measured water activity that it states.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_activity: Option<MeasuredWaterActivity>,
    /// `approved by its author`, where the policy allowed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub approval_note: Option<String>,
    /// The cautions that were acknowledged.
    pub caution_set: CautionsInRecipe,
    /// The quantity that it was calculated for.
    #[schema(example = "12 jars of 30 g with 4 % loss")]
    pub made_for: String,
    /// The request that it was calculated for, as sent.
    pub asked: MakeFor,
    /// The mass to weigh in all.
    pub total: Figure,
    /// The phases with their weighings.
    pub phases: Vec<RecipePhase>,
    /// The method.
    pub method: Vec<Step>,
    /// The label's texts that are not computed.
    pub label: LabelText,
    /// Ratios, losses, dried herb per gram and so on. Of a formula that nests others, only what follows from its own
    /// lines: the evaluation tells the rest, to whoever has acknowledged the cautions of everything nested.
    pub figures: Vec<Figure>,
    /// Until when it may be used, where a day of making was given: the strictest rule that applies, and what every
    /// other rule said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub use_by: Option<UseByAnswer>,
    /// The values that cannot be known from the present data.
    pub unknown: Vec<String>,
}

/// For what quantity a recipe is worked out. Give one of `mass`, `volume`, `containers` with `fill`, or `line` with
/// `line_amount`; without any, the formula's own quantity.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
#[schema(example = json!({ "containers": 12, "fill": "30 g", "transfer_loss": "4 %", "readability": "0.1 g" }))]
pub struct MakeFor {
    /// The mass to have in the end, such as `500 g`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "500 g")]
    pub mass: Option<String>,
    /// The volume to have in the end, such as `250 mL`; needs the product's density, worked out or given. The density
    /// of a formula that nests others is worked out only for whoever has acknowledged the cautions of all of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "250 mL")]
    pub volume: Option<String>,
    /// How many containers: 1 to 100000.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 12, minimum = 1, maximum = 100_000)]
    #[param(example = 12, minimum = 1, maximum = 100_000)]
    pub containers: Option<u32>,
    /// The content of each container.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "30 g")]
    #[param(example = "30 g")]
    pub fill: Option<String>,
    /// The line that limits the quantity, such as `1.1`: phase and line, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "1.1")]
    pub line: Option<String>,
    /// How much there is of that line, such as `2.5 cups`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2.5 cups")]
    pub line_amount: Option<String>,
    /// The loss in vessels and tools, as per cent of the mass weighed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "4 %")]
    #[param(example = "4 %")]
    pub transfer_loss: Option<String>,
    /// What evaporates, as per cent of what is weighed, such as `1 %`; it concentrates what stays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "1 %")]
    pub evaporation_loss: Option<String>,
    /// The smallest step the balance shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.1 g")]
    #[param(example = "0.1 g")]
    pub readability: Option<String>,
    /// The density of what is made, as it was measured, such as `0.95 g/mL` or `0.95 g/mL at 25 C`: for volumes of what
    /// holds air or melts, such as a cream, whose density cannot be worked out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.95 g/mL")]
    pub density: Option<String>,
    /// The day of making, for the use-by date. A batch is dated from the day it was opened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-03-21")]
    #[param(example = "2026-03-21")]
    pub made_on: Option<NaiveDate>,
    /// How much is used at once, such as `2 g`, `5 mL` or `teaspoon`: what one application brings of dried herb,
    /// alcohol and restricted constituents then stands among the figures. It says what is in it, never what anybody
    /// should take. A volume needs the product's density, worked out or given. Of a formula that nests others it is told
    /// to whoever has acknowledged the cautions of all of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2 g")]
    #[param(example = "2 g")]
    pub application: Option<String>,
}

/// Whether figures explain themselves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ExplainQuery {
    /// `true` for the rule, the sentence, the inputs and the sources of every figure. Without it, their values.
    #[serde(default)]
    #[param(example = false, required = false)]
    pub explain: bool,
}

/// Evaluating a formula without keeping it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Evaluate {
    /// The formula. Beside approved formulas it may nest drafts of the caller's own, by title or by the id of the draft:
    /// a trial needs no approval of them.
    pub content: FormulaContent,
    /// On which basis the composition is given.
    #[serde(default)]
    pub composition: CompositionBasis,
}
