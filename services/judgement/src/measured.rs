//! Measured properties, as people write them.

use galenics::{Decimal, Density, Source, Sourced, Status, Temperature, number};

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

/// Parses a water activity from 0 to 1, with or without the prefix `aw`.
///
/// # Errors
/// Returns a sentence for the user that shows the notation.
pub fn water_activity(typed: &str) -> std::result::Result<Decimal, &'static str> {
    const CURE: &str = "Enter a water activity from 0 to 1, such as 0.58.";
    let typed = typed.trim();
    let value = number::parse(typed.strip_prefix("aw").unwrap_or(typed)).map_err(|_| CURE)?;
    if value <= Decimal::ONE { Ok(value.round_dp(6)) } else { Err(CURE) }
}

/// Parses the water activity that a formula states, with where its measurement is filed.
///
/// # Errors
/// Returns the refused field, `value` or `source`, and a sentence for the user.
pub fn water_activity_on_file(
    typed: &str,
    filed: &str,
) -> std::result::Result<Sourced<Decimal>, (&'static str, String)> {
    let value = water_activity(typed).map_err(|cure| ("value", cure.to_owned()))?;
    let filed = filed_at(filed).ok_or_else(|| {
        ("source", "State where the measurement is filed, in 1 to 200 characters.".to_owned())
    })?;
    Ok(Sourced::new(value, Source::new(filed.to_owned(), Status::Entered)))
}

/// Where something is filed, of 1 to 200 characters that can be seen.
pub(crate) fn filed_at(text: &str) -> Option<&str> {
    let text = text.trim();
    let fits = (1..=200).contains(&text.chars().count()) && !text.chars().any(char::is_control);
    fits.then_some(text)
}
