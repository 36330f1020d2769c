//! Specific gravity, mass and volume through it, and plain proportion for enlarging and reducing.

use rust_decimal::Decimal;

use crate::{Density, Figure, Input, Mass, Refusal, Rule, Sourced, Volume, units};

static GRAVITY: Rule = Rule::definition(
    "specific_gravity",
    "specific gravity of {mass} in {volume}, where water weighs {water}: {=}",
);
static MASS: Rule = Rule::definition("mass_of_volume", "{volume} at {density}: {=}");
static VOLUME: Rule = Rule::definition("volume_of_mass", "{mass} at {density}: {=}");
static PROPORTION: Rule = Rule::definition("proportion", "{amount} × {part} / {whole} = {=}");

/// The specific gravity of a liquid against water of a density at the same temperature; a course that takes
/// water as 1 g/mL gives 1.
///
/// # Errors
/// Refuses a volume of nothing.
pub fn specific_gravity(mass: Mass, volume: Volume, water: &Sourced<Density>) -> Result<Figure, Refusal> {
    let water_mass = volume.ml().checked_mul(water.value.g_per_ml()).ok_or(Refusal::too_large("volume"))?;
    let value = mass
        .g()
        .checked_div(water_mass)
        .ok_or(Refusal::out_of_range("volume", "The volume must be above 0."))?;
    let inputs = vec![
        Input::number("mass", mass.g(), units::GRAM),
        Input::number("volume", volume.ml(), units::MILLILITRE),
        Input::constant("water", water_mass, units::GRAM, water.source.clone()),
    ];
    Ok(Figure::number(value, units::RATIO, &GRAVITY, inputs))
}

/// What a volume weighs.
///
/// # Errors
/// Refuses amounts beyond the range of a decimal.
pub fn mass_of_volume(volume: Volume, density: &Sourced<Density>) -> Result<Figure, Refusal> {
    let value = volume.ml().checked_mul(density.value.g_per_ml()).ok_or(Refusal::too_large("volume"))?;
    let inputs = vec![
        Input::number("volume", volume.ml(), units::MILLILITRE),
        Input::constant("density", density.value.g_per_ml(), units::GRAM_PER_ML, density.source.clone()),
    ];
    Ok(Figure::number(value, units::GRAM, &MASS, inputs))
}

/// What volume a mass fills.
///
/// # Errors
/// Refuses amounts beyond the range of a decimal.
pub fn volume_of_mass(mass: Mass, density: &Sourced<Density>) -> Result<Figure, Refusal> {
    let value = mass.g().checked_div(density.value.g_per_ml()).ok_or(Refusal::too_large("mass"))?;
    let inputs = vec![
        Input::number("mass", mass.g(), units::GRAM),
        Input::constant("density", density.value.g_per_ml(), units::GRAM_PER_ML, density.source.clone()),
    ];
    Ok(Figure::number(value, units::MILLILITRE, &VOLUME, inputs))
}

/// An amount enlarged or reduced in the proportion of two others.
///
/// # Errors
/// Refuses negative numbers and a whole of zero.
pub fn proportion(amount: Decimal, part: Decimal, whole: Decimal) -> Result<Figure, Refusal> {
    if amount < Decimal::ZERO || part < Decimal::ZERO || whole <= Decimal::ZERO {
        return Err(Refusal::out_of_range(
            "whole",
            "The amounts must not be negative, and the whole must be \
             above 0.",
        ));
    }
    let value = amount
        .checked_mul(part)
        .and_then(|above| above.checked_div(whole))
        .ok_or(Refusal::too_large("amount"))?;
    let inputs = vec![
        Input::number("amount", amount, units::RATIO),
        Input::number("part", part, units::RATIO),
        Input::number("whole", whole, units::RATIO),
    ];
    Ok(Figure::number(value, units::RATIO, &PROPORTION, inputs))
}
