//! Errors of this crate.

use wire::problem::FieldError;

/// A result of this crate.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Why a composition could not be assessed.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Fields that were refused, each with a sentence for the user.
    #[error("The request was not accepted.")]
    Invalid(Vec<FieldError>),
    /// The calculation was stopped from outside, because it took too long or nobody waits for it any more.
    #[error("The calculation took too long and was stopped.")]
    Interrupted,
    /// Stored, loaded or computed values contradict each other. The text is for the log.
    #[error("{0}")]
    Internal(String),
}

impl Error {
    /// [`Error::Invalid`] for the field at the JSON pointer `pointer`.
    pub fn field(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::Invalid(vec![FieldError::new(pointer, detail)])
    }

    /// [`Error::Internal`] with a text for the log.
    pub fn internal(message: impl Into<String>) -> Self {
        Self::Internal(message.into())
    }
}

impl From<galenics::interrupt::Interrupted> for Error {
    fn from(_: galenics::interrupt::Interrupted) -> Self {
        Self::Interrupted
    }
}
