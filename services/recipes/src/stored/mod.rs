//! The recipe that a batch is opened with, as it is stored.
//!
//! These types are separate from `wire`, so that a change of the API alters no stored recipe. A row keeps its format
//! for good. Format 2 holds the exact decimals beside the rounded values; format 1 holds only the rounded values.

mod cautions;
mod exact;
mod parts;
mod shown;
#[cfg(test)]
mod tests;
mod turn;

use galenics::as_made::Targets;
use galenics::{Decimal, Function, Mass, Quantity};
use judgement::written::{LabelText, Regime, Serving, Stability, Step, WaterActivity};
use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wire::recipe;

use crate::work::WorkedOut;
pub use cautions::{Caution, CautionSet};
pub use exact::Exact;
pub use judgement::format::Format;
pub use parts::{Asked, ChangedLevel, Figure, Input, RuleOutcome, RuleSaid, Source, State, UseBy};
pub use shown::as_shown;
pub use turn::Turn;

/// A recipe as it is stored.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recipe {
    /// The format of this document.
    #[serde(default)]
    pub format: Format,
    /// The revision.
    pub revision: Uuid,
    /// The formula.
    pub formula: Uuid,
    /// The number of the revision.
    pub number: u32,
    /// The state of the revision at that time.
    pub state: State,
    /// The digest of the revision, in hex.
    pub digest: String,
    /// Its title.
    pub title: String,
    /// The kind of preparation.
    pub preparation: String,
    /// The route of use.
    pub route: String,
    /// The regime it is made under.
    pub regime: Regime,
    /// The intended part of the body.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<String>,
    /// The lowest intended age.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub youngest: Option<String>,
    /// The pH that the product is to have.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_ph: Option<String>,
    /// How much is used at once, and what it is put into.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serving: Option<Serving>,
    /// The stated yield.
    #[serde(rename = "yield", default, skip_serializing_if = "Option::is_none")]
    pub yield_: Option<String>,
    /// The largest mass used in a day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used_daily: Option<String>,
    /// Stability evidence on file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stability: Option<Stability>,
    /// The measured water activity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_activity: Option<WaterActivity>,
    /// The note on an approval by the author.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub approval_note: Option<String>,
    /// The cautions that were acknowledged.
    pub caution_set: CautionSet,
    /// What its evaporation loss raised beside these.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub by_loss: Vec<Caution>,
    /// Why it was not judged what its evaporation loss raises.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loss_not_judged: Option<String>,
    /// The requested quantity in words.
    pub made_for: String,
    /// The request.
    pub asked: Asked,
    /// The total mass to weigh, as shown.
    pub total: Figure,
    /// The exact total mass to weigh, in g. Since format 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exact_total: Option<Exact>,
    /// The exact density of what is made, in g/mL, where it tells nothing of nested amounts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exact_g_per_ml: Option<Exact>,
    /// The phases.
    pub phases: Vec<Phase>,
    /// The method.
    pub method: Vec<Step>,
    /// Texts of the label.
    pub label: LabelText,
    /// Further figures, such as ratios and losses.
    pub figures: Vec<Figure>,
    /// The use-by date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub use_by: Option<UseBy>,
    /// Missing data.
    pub unknown: Vec<String>,
}

/// A phase.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Phase {
    /// Its name.
    pub name: String,
    /// Its lines, in the order they are weighed.
    pub lines: Vec<Line>,
}

/// A line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Line {
    /// Phase and line, counted from 1.
    pub line: String,
    /// The ingredient.
    pub name: String,
    /// The nested revision, if the ingredient is made by a formula.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nested_revision: Option<Uuid>,
    /// The function of the ingredient.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub function: Option<String>,
    /// The amount as the author wrote it.
    pub as_written: String,
    /// How that was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_as: Option<String>,
    /// The mass to weigh, as shown.
    pub weigh: Figure,
    /// The volume to measure, as shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measure: Option<Figure>,
    /// The error of rounding to the balance, as shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rounding: Option<Figure>,
    /// A note on weighing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weighing_note: Option<String>,
    /// The aliquot method for a mass too small to weigh.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub aliquot: Vec<Figure>,
    /// Density in g/mL, as shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub g_per_ml: Option<String>,
    /// Drops in a millilitre.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drops_per_ml: Option<Exact>,
    /// The exact mass to weigh, in g. Since format 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exact_grams: Option<Exact>,
    /// The exact density, in g/mL. Since format 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exact_g_per_ml: Option<Exact>,
}

/// The exact decimal, or the rounded one in a document without it.
fn exact_else_shown(format: Format, exact: Option<Exact>, shown: Option<&String>) -> Option<Decimal> {
    match format {
        Format::One => shown?.parse().ok(),
        Format::Two => exact.map(|exact| exact.0),
    }
}

impl Recipe {
    /// Every line with its place, counted from 0.
    pub fn lines(&self) -> impl Iterator<Item = &Line> {
        self.phases.iter().flat_map(|phase| &phase.lines)
    }

    /// The target mass of a line, in g, which its weighings are compared with.
    #[must_use]
    pub fn target(&self, line: &Line) -> Option<Decimal> {
        exact_else_shown(self.format, line.exact_grams, line.weigh.value.as_ref())
    }

    /// The targets of all lines.
    #[must_use]
    pub fn targets(&self) -> Targets {
        let target = |line: &Line| Some(Quantity::of_mass(Mass::grams(self.target(line)?).ok()?));
        self.phases.iter().map(|phase| phase.lines.iter().map(target).collect()).collect()
    }

    /// The total mass to weigh, in g.
    #[must_use]
    pub fn total(&self) -> Option<Decimal> {
        exact_else_shown(self.format, self.exact_total, self.total.value.as_ref())
    }

    /// The density of what is made, in g/mL, where it tells nothing of nested amounts.
    #[must_use]
    pub fn product_density(&self) -> Option<Decimal> {
        self.exact_g_per_ml.map(|Exact(density)| density)
    }

    /// The density of the material of a line, in g/mL.
    #[must_use]
    pub fn density(&self, line: &Line) -> Option<Decimal> {
        exact_else_shown(self.format, line.exact_g_per_ml, line.g_per_ml.as_ref())
    }
}

impl Line {
    /// The function of a line, which decides its tolerance.
    #[must_use]
    pub fn function(&self) -> Option<Function> {
        self.function.as_deref()?.parse().ok()
    }
}

impl Recipe {
    /// What is stored of a recipe that was worked out under these cautions.
    pub(crate) fn of(
        WorkedOut { recipe, exact }: WorkedOut,
        cautions: wire::safety::CautionSet,
        by_loss: Vec<wire::safety::Caution>,
    ) -> Self {
        let recipe::Recipe {
            revision,
            formula,
            number,
            state,
            digest,
            title,
            preparation,
            route,
            regime,
            site,
            youngest,
            target_ph,
            serving,
            yield_,
            used_daily,
            stability,
            water_activity,
            approval_note,
            caution_set,
            made_for,
            asked,
            total,
            phases,
            method,
            label,
            figures,
            use_by,
            unknown,
        } = recipe;
        let mut of_lines = exact.lines.into_iter();
        let mut line = |line: recipe::RecipeLine| {
            let exact = of_lines.next().unwrap_or_default();
            let recipe::RecipeLine {
                line,
                name,
                nested_revision,
                function,
                as_written,
                read_as,
                weigh,
                measure,
                rounding,
                weighing_note,
                aliquot,
                g_per_ml,
                drops_per_ml,
            } = line;
            Line {
                line,
                name,
                nested_revision: nested_revision.turn(),
                function,
                as_written,
                read_as,
                weigh: weigh.turn(),
                measure: measure.turn(),
                rounding: rounding.turn(),
                weighing_note,
                aliquot: aliquot.turn(),
                g_per_ml: g_per_ml.and_then(|density| density.value),
                drops_per_ml: drops_per_ml.and_then(|drops| drops.parse().ok()).map(Exact),
                exact_grams: exact.grams.map(Exact),
                exact_g_per_ml: exact.g_per_ml.map(Exact),
            }
        };
        let mut phase = |recipe::RecipePhase { name, lines }: recipe::RecipePhase| Phase {
            name,
            lines: lines.into_iter().map(&mut line).collect(),
        };
        Self {
            format: Format::Two,
            revision: revision.turn(),
            formula: formula.turn(),
            number,
            state: state.into(),
            digest,
            title,
            preparation,
            route,
            regime: regime.into(),
            site,
            youngest,
            target_ph,
            serving: serving.as_ref().map(Serving::from),
            yield_,
            used_daily,
            stability: stability.as_ref().map(Stability::from),
            water_activity: water_activity.as_ref().map(WaterActivity::from),
            approval_note,
            caution_set: cautions.turn(),
            by_loss: by_loss.turn(),
            loss_not_judged: caution_set.loss_not_judged,
            made_for,
            asked: asked.turn(),
            total: total.turn(),
            exact_total: exact.total.map(Exact),
            exact_g_per_ml: exact.g_per_ml.map(Exact),
            phases: phases.into_iter().map(&mut phase).collect(),
            method: method.iter().map(Step::from).collect(),
            label: (&label).into(),
            figures: figures.turn(),
            use_by: use_by.turn(),
            unknown,
        }
    }
}

impl From<Recipe> for recipe::Recipe {
    fn from(stored: Recipe) -> Self {
        let phase = |Phase { name, lines }: Phase| recipe::RecipePhase {
            name,
            lines: lines.into_iter().map(Into::into).collect(),
        };
        let by_loss: Vec<wire::safety::Caution> = stored.by_loss.turn();
        let caution_set = wire::safety::CautionsInRecipe {
            by_loss: by_loss.iter().map(Into::into).collect(),
            loss_not_judged: stored.loss_not_judged,
            ..(&stored.caution_set.turn()).into()
        };
        Self {
            revision: stored.revision.turn(),
            formula: stored.formula.turn(),
            number: stored.number,
            state: stored.state.into(),
            digest: stored.digest,
            title: stored.title,
            preparation: stored.preparation,
            route: stored.route,
            regime: stored.regime.into(),
            site: stored.site,
            youngest: stored.youngest,
            target_ph: stored.target_ph,
            serving: stored.serving.map(Into::into),
            yield_: stored.yield_,
            used_daily: stored.used_daily,
            stability: stored.stability.map(Into::into),
            water_activity: stored.water_activity.map(Into::into),
            approval_note: stored.approval_note,
            caution_set,
            made_for: stored.made_for,
            asked: stored.asked.turn(),
            total: stored.total.turn(),
            phases: stored.phases.into_iter().map(phase).collect(),
            method: stored.method.into_iter().map(Into::into).collect(),
            label: stored.label.into(),
            figures: stored.figures.turn(),
            use_by: stored.use_by.turn(),
            unknown: stored.unknown,
        }
    }
}

impl From<Line> for recipe::RecipeLine {
    fn from(stored: Line) -> Self {
        Self {
            line: stored.line,
            name: stored.name,
            nested_revision: stored.nested_revision.turn(),
            function: stored.function,
            as_written: stored.as_written,
            read_as: stored.read_as,
            weigh: stored.weigh.turn(),
            measure: stored.measure.turn(),
            rounding: stored.rounding.turn(),
            weighing_note: stored.weighing_note,
            aliquot: stored.aliquot.turn(),
            g_per_ml: stored.g_per_ml.map(shown::density),
            drops_per_ml: stored.drops_per_ml.map(|Exact(drops)| drops.normalize().to_string()),
        }
    }
}
