//! Strength by volume and by mass, one from the other.
//!
//! With q the volume of ethanol that the mixture would give, over the volume of the mixture:
//! `q = p rho(p,t) / rho(1,t)`. The other way is solved by Newton's method, kept between bounds that close in
//! on the root.

use serde::Serialize;

use super::density::{A, density, density_and_slope, within};
use crate::{
    Figure, Fraction, Input, Refusal, Rule, Source, Status, Temperature,
    number::{from_f64, to_f64},
    units,
};

static BY_VOLUME: Rule = Rule {
    key: "alcohol_by_volume",
    says: "{strength} by mass: {=} at {temperature}",
    source: Source::fixed("OIML R 22: q = p rho(p,t) / rho(1,t)", Status::Verified),
};
static BY_MASS: Rule = Rule {
    key: "alcohol_by_mass",
    says: "{strength} by volume at {temperature}: {=}",
    source: Source::fixed("OIML R 22: q = p rho(p,t) / rho(1,t), solved for p", Status::Verified),
};
static DENSITY: Rule = Rule {
    key: "alcohol_density",
    says: "density at {temperature}: {=}",
    source: Source::fixed("OIML R 22, density formula", Status::Verified),
};

/// Density of pure ethanol at 20 °C in kg/m3: the sum of the A coefficients.
pub(crate) fn pure_ethanol(t: f64) -> f64 {
    if t == 20.0 { A.iter().sum() } else { density_and_slope(1.0, t).0 }
}

/// The volume fraction of ethanol at `t` °C of a mixture with the mass fraction `p`.
///
/// # Errors
/// Refuses a fraction outside 0 to 1 and a temperature outside -20 to 40 °C.
pub fn by_volume(p: f64, t: f64) -> Result<f64, Refusal> {
    within(p, t)?;
    Ok((p * density_and_slope(p, t).0 / pure_ethanol(t)).clamp(0.0, 1.0))
}

/// The mass fraction of ethanol of a mixture with the volume fraction `q` at `t` °C.
///
/// # Errors
/// Refuses a fraction outside 0 to 1 and a temperature outside -20 to 40 °C.
///
/// ```
/// let p = galenics::alcohol::by_mass(0.40, 20.0)?;
/// assert!((p - 0.333).abs() < 0.0001);
/// # Ok::<(), galenics::Refusal>(())
/// ```
pub fn by_mass(q: f64, t: f64) -> Result<f64, Refusal> {
    within(q, t)?;
    let wanted = q * pure_ethanol(t);
    Ok(root(q * 0.9, |p| {
        let (rho, slope) = density_and_slope(p, t);
        (p * rho - wanted, rho + p * slope)
    }))
}

/// The mass fraction of ethanol of a mixture of density `rho` in kg/m3 at `t` °C.
///
/// # Errors
/// Refuses a temperature outside -20 to 40 °C, and a density that no mixture has at it.
pub fn mass_from_density(rho: f64, t: f64) -> Result<f64, Refusal> {
    within(0.0, t)?;
    let (water, ethanol) = (density_and_slope(0.0, t).0, density_and_slope(1.0, t).0);
    if !(ethanol..=water).contains(&rho) {
        return Err(Refusal::out_of_range(
            "density",
            format!("Ethanol and water have {ethanol:.2} to {water:.2} kg/m3 at {t} °C. Check the density."),
        ));
    }
    Ok(root((water - rho) / (water - ethanol), |p| {
        let (here, slope) = density_and_slope(p, t);
        (rho - here, -slope)
    }))
}

/// The root between 0 and 1 of a rising function, by Newton's method between closing bounds.
fn root(start: f64, function: impl Fn(f64) -> (f64, f64)) -> f64 {
    let (mut low, mut high, mut p) = (0.0_f64, 1.0_f64, start);
    // Newton doubles the good digits with every step and halving guards it; sixty halvings alone would do.
    for _ in 0..60 {
        let (value, slope) = function(p);
        if value == 0.0 {
            return p;
        }
        if value < 0.0 {
            low = p;
        } else {
            high = p;
        }
        let mut next = p - value / slope;
        if !(next >= low && next <= high) {
            next = f64::midpoint(low, high);
        }
        let step = (next - p).abs();
        p = next;
        if step < 1e-13 {
            break;
        }
    }
    p
}

/// A strength in both ways with its density.
#[derive(Debug, Clone, Serialize)]
pub struct StrengthAt {
    /// Ethanol by volume at the temperature.
    pub by_volume: Figure,
    /// Ethanol by mass, the same at every temperature.
    pub by_mass: Figure,
    /// Density at the temperature, in g/mL.
    pub density: Figure,
}

/// What a strength by volume, stated at a temperature, is by mass.
///
/// # Errors
/// Refuses a temperature outside -20 to 40 °C.
pub fn strength_by_mass(by_volume: Fraction, at: Temperature) -> Result<StrengthAt, Refusal> {
    let (q, t) = (to_f64(by_volume.get()), to_f64(at.c()));
    let p = by_mass(q, t)?;
    let inputs = vec![
        Input::number("strength", by_volume.get(), units::SHARE_OF_VOLUME),
        Input::number("temperature", at.c(), units::CELSIUS),
    ];
    let mass = float(p, units::SHARE_OF_MASS, &BY_MASS, inputs);
    let volume = Figure::number(by_volume.get(), units::SHARE_OF_VOLUME, &AS_STATED, Vec::new());
    Ok(StrengthAt { by_volume: volume, by_mass: mass, density: density_figure(p, at)? })
}

/// What a strength by mass is by volume at a temperature.
///
/// # Errors
/// Refuses a temperature outside -20 to 40 °C.
pub fn strength_by_volume(by_mass: Fraction, at: Temperature) -> Result<StrengthAt, Refusal> {
    let (p, t) = (to_f64(by_mass.get()), to_f64(at.c()));
    let inputs = vec![
        Input::number("strength", by_mass.get(), units::SHARE_OF_MASS),
        Input::number("temperature", at.c(), units::CELSIUS),
    ];
    let volume = float(by_volume(p, t)?, units::SHARE_OF_VOLUME, &BY_VOLUME, inputs);
    let mass = Figure::number(by_mass.get(), units::SHARE_OF_MASS, &AS_STATED, Vec::new());
    Ok(StrengthAt { by_volume: volume, by_mass: mass, density: density_figure(p, at)? })
}

static AS_STATED: Rule = Rule::definition("as_stated", "stated: {=}");

fn density_figure(p: f64, at: Temperature) -> Result<Figure, Refusal> {
    let t = to_f64(at.c());
    let rho = density(p, t)? / 1000.0;
    let inputs = vec![Input::number("temperature", at.c(), units::CELSIUS)];
    Ok(float(rho, units::GRAM_PER_ML, &DENSITY, inputs))
}

/// A float as a figure, to twelve digits; one that is not finite is unknown, though no caller makes one.
pub(crate) fn float(value: f64, unit: &'static str, rule: &'static Rule, inputs: Vec<Input>) -> Figure {
    Figure::from_result(from_f64(value).ok_or_else(|| crate::Unknown::of(rule.key)), unit, rule, inputs)
}
