//! Words out of the database.

use crate::error::{Error, Result};

/// A word out of the database, which a check there has held to the accepted ones.
///
/// # Errors
/// [`Error::Internal`] when it is none of them.
pub fn word<T: std::str::FromStr<Err = wire::problem::UnknownWord>>(text: &str) -> Result<T> {
    text.parse().map_err(|error: wire::problem::UnknownWord| Error::Internal(error.into()))
}
