//! Herbs behind what is made: as dried herb, and the water that a fresh one gives off.

use std::sync::Arc;

use rust_decimal::Decimal;

use super::content::{Content, HerbMass, times};
use super::contraction::Liquor;
use super::done::LeafOf;
use super::weigh::{Charge, add};
use crate::{
    Formula, HerbState, Input, MaterialFacts, MaterialKind, Unknown,
    number::{dec, divide},
    units,
};

/// The density of water at 20 C, for the water that a fresh herb gives to its menstruum.
const WATER_20: Decimal = dec("0.9982067");

impl Content {
    /// Counts a herb line: as dried herb and, of a fresh one that is strained off, its water into the rest.
    pub(super) fn herb(
        &mut self,
        formula: &Formula,
        charge: &Charge<'_>,
        (place, facts): (usize, &Arc<MaterialFacts>),
        mass: &Result<Decimal, Unknown>,
    ) -> Option<()> {
        let (dried, from) = match &facts.herb {
            None | Some(HerbState::Dried) => (mass.clone(), Vec::new()),
            Some(HerbState::Fresh { water, dried_water }) => {
                if !charge.stays && !formula.preparation.extracts_with_oil() {
                    self.fresh_water((place, facts), mass, water.as_ref().map(|water| water.value.get()))?;
                }
                match (mass, water, dried_water) {
                    (Ok(fresh), Some(water), Some(dried)) => {
                        let solids = fresh.checked_mul(water.value.rest().get())?;
                        let value = match divide(solids, dried.value.rest().get()) {
                            Some(value) => Ok(value),
                            None => Err(Unknown::of(format!("dry matter of dried {}", facts.name))),
                        };
                        let inputs = vec![
                            Input::number("fresh herb", *fresh, units::GRAM),
                            Input::constant(
                                "water of the fresh herb",
                                water.value.get(),
                                units::SHARE_OF_MASS,
                                water.source.clone(),
                            ),
                            Input::constant(
                                "water of the dried herb",
                                dried.value.get(),
                                units::SHARE_OF_MASS,
                                dried.source.clone(),
                            ),
                        ];
                        (value, inputs)
                    }
                    (Err(unknown), ..) => (Err(unknown.clone()), Vec::new()),
                    _ => (
                        Err(Unknown::of(format!("water content of {}, fresh and dried", facts.name))),
                        Vec::new(),
                    ),
                }
            }
        };
        self.add_herb(place, facts, &dried, from)
    }

    fn fresh_water(
        &mut self,
        (place, facts): (usize, &Arc<MaterialFacts>),
        mass: &Result<Decimal, Unknown>,
        water: Option<Decimal>,
    ) -> Option<()> {
        let share = water.ok_or_else(|| Unknown::of(format!("water content of {}, fresh", facts.name)));
        let water = times(mass, &share)?;
        add(&mut self.kept, &water)?;
        let volume = match &water {
            Ok(water) => Ok(divide(*water, WATER_20)?),
            Err(unknown) => Err(unknown.clone()),
        };
        add(&mut self.kept_volume, &volume)?;
        let name = format!("water of {}", facts.name);
        let leaf = MaterialFacts::new(format!("{}#water", facts.id), name.clone(), MaterialKind::Water);
        if let Ok(water) = &water {
            self.contraction.add(Liquor::of_material(&leaf).map(|of| of.times(*water)));
        }
        self.leaf(LeafOf::WaterOf(place), &Arc::new(leaf), name.into(), &water)
    }

    pub(super) fn add_herb(
        &mut self,
        place: usize,
        facts: &Arc<MaterialFacts>,
        dried: &Result<Decimal, Unknown>,
        from: Vec<Input>,
    ) -> Option<()> {
        let next = self.herbs.len();
        let at = *self.places.get_mut(place)?.herb.get_or_insert(next);
        match self.herbs.get_mut(at) {
            Some(herb) => {
                add(&mut herb.dried, dried)?;
                herb.from.extend(from);
            }
            None => {
                self.herbs.push(HerbMass { place, material: Arc::clone(facts), dried: dried.clone(), from });
            }
        }
        Some(())
    }
}
