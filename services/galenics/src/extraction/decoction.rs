//! Decoctions and infusions: boiled down, strained, and made up through the marc.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{Figure, Input, Mass, Refusal, Rule, Source, Status, Volume, number::divide, units};

static STRAINED: Rule = Rule::definition(
    "decoction_strained",
    "{water} of water less {evaporated} boiled off and {retained} in the marc: {=}",
);
static MAKE_UP: Rule =
    Rule::definition("decoction_make_up", "pour {=} more water through the marc to make {target}");
static LEAST: Rule = Rule::new(
    "decoction_herb_strained",
    "dried herb in the strained liquid before it is made up, evenly through the water: {=}",
    Source::fixed("drug to solvent reckoning, evenly through the water", Status::CommonPractice),
);
static MOST: Rule = Rule::definition(
    "decoction_herb_at_most",
    "dried herb in the liquid made up through the marc: at most the whole herb, {=}",
);
static STRENGTH: Rule = Rule::new(
    "decoction_strength",
    "{herb} of herb made up to {target}: {=}, drug to product",
    Source::fixed("drug to product reckoning, the herb taken as exhausted", Status::CommonPractice),
);

/// A decoction.
#[derive(Debug, Clone, Serialize)]
pub struct Decoction {
    /// What is strained off before it is made up, in mL.
    pub strained: Figure,
    /// What to pour through the marc, in mL.
    pub make_up: Figure,
    /// Dried herb carried before it is made up, in g.
    pub herb_strained: Figure,
    /// Dried herb carried at most once it is made up, in g.
    pub herb_at_most: Figure,
    /// g of herb in one mL of product, the herb taken as exhausted.
    pub strength: Figure,
}

/// A decoction of a herb in water, boiled down by `evaporated`, strained, and made up through the marc to a
/// volume. `retained_each` is how many mL one g of herb holds back.
///
/// # Errors
/// Refuses to boil off or hold back more than is there, and a target below what is strained already.
pub fn decoction(
    herb: Mass,
    water: Volume,
    evaporated: Volume,
    retained_each: Decimal,
    target: Volume,
) -> Result<Decoction, Refusal> {
    if herb.g().is_zero() {
        return Err(Refusal::out_of_range("herb", "Enter a herb amount above 0 g."));
    }
    if retained_each < Decimal::ZERO || retained_each > Decimal::from(20) {
        return Err(Refusal::out_of_range(
            "retained",
            "Each g of herb holds back 0 to 20 mL. Enter a value in \
             that range.",
        ));
    }
    let retained = herb.g().checked_mul(retained_each).ok_or(Refusal::too_large("herb"))?;
    let liquid = water.ml() - evaporated.ml();
    let strained = liquid - retained;
    if strained <= Decimal::ZERO {
        return Err(Refusal::impossible(
            "water",
            format!(
                "Boiling off {} mL and leaving {} mL in the marc exceeds the {} mL of water. Add water.",
                evaporated.ml().normalize(),
                retained.normalize(),
                water.ml().normalize()
            ),
        ));
    }
    let make_up = target.ml() - strained;
    if make_up < Decimal::ZERO {
        return Err(Refusal::impossible(
            "target",
            format!(
                "The strained liquid is already {} mL. Boil it down further, or make up to more.",
                strained.normalize()
            ),
        ));
    }
    let carried = herb
        .g()
        .checked_mul(divide(strained, liquid).ok_or(Refusal::too_large("water"))?)
        .ok_or(Refusal::too_large("herb"))?;
    let strength = divide(herb.g(), target.ml()).ok_or(Refusal::too_large("target"))?;
    let volume = |name, value| Input::number(name, value, units::MILLILITRE);
    let herb_input = Input::number("herb", herb.g(), units::GRAM);
    Ok(Decoction {
        strained: Figure::number(
            strained,
            units::MILLILITRE,
            &STRAINED,
            vec![
                volume("water", water.ml()),
                volume("evaporated", evaporated.ml()),
                volume("retained", retained),
            ],
        ),
        make_up: Figure::number(make_up, units::MILLILITRE, &MAKE_UP, vec![volume("target", target.ml())]),
        herb_strained: Figure::number(carried, units::GRAM, &LEAST, vec![herb_input.clone()]),
        herb_at_most: Figure::number(herb.g(), units::GRAM, &MOST, Vec::new()),
        strength: Figure::number(
            strength,
            units::MASS_IN_VOLUME,
            &STRENGTH,
            vec![herb_input, volume("target", target.ml())],
        ),
    })
}
