//! Names and titles that people write.

use wire::problem::FieldError;

use crate::error::{Error, Result};

/// The refusal of a name or title that holds a character which nobody sees. [`canonical::names`] says which.
#[must_use]
pub fn refusal(pointer: impl Into<String>, name: &str) -> Option<FieldError> {
    let hidden = canonical::names::hidden(name)?;
    Some(FieldError::new(pointer, canonical::names::refusal(hidden)))
}

/// As [`refusal`], as an error.
///
/// # Errors
/// [`Error::Invalid`] at `pointer`.
pub fn acceptable(pointer: &str, name: &str) -> Result<()> {
    refusal(pointer, name).map_or(Ok(()), |refused| Err(Error::Invalid(vec![refused])))
}
