//! Spirit of nested preparations that may have evaporated: their compositions hold it at most, and nobody measured it.

use rust_decimal::Decimal;

use super::result::{Evaluation, Evaporated};
use crate::{MaterialFacts, Solution, Unknown, number::divide};

/// Sums over all nested preparations of which spirit evaporated, in g; nothing where none did.
#[derive(Clone, Copy, Default)]
pub(super) struct MaybeGone(Option<Sums>);

#[derive(Clone, Copy, Default)]
struct Sums {
    /// Ethanol that is counted and may be gone.
    ethanol: Decimal,
    /// Water that may be there instead.
    water: Decimal,
}

impl MaybeGone {
    /// Counts a mass of a nested preparation.
    pub(super) fn add(&mut self, nested: &Evaluation, mass: &Result<Decimal, Unknown>) {
        let Some(gone) = nested.evaporated.as_ref().filter(|gone| gone.of_spirit) else { return };
        let share = |part: fn(&Solution) -> Decimal| -> Decimal {
            let of = |leaf: &super::Leaf| {
                Some(leaf.share.value()?.saturating_mul(part(&leaf.material.solution().ok()?)))
            };
            nested.composition.iter().filter_map(of).sum()
        };
        let mass = mass.as_ref().ok().copied().unwrap_or_default();
        let ethanol = (share(|it| it.ethanol) - gone.ethanol_at_least).max(Decimal::ZERO);
        let water = (gone.water_at_most - share(|it| it.water)).max(Decimal::ZERO);
        let sums = self.0.get_or_insert_default();
        sums.ethanol = sums.ethanol.saturating_add(mass.saturating_mul(ethanol));
        sums.water = sums.water.saturating_add(mass.saturating_mul(water));
    }

    /// What is known of spirit and water in the whole, of these leaves and this mass.
    pub(super) fn bounds<'a>(
        self,
        leaves: impl Iterator<Item = (&'a MaterialFacts, &'a Result<Decimal, Unknown>)>,
        kept: &Result<Decimal, Unknown>,
    ) -> Option<Evaporated> {
        let gone = self.0?;
        let kept = kept.as_ref().ok().copied().unwrap_or_default();
        let share = |mass: Decimal, unknown| divide(mass, kept).unwrap_or(unknown).min(Decimal::ONE);
        let (mut ethanol, mut water) = (Decimal::ZERO, Decimal::ZERO);
        for (material, mass) in leaves {
            if let (Ok(mass), Ok(of)) = (mass, material.solution()) {
                ethanol = ethanol.saturating_add(mass.saturating_mul(of.ethanol));
                water = water.saturating_add(mass.saturating_mul(of.water));
            }
        }
        Some(Evaporated {
            of_spirit: true,
            ethanol_at_least: share((ethanol - gone.ethanol).max(Decimal::ZERO), Decimal::ZERO),
            water_at_most: share(water.saturating_add(gone.water), Decimal::ONE),
        })
    }
}
