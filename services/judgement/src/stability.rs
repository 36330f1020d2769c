//! Stability evidence: the period that a filed study supports.

use galenics::use_by::Period;
use galenics::{Source, Sourced, Status};
use materia::DatingPeriod;

use crate::measured::filed_at;

/// Parses stability evidence.
///
/// # Errors
/// Returns the refused field, `period` or `source`, and a sentence for the user.
pub fn on_file(good_for: &str, filed: &str) -> Result<Sourced<Period>, (&'static str, String)> {
    let period = period(good_for).map_err(|cure| ("period", cure.to_owned()))?;
    let filed = filed_at(filed)
        .ok_or_else(|| ("source", "State where the evidence is filed, in 1 to 200 characters.".to_owned()))?;
    Ok(Sourced::new(period, Source::new(filed.to_owned(), Status::Entered)))
}

/// Parses a period such as `28 days` or `6 months`.
///
/// # Errors
/// Returns a sentence for the user that shows the notation, if `text` is no period or its number exceeds 3650.
pub fn period(text: &str) -> Result<Period, &'static str> {
    match text.trim().parse::<DatingPeriod>() {
        Ok(DatingPeriod::Days(days)) => Ok(Period::Days(days)),
        Ok(DatingPeriod::Months(months)) => Ok(Period::Months(months)),
        Err(_) => Err("Enter a period of at most 3650 days or months, such as 28 days or 6 months."),
    }
}
