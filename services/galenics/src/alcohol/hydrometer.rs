//! Strength from a hydrometer reading or a density taken at another temperature than 20 °C.
//!
//! An alcoholometer marked at 20 °C sinks in a warmer liquid as it would in a thinner one. It shows the
//! strength q' whose density at 20 °C is the liquid's density corrected for the glass, which swells:
//! `rho(liquid, t) = rho20(q') (1 - gamma (t - 20))`. From that density at t comes the strength by mass, and
//! from it the true strength by volume at 20 °C.

use rust_decimal::Decimal;
use serde::Serialize;

use super::{
    density::density_and_slope,
    strength::{by_mass, by_volume, float, mass_from_density},
};
use crate::{
    Density, Figure, Fraction, Input, Refusal, Rule, Source, Status, Temperature,
    number::{dec, to_f64},
    units,
};

/// The cubic expansion of hydrometer glass per °C.
const GLASS: Decimal = dec("0.000025");
static GLASS_SOURCE: Source =
    Source::fixed("cubic expansion of soda-lime hydrometer glass, 25e-6 per C", Status::FromMemory);

static TRUE_STRENGTH: Rule = Rule::new(
    "hydrometer_strength",
    "{reading} read at {temperature}: {=} at 20 °C",
    Source::fixed("OIML R 22 densities, corrected for the swelling of the glass", Status::Verified),
);
static TRUE_STRENGTH_BY_MASS: Rule = Rule::new(
    "hydrometer_strength_by_mass",
    "{reading} read at {temperature}: {=}",
    Source::fixed("OIML R 22 densities, corrected for the swelling of the glass", Status::Verified),
);
static FROM_DENSITY: Rule = Rule::new(
    "strength_from_density",
    "{density} at {temperature}: {=} at 20 °C",
    Source::fixed("OIML R 22, density formula solved for the strength", Status::Verified),
);
static MASS: Rule = Rule::new(
    "strength_by_mass_from_density",
    "{density} at {temperature}: {=}",
    Source::fixed("OIML R 22, density formula solved for the strength", Status::Verified),
);

/// The strength behind a reading.
#[derive(Debug, Clone, Serialize)]
pub struct HydrometerReading {
    /// By volume at 20 °C.
    pub by_volume: Figure,
    /// By mass.
    pub by_mass: Figure,
}

/// The strength behind a density measured at a temperature.
///
/// # Errors
/// Refuses a temperature outside -20 to 40 °C and a density that no ethanol-water mixture has at it.
pub fn from_density(density: Density) -> Result<HydrometerReading, Refusal> {
    let p = mass_from_density(to_f64(density.g_per_ml()) * 1000.0, to_f64(density.at().c()))?;
    let inputs = || {
        vec![
            Input::number("density", density.g_per_ml(), units::GRAM_PER_ML),
            Input::number("temperature", density.at().c(), units::CELSIUS),
        ]
    };
    Ok(HydrometerReading {
        by_volume: float(by_volume(p, 20.0)?, units::SHARE_OF_VOLUME, &FROM_DENSITY, inputs()),
        by_mass: float(p, units::SHARE_OF_MASS, &MASS, inputs()),
    })
}

/// The strength behind the reading of an alcoholometer that is marked in per cent by volume at 20 °C.
///
/// # Errors
/// Refuses a temperature outside -20 to 40 °C and a reading that no mixture gives at it.
pub fn read_hydrometer(reading: Fraction, at: Temperature) -> Result<HydrometerReading, Refusal> {
    let t = to_f64(at.c());
    let shown = density_and_slope(by_mass(to_f64(reading.get()), 20.0)?, 20.0).0;
    let real = shown * (1.0 - to_f64(GLASS) * (t - 20.0));
    let p = mass_from_density(real, t).map_err(|refusal| match refusal.field {
        "density" => Refusal::impossible(
            "reading",
            "No mixture of ethanol and water gives this reading at this temperature. Check both.",
        ),
        _ => refusal,
    })?;
    let inputs = || {
        vec![
            Input::number("reading", reading.get(), units::SHARE_OF_VOLUME),
            Input::number("temperature", at.c(), units::CELSIUS),
            Input::constant("expansion of the glass", GLASS, "1/C", GLASS_SOURCE.clone()),
        ]
    };
    Ok(HydrometerReading {
        by_volume: float(by_volume(p, 20.0)?, units::SHARE_OF_VOLUME, &TRUE_STRENGTH, inputs()),
        by_mass: float(p, units::SHARE_OF_MASS, &TRUE_STRENGTH_BY_MASS, inputs()),
    })
}
