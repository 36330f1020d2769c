//! The text in which a kept result is stored.

use serde::Deserialize;

use super::{
    document::KeptEvaluation,
    problem::KeptProblem,
    version::{FORMAT, OLDEST_FORMAT},
};

/// The one field that is read before all others.
#[derive(Deserialize)]
struct Head {
    format: u64,
}

impl KeptEvaluation {
    /// The version of the calculations that gave the result.
    #[must_use]
    pub const fn engine(&self) -> u32 {
        self.engine
    }

    /// The result as JSON text. Equal results give equal text.
    ///
    /// # Errors
    /// Returns `Unreadable` if the text cannot be written, which no result gives cause for.
    pub fn to_json(&self) -> Result<String, KeptProblem> {
        serde_json::to_string(self).map_err(|error| unreadable(&error))
    }

    /// Reads the text of [`KeptEvaluation::to_json`].
    ///
    /// # Errors
    /// `UnknownFormat` where the text names a format that this program does not read, whatever else is in it;
    /// `Unreadable` where it is not a kept result.
    pub fn from_json(text: &str) -> Result<Self, KeptProblem> {
        let head: Head = serde_json::from_str(text).map_err(|error| unreadable(&error))?;
        if !(u64::from(OLDEST_FORMAT)..=u64::from(FORMAT)).contains(&head.format) {
            return Err(KeptProblem::UnknownFormat(head.format));
        }
        serde_json::from_str(text).map_err(|error| unreadable(&error))
    }
}

fn unreadable(error: &serde_json::Error) -> KeptProblem {
    KeptProblem::Unreadable { line: error.line(), column: error.column() }
}
