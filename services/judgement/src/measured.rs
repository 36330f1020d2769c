//! Properties that were measured, as people write them.

use galenics::{Density, Sourced, Temperature, number};

/// A density as it was measured, with its temperature, 20 °C where none is said.
///
/// # Errors
/// The cure, in words.
pub fn density(typed: &str) -> std::result::Result<Sourced<Density>, String> {
    let (density, at) = match typed.split_once(" at ") {
        Some((density, at)) => (density, Temperature::parse(at).map_err(|error| error.to_string())?),
        None => (typed, Temperature::TWENTY),
    };
    let per_ml =
        density.trim().strip_suffix("g/mL").ok_or("write a density like 0.91 g/mL or 0.91 g/mL at 25 C")?;
    let value = number::parse(per_ml).map_err(|error| error.to_string())?;
    Density::new(value, at).map(Sourced::entered).map_err(|error| error.to_string())
}
