//! What can go wrong while a composition is judged.

use wire::problem::FieldError;

/// The result of a judgement.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Why something could not be judged.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Fields that were not accepted, each with its cure.
    #[error("the request was not accepted")]
    Invalid(Vec<FieldError>),
    /// What was frozen, loaded or computed by us does not fit together.
    #[error("{0}")]
    Internal(String),
}

impl Error {
    /// A single field that was not accepted.
    pub fn field(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::Invalid(vec![FieldError::new(pointer, detail)])
    }

    /// A fault that the program did not expect, said in words.
    pub fn internal(message: impl Into<String>) -> Self {
        Self::Internal(message.into())
    }
}
