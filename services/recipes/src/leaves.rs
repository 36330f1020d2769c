//! What a recipe would tell of the amounts in nested preparations, and what stands in its place.
//!
//! A grant for the outer formula serves its own lines. Figures over the leaves (ratios, dried herb, what one application
//! brings, what preserves the product) and the density that nested materials decide are for readers whose grants cover
//! every level.

use canonical::Sha;
use galenics::{Evaluation, Formula, Ingredient, Measure, Quantity, Target};
use release::EveryLevel;
use store::{Error, Result};
use wire::calculations::use_by::UseByAnswer;
use wire::figure::Figure;
use wire::recipe::Recipe;

use crate::made_for::Asked;

/// What tells amounts of nested revisions, made of the released content of this digest. Who made it may hold a proof for
/// the outer revision alone; only a proof for every level takes it out.
pub(crate) struct Leaves<T> {
    digest: Sha,
    telling: T,
}

impl<T> Leaves<T> {
    /// Shuts in what tells amounts of what the content of this digest is made from.
    pub(crate) const fn of(digest: Sha, telling: T) -> Self {
        Self { digest, telling }
    }

    /// Takes it out.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the proof is for other content.
    pub(crate) fn open(self, levels: &EveryLevel<'_, '_>) -> Result<T> {
        if self.digest == *levels.digest() {
            Ok(self.telling)
        } else {
            Err(Error::internal("a proof for every level was shown for other content than it is for"))
        }
    }
}

/// What is said instead of a figure over the leaves.
const CLOSED: &str =
    "This figure reveals amounts of nested formulas. Acknowledge the cautions of every nested formula first.";

/// The figures of a recipe that follow from its own lines and from the request.
const OWN: [&str; 6] = ["product", "net", "loss", "made before losses", "to weigh in all", "factor"];

/// The figure of a date that says no more than the date and what limits it.
const DATE: &str = "use by";

/// Removes from a recipe what tells amounts of nested preparations. Does nothing for a formula without any.
pub fn close(recipe: &mut Recipe) {
    if !recipe.phases.iter().flat_map(|phase| &phase.lines).any(|line| line.nested_revision.is_some()) {
        return;
    }
    recipe.figures.retain(|figure| OWN.contains(&figure.name.as_str()));
    if recipe.asked.application.is_some() {
        recipe.figures.push(closed_application());
    }
    if let Some(use_by) = &mut recipe.use_by {
        close_use_by(use_by);
    }
}

/// Keeps the date, what limits it and what each rule said: why the product counts as preserved tells shares.
pub(crate) fn close_use_by(use_by: &mut UseByAnswer) {
    use_by.figures.retain(|figure| figure.name == DATE);
}

/// What stands for the content of one application.
pub(crate) fn closed_application() -> Figure {
    Figure { name: "content of one application".into(), unknown: Some(CLOSED.into()), ..Figure::default() }
}

fn is_mass(quantity: &Quantity) -> bool {
    matches!(quantity.measure(), Measure::Mass(_))
}

impl Asked {
    /// Whether the answer depends on what nested preparations are made of, where there are any.
    pub(crate) fn reaches_leaves(&self) -> bool {
        self.application.is_some() || self.asks_density() || !self.losses.evaporation.get().is_zero()
    }

    /// Whether a density turns the request into a mass, and none was measured.
    fn asks_density(&self) -> bool {
        match &self.target {
            None | Some(Target::ByMass(_) | Target::AsWritten) => false,
            Some(Target::ByVolume(_)) => self.density.is_none(),
            Some(Target::Containers { fill, .. }) => self.density.is_none() && !is_mass(fill),
            Some(Target::ByLine { quantity, .. }) => !is_mass(quantity),
        }
    }

    /// Refuses a quantity that only the density of nested preparations turns into a mass.
    ///
    /// # Errors
    /// Returns [`Error::Invalid`] at the field of the quantity.
    pub(crate) fn keep_to_own_lines(&self, formula: &Formula, evaluation: &Evaluation) -> Result<()> {
        let nested = |ingredient: &Ingredient| matches!(ingredient, Ingredient::Nested(_));
        if !self.asks_density() {
            return Ok(());
        }
        if let Some(Target::ByLine { phase, line, .. }) = self.target {
            let of = formula.phases.get(phase).and_then(|phase| phase.lines.get(line));
            let figures = evaluation.phases.get(phase).and_then(|phase| phase.lines.get(line));
            // What the author wrote by volume tells its density in every recipe.
            let by_volume = figures.is_some_and(|figures| figures.volume.is_some());
            return match of {
                Some(of) if nested(&of.ingredient) && !by_volume => Err(self.refuse(
                    "line_amount",
                    "The density of this line reveals amounts of a nested formula. Enter its amount as a mass, such as \
                     30 g, or acknowledge the cautions of every nested formula first."
                        .into(),
                )),
                _ => Ok(()),
            };
        }
        if !formula.lines().any(|(_, _, line)| nested(&line.ingredient)) {
            return Ok(());
        }
        Err(self.refuse(
            "density",
            "The density of this product reveals amounts of nested formulas. Request a mass in g, enter the measured \
             density of the product, or acknowledge the cautions of every nested formula first."
                .into(),
        ))
    }
}
