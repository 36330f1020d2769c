//! Measured properties, as people write them.

use galenics::{Density, Sourced, Temperature, number};

/// Parses a density such as `0.91 g/mL` or `0.91 g/mL at 25 C`. Without a temperature, 20 °C is assumed.
///
/// # Errors
/// Returns a sentence for the user, if the notation is different or a value is out of range.
pub fn density(typed: &str) -> std::result::Result<Sourced<Density>, String> {
    let (density, at) = match typed.split_once(" at ") {
        Some((density, at)) => (density, Temperature::parse(at).map_err(|error| error.to_string())?),
        None => (typed, Temperature::TWENTY),
    };
    let per_ml = density
        .trim()
        .strip_suffix("g/mL")
        .ok_or("Enter a density such as 0.91 g/mL or 0.91 g/mL at 25 C.")?;
    let value = number::parse(per_ml).map_err(|error| error.to_string())?;
    Density::new(value, at).map(Sourced::entered).map_err(|error| error.to_string())
}
