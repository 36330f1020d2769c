//! A decoction that is boiled down to its yield: what is missing of all that went in, beside what the marc keeps, has
//! evaporated, so that everything that stays is the stronger for it.
//!
//! The same rules hold as for any evaporation: water leaves first where limits are judged, spirit first where preservation is,
//! and no more can leave than is volatile.

use rust_decimal::Decimal;

use super::content::Content;
use super::figures::{measured_density, volume_by_density};
use super::result::Evaluation;
use super::yields::HELD_BACK;
use crate::{
    ExtractBasis, Figure, Formula, HerbState, Input, Leaf, Mass, MaterialKind, Measure, Preparation,
    ProblemKind, Rule, Source, Status, Text, Unknown, Yield,
    number::{dec, divide, significant},
    units,
};

static BOILED_OFF: Rule = Rule::new(
    "boiled_off",
    "{kept} put in less {made} made and {marc} held in the marc: {=}",
    Source::fixed(
        "most herbs keep 0.5 to 2 g of liquid a gram; 1 g is taken of dried herb, nothing of fresh",
        Status::FromMemory,
    ),
);
static DENSITY: Rule = Rule::new(
    "density_boiled_down",
    "{mass} in {volume}, after {evaporated} of water boiled off: {=}",
    Source::fixed("volumes taken as additive", Status::CommonPractice),
);
static BEFORE: Rule = Rule::definition("mass_before_boiling", "mass before it was boiled down: {=}");
static MADE: Rule =
    Rule::definition("mass_made_boiled_down", "yield stated by the formula: {yield} at {density}, {=}");

/// The density of water at 20 C.
const WATER_20: Decimal = dec("0.9982067");
/// The density of ethanol at 20 C (OIML R 22): nothing that boils down to spirit and water is lighter.
const ETHANOL_20: Decimal = dec("0.78924");
/// How often a yield by volume and its density are put into each other at most; a few turns are usual.
const MOST_TURNS: u32 = 60;

/// What boiling down goes by, in g and mL.
pub(super) struct Boiling {
    /// All that went in and is not marc.
    kept: Decimal,
    /// Its volume, where only water can leave it.
    volume: Option<Decimal>,
    /// What the marc keeps of the finished liquid.
    marc: Decimal,
}

impl Content {
    /// What a decoction with a stated yield is boiled down from; `None` of all else, and where it is not known.
    pub(super) fn boiling(&self, formula: &Formula) -> Option<Boiling> {
        let reduced = formula.preparation == Preparation::Decoction && formula.yields.is_some();
        if !reduced || !self.strained {
            return None;
        }
        let dried =
            self.herbs.iter().filter(|herb| !matches!(herb.material.herb, Some(HerbState::Fresh { .. })));
        let held = dried.map(|herb| herb.dried.clone().map(|dried| dried.saturating_mul(HELD_BACK)));
        let kept = self.kept.clone().ok()?;
        let volume = self.kept_volume.clone().ok().filter(|_| self.contracted.is_zero());
        Some(Boiling { kept, volume, marc: held.sum::<Result<Decimal, Unknown>>().ok()? })
    }
}

impl Boiling {
    /// The evaluation of what is left.
    ///
    /// # Errors
    /// A stated yield below what cannot evaporate. A recorded one is kept as it was read.
    pub(super) fn down(
        &self,
        formula: &Formula,
        stated: &Yield,
        plain: Evaluation,
    ) -> Result<Evaluation, ProblemKind> {
        let measured = match (stated.quantity().measure(), &formula.density) {
            (Measure::Volume(volume), None) => Some(volume.ml()),
            _ => None,
        };
        let mut made = match (plain.product.known(), measured) {
            (Ok(made), _) => made,
            (Err(_), Some(volume)) => return Ok(self.unweighed(plain, volume)),
            (Err(_), None) => return Ok(plain),
        };
        let water = self.water(&plain);
        let mut by_volume = None;
        if let Some(volume) = measured {
            if let Some((mass, density)) = self.by_volume(volume, made, water) {
                (made, by_volume) = (mass, Some(density));
            } else if self.gone(made).is_some() {
                return Ok(self.unweighed(plain, volume));
            }
        }
        let Some(gone) = self.gone(made) else { return Ok(plain) };
        let Ok(volatile) = plain.share_that_can_evaporate() else { return Ok(plain.evaporated_unmeasured()) };
        let least = self.kept.saturating_mul(Decimal::ONE - volatile) - self.marc;
        if significant(made, 9) <= significant(least, 9) {
            if stated.is_measured() {
                return Ok(plain.evaporated_unmeasured());
            }
            let shown = |value: Decimal| significant(value, 6).normalize();
            return Err(ProblemKind::YieldBelowRest { stated: shown(made), least: shown(least) });
        }
        let Some(mut left) = self.concentrated(&plain, made, gone) else {
            return Ok(plain.evaporated_unmeasured());
        };
        left.product = match by_volume {
            Some(density) => {
                let inputs = vec![
                    Input::words("yield", Text::from(stated.text().to_owned())),
                    Input::number("density", density, units::GRAM_PER_ML),
                ];
                Figure::number(made, units::GRAM, &MADE, inputs)
            }
            None => plain.product,
        };
        if formula.extract_basis == ExtractBasis::Product {
            left.herbs = plain.herbs;
        }
        left.against_stated_yield = plain.against_stated_yield;
        let density = match &formula.density {
            Some(measured) => Some(measured_density(measured)),
            None => self.density(gone, water).map(|(volume, density)| {
                let inputs = vec![
                    Input::number("mass", self.kept - gone, units::GRAM),
                    Input::number("volume", volume, units::MILLILITRE),
                    Input::number("evaporated", gone, units::GRAM),
                ];
                Figure::number(density, units::GRAM_PER_ML, &DENSITY, inputs)
            }),
        };
        if let Some(density) = density {
            left.volume = volume_by_density(&formula.title, &left.product, &density);
            left.density = density;
        }
        let inputs = vec![
            Input::number("kept", self.kept, units::GRAM),
            Input::number("made", made, units::GRAM),
            Input::number("marc", self.marc, units::GRAM),
        ];
        left.boiled_off = Some(Figure::number(gone, units::GRAM, &BOILED_OFF, inputs));
        Ok(left)
    }

    /// What is left in a volume whose mass is not known, since spirit may have left as well as water, or the density of
    /// something in it is missing: neither what it weighs nor the herb in a gram of it. The shares are those of the least
    /// that such a volume can weigh, so that what is limited counts at its most.
    fn unweighed(&self, plain: Evaluation, volume: Decimal) -> Evaluation {
        let light = |leaf: &Leaf| {
            let oily = matches!(leaf.material.kind, MaterialKind::FixedOil | MaterialKind::EssentialOil);
            oily || leaf.material.solution().map_or(true, |of| !of.ethanol.is_zero())
        };
        let lightest = if plain.composition.iter().any(light) { ETHANOL_20 } else { WATER_20 };
        let Some(gone) = self.gone(volume.saturating_mul(lightest)) else { return plain };
        // The tail of a product decides nothing.
        let volatile = plain.share_that_can_evaporate();
        let volatile = volatile.map(|share| share.saturating_mul(self.kept).trunc_with_scale(9));
        let left = volatile.ok().and_then(|all| {
            let gone = gone.min(all);
            self.concentrated(&plain, self.kept - gone - self.marc, gone)
        });
        let mut left = left.unwrap_or_else(|| plain.evaporated_unmeasured());
        let unmeasured = Unknown::of(format!("density of {} after evaporation", plain.title));
        left.product = plain.product.unknown_from_here(unmeasured.clone());
        left.density = plain.density.unknown_from_here(unmeasured.clone());
        left.volume = plain.volume.clone();
        for herb in &mut left.herbs {
            herb.per_gram = herb.per_gram.unknown_from_here(unmeasured.clone());
        }
        left.against_stated_yield = plain.against_stated_yield.clone();
        let boiled_off = Unknown::of(format!("mass of {} after evaporation", plain.title));
        left.boiled_off = Some(Figure::unknown_for(boiled_off, units::GRAM, &BOILED_OFF, Vec::new()));
        left
    }

    /// What evaporates of all that went in; `None` where nothing does.
    fn gone(&self, made: Decimal) -> Option<Decimal> {
        let left = made.checked_add(self.marc)?;
        (significant(left, 9) < significant(self.kept, 9)).then(|| self.kept - left)
    }

    /// The water that went in as such.
    fn water(&self, plain: &Evaluation) -> Decimal {
        let water = plain.composition.iter().filter(|leaf| leaf.material.kind.is_water());
        let share: Decimal = water.filter_map(|leaf| leaf.share.value()).sum();
        share.saturating_mul(self.kept)
    }

    /// Volume and density when so much is gone; `None` where something other than water left.
    fn density(&self, gone: Decimal, water: Decimal) -> Option<(Decimal, Decimal)> {
        let volume = self.volume.filter(|_| gone <= water)? - divide(gone, WATER_20)?;
        Some((volume, divide(self.kept - gone, volume)?))
    }

    /// Mass and density of a yield that is measured by volume.
    fn by_volume(&self, volume: Decimal, first: Decimal, water: Decimal) -> Option<(Decimal, Decimal)> {
        let mut made = first;
        for _ in 0..MOST_TURNS {
            let (_, density) = self.density(self.gone(made)?, water)?;
            let next = volume.checked_mul(density)?;
            if significant(next, 12) == significant(made, 12) {
                return Some((next, density));
            }
            made = next;
        }
        None
    }

    /// The shares of what is left. The finished liquid and what the marc keeps of it are alike.
    fn concentrated(&self, plain: &Evaluation, made: Decimal, gone: Decimal) -> Option<Evaluation> {
        let of_made = divide(made, self.kept - gone)?;
        let before = self.kept.checked_mul(of_made)?;
        let mut whole = plain.clone();
        whole.product = Figure::number(before, units::GRAM, &BEFORE, Vec::new());
        whole.concentrated(Mass::grams(gone.checked_mul(of_made)?).ok()?).ok()
    }
}
