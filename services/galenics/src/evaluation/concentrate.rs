//! What is left when something evaporates: everything that stays is the stronger for it.
//!
//! Water, spirit and volatile oils leave together, in shares that nobody measures. So two questions get two answers, each
//! at its unfavourable end. *Composition*, by which limits are judged: water leaves first, then spirit, then volatile oils,
//! so that whatever is limited counts at its most. *Spirit that is shown to remain*, by which preservation is judged: what
//! left was spirit first. There is one composition, and the strength of the spirit in it is unknown until it is measured.

use std::sync::Arc;

use rust_decimal::Decimal;

use super::{
    ratio::ratio_of,
    result::{Evaluation, Evaporated, HerbEquivalent, Leaf},
    solids::emulsifier_to_oil,
};
use crate::{
    Figure, Formula, Fraction, HerbState, Ingredient, Input, Mass, MaterialFacts, MaterialKind, Refusal,
    Rule, Unknown,
    alcohol::by_volume,
    number::{divide, from_f64, to_f64},
    units,
};

static LESS: Rule = Rule::definition("mass_after_evaporation", "{before} less {evaporated} evaporated: {=}");
static SHARE: Rule = Rule::definition(
    "share_after_evaporation",
    "share after evaporation: {share} × {before} / {after} = {=}",
);
static AT_MOST: Rule = Rule::definition(
    "share_after_evaporation_at_most",
    "share after evaporation, water evaporating first: {share} × {before} / {after} = at most {=}",
);
static SUM: Rule =
    Rule::definition("sum_after_evaporation", "after evaporation, water evaporating first: {=}");
static HERB: Rule = Rule::definition(
    "herb_after_evaporation",
    "{per gram} before evaporation × {before} / \
     {after} = {=}",
);

/// What of a leaf can leave, in g per g of what is made.
#[derive(Clone, Copy, Default)]
struct Volatile {
    water: Decimal,
    ethanol: Decimal,
    oil: Decimal,
}

impl Volatile {
    fn of(leaf: &Leaf) -> Result<Self, Unknown> {
        let volatile_oil = leaf.material.kind == MaterialKind::EssentialOil;
        let of = leaf.material.solution()?;
        if of.water.is_zero() && of.ethanol.is_zero() && !volatile_oil {
            return Ok(Self::default());
        }
        let share = leaf.share.known()?;
        let oil = if volatile_oil { share } else { Decimal::ZERO };
        Ok(Self { water: share.saturating_mul(of.water), ethanol: share.saturating_mul(of.ethanol), oil })
    }

    fn and(self, other: Self) -> Self {
        Self {
            water: self.water + other.water,
            ethanol: self.ethanol + other.ethanol,
            oil: self.oil + other.oil,
        }
    }

    fn all(self) -> Decimal {
        self.water + self.ethanol + self.oil
    }

    /// What is left of each when so much leaves, as shares of what was there: water first, then spirit, then oils.
    fn left(self, gone: Decimal) -> [Decimal; 3] {
        let mut gone = gone;
        [self.water, self.ethanol, self.oil].map(|there| {
            let leaves = gone.min(there);
            gone -= leaves;
            divide(there - leaves, there).unwrap_or(Decimal::ONE)
        })
    }
}

impl Evaluation {
    /// The most that can evaporate of what is made, in g: its water, spirit and volatile oils.
    ///
    /// # Errors
    /// What is missing where that is not known.
    pub fn volatile(&self) -> Result<Decimal, Unknown> {
        let share = self.share_that_can_evaporate()?;
        let product = self.product.known()?;
        product.checked_mul(share).ok_or_else(|| Unknown::of("mass of the volatile ingredients"))
    }

    /// The share of what is made that can evaporate.
    ///
    /// # Errors
    /// What is missing where that is not known.
    pub(super) fn share_that_can_evaporate(&self) -> Result<Decimal, Unknown> {
        let mut sum = Volatile::default();
        for leaf in &self.composition {
            sum = sum.and(Volatile::of(leaf)?);
        }
        Ok(sum.all())
    }

    /// The most that can evaporate by the formula's own lines, in g: what is nested counts as if all of it could, so that
    /// the answer tells nothing of what it is made of.
    ///
    /// # Errors
    /// What is missing where that is not known.
    pub fn volatile_by_own_lines(&self, formula: &Formula) -> Result<Decimal, Unknown> {
        let (mut fixed, mut all) = (Decimal::ZERO, Decimal::ZERO);
        let lines = self.phases.iter().flat_map(|phase| &phase.lines);
        for ((_, _, line), figures) in formula.lines().zip(lines) {
            let volatile = match &line.ingredient {
                // Of a fresh herb that is strained off the water stays.
                Ingredient::Material(facts) if !figures.stays => match facts.herb {
                    Some(HerbState::Fresh { .. }) => Decimal::ONE,
                    _ => continue,
                },
                Ingredient::Nested(_) if !figures.stays => continue,
                Ingredient::Nested(_) => Decimal::ONE,
                Ingredient::Material(facts) => match (facts.kind, facts.solution()) {
                    (MaterialKind::EssentialOil, _) | (_, Err(_)) => Decimal::ONE,
                    (_, Ok(of)) => of.water + of.ethanol,
                },
            };
            let mass = figures.mass.known()?;
            all += mass;
            fixed += mass.saturating_mul(Decimal::ONE - volatile);
        }
        // What is pressed out holds as much of each as what was put on.
        let stays = divide(fixed, all).ok_or_else(|| Unknown::of("total mass"))?;
        let product = self.product.known()?;
        product
            .checked_mul((Decimal::ONE - stays).max(Decimal::ZERO))
            .ok_or_else(|| Unknown::of("mass of the volatile ingredients"))
    }

    /// The same when so much has evaporated of what is made. Volume and density are unknown then, until they are
    /// measured, and so is the strength of a spirit.
    ///
    /// # Errors
    /// Refuses when the mass made or what can evaporate of it is not known, and to evaporate more than can.
    pub fn concentrated(&self, evaporated: Mass) -> Result<Self, Refusal> {
        if evaporated.g().is_zero() {
            return Ok(self.clone());
        }
        let unknown = |unknown: Unknown| Refusal::unknown("evaporated", &unknown);
        let before = self.product.known().map_err(unknown)?;
        let parts: Vec<Volatile> =
            self.composition.iter().map(Volatile::of).collect::<Result<_, _>>().map_err(unknown)?;
        let all = parts.iter().fold(Volatile::default(), |sum, part| sum.and(*part));
        let gone = evaporated.g();
        let there = before.checked_mul(all.all()).ok_or(Refusal::too_large("evaporated"))?;
        if gone > there || gone >= before {
            return Err(too_much(there));
        }
        let after = before - gone;
        let too_large = || Refusal::too_large("evaporated");
        let stronger = divide(before, after).ok_or_else(too_large)?;
        let gone_share = divide(gone, before).ok_or_else(too_large)?;
        let left = all.left(gone_share);
        let scale = Scale { before, after, stronger, left };

        let mut made = self.clone();
        made.composition =
            self.composition.iter().zip(&parts).map(|(leaf, part)| scale.leaf(leaf, *part)).collect();
        made.herbs = self
            .herbs
            .iter()
            .map(|herb| HerbEquivalent {
                material: herb.material.clone(),
                per_gram: scale.raise(&herb.per_gram, stronger, &HERB, "per gram"),
            })
            .collect();
        let oil = |figure: &Figure| figure.known().map(|oil| (oil - all.oil + all.oil * left[2]) * stronger);
        made.oil = Figure::from_result(oil(&self.oil), units::SHARE_OF_MASS, &SUM, Vec::new());
        let water = all.water * left[0] * stronger;
        made.water = Figure::number(water, units::SHARE_OF_MASS, &SUM, Vec::new());
        made.emulsifier = scale.raise(&self.emulsifier, stronger, &SHARE, "share");
        made.emulsifying_oil = scale.raise(&self.emulsifying_oil, stronger, &SHARE, "share");
        made.oil_to_water = ratio_of(&made.oil, &made.water);
        made.emulsifier_to_oil = emulsifier_to_oil(
            &made.composition,
            (&made.emulsifier, &made.emulsifying_oil),
            &made.oil,
            &made.water,
        );
        let inputs = vec![
            Input::number("before", before, units::GRAM),
            Input::number("evaporated", gone, units::GRAM),
        ];
        made.product = Figure::number(after, units::GRAM, &LESS, inputs);
        let unmeasured = Unknown::of(format!("density of {} after evaporation", self.title));
        made.density = self.density.unknown_from_here(unmeasured.clone());
        made.volume = self.volume.unknown_from_here(unmeasured);
        // What may have left before counts as gone.
        let earlier = self.evaporated.as_ref();
        let ethanol = earlier.map_or(all.ethanol, |earlier| earlier.ethanol_at_least);
        let water = earlier.map_or(all.water, |earlier| earlier.water_at_most);
        made.evaporated = Some(Evaporated {
            of_spirit: !all.ethanol.is_zero(),
            ethanol_at_least: (ethanol - gone_share).max(Decimal::ZERO) * stronger,
            water_at_most: water * stronger,
        });
        Ok(made)
    }

    /// The same when nobody knows how much evaporated: no spirit is shown to remain.
    #[must_use]
    pub fn evaporated_unmeasured(&self) -> Self {
        let mut made = self.clone();
        made.evaporated = Some(Evaporated {
            of_spirit: self
                .composition
                .iter()
                .any(|leaf| leaf.material.solution().map_or(true, |of| !of.ethanol.is_zero())),
            ethanol_at_least: Decimal::ZERO,
            water_at_most: Decimal::ONE,
        });
        made
    }
}

/// The refusal to evaporate more than `there`, in g.
fn too_much(there: Decimal) -> Refusal {
    let there = there.round_dp(3).normalize();
    Refusal::impossible(
        "evaporated",
        format!("Only {there} g can evaporate: the water, spirit and volatile oils. Enter a smaller loss."),
    )
}

struct Scale {
    before: Decimal,
    after: Decimal,
    stronger: Decimal,
    left: [Decimal; 3],
}

impl Scale {
    fn raise(&self, figure: &Figure, by: Decimal, rule: &'static Rule, name: &'static str) -> Figure {
        let value =
            figure.known().and_then(|value| value.checked_mul(by).ok_or_else(|| Unknown::of("share")));
        let inputs = vec![
            Input::figure(name, figure),
            Input::number("before", self.before, units::GRAM),
            Input::number("after", self.after, units::GRAM),
        ];
        Figure::from_result(value, figure.unit(), rule, inputs)
    }

    /// A leaf after evaporation. Of a solution that lost some of its water or spirit, the facts say what it is now.
    fn leaf(&self, leaf: &Leaf, part: Volatile) -> Leaf {
        let [water, ethanol, oil] = self.left;
        let lost = part.water * (Decimal::ONE - water)
            + part.ethanol * (Decimal::ONE - ethanol)
            + part.oil * (Decimal::ONE - oil);
        let share = leaf.share.value().unwrap_or_default();
        let remains =
            if share.is_zero() { Decimal::ONE } else { divide(share - lost, share).unwrap_or_default() };
        let rule = if part.ethanol.is_zero() && part.oil.is_zero() { &SHARE } else { &AT_MOST };
        let material = if lost.is_zero() || leaf.material.kind.is_water() {
            Arc::clone(&leaf.material)
        } else {
            let now = |of: Decimal| divide(of, share - lost).unwrap_or_default();
            Arc::new(reduced(&leaf.material, now(part.water * water), now(part.ethanol * ethanol)))
        };
        Leaf { material, share: self.raise(&leaf.share, self.stronger * remains, rule, "share") }
    }
}

/// A solution with so much water and ethanol by mass.
fn reduced(facts: &MaterialFacts, water: Decimal, ethanol: Decimal) -> MaterialFacts {
    let mut facts = facts.clone();
    let share = |value: Decimal| Fraction::new(value.clamp(Decimal::ZERO, Decimal::ONE)).unwrap_or_default();
    if let Some(strength) = &mut facts.ethanol_by_volume {
        let volume = by_volume(to_f64(ethanol.min(Decimal::ONE)), 20.0).ok().and_then(from_f64);
        strength.value = share(volume.unwrap_or_default());
    }
    if let Some(known) = &mut facts.water {
        known.value = share(water);
    }
    if let Some(HerbState::Fresh { water: Some(known), .. }) = &mut facts.herb {
        known.value = share(water);
    }
    facts
}
