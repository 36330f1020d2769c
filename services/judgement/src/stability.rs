//! Evidence of stability that is on file.

use galenics::use_by::Period;
use galenics::{Source, Sourced, Status};
use materia::DatingPeriod;

/// Evidence of stability that is on file, read: for how long, and where it is filed.
///
/// # Errors
/// The field that was not accepted and the cure.
pub fn on_file(good_for: &str, filed: &str) -> Result<Sourced<Period>, (&'static str, String)> {
    let period = period(good_for).map_err(|cure| ("period", cure.to_owned()))?;
    let filed = filed.trim();
    if !(1..=200).contains(&filed.chars().count()) || filed.chars().any(char::is_control) {
        return Err(("source", "say where it is filed, in 1 to 200 characters".to_owned()));
    }
    Ok(Sourced::new(period, Source::new(filed.to_owned(), Status::Entered)))
}

/// A period such as `28 days` or `6 months`.
///
/// # Errors
/// The cure, in words.
pub fn period(text: &str) -> Result<Period, &'static str> {
    match text.trim().parse::<DatingPeriod>() {
        Ok(DatingPeriod::Days(days)) => Ok(Period::Days(days)),
        Ok(DatingPeriod::Months(months)) => Ok(Period::Months(months)),
        Err(_) => Err("write a period like 28 days or 6 months, up to 3650"),
    }
}
