//! What can go wrong, said once. The API matches this exhaustively onto problems in one place.

use tokio_postgres::error::SqlState;
use wire::problem::{FieldError, Outstanding};

/// The result of a clinic function.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Why a clinic function did not do what was asked. In every case nothing was written.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The caller is not known: no session, an ended one, a revoked key, a wrong password.
    #[error("{0}")]
    Unauthenticated(&'static str),
    /// Known to exist, but not the caller's to do.
    #[error("{0}")]
    Forbidden(String),
    /// Does not exist, or not for this caller.
    #[error("No {0} with this ID is visible to you. Check the ID or ask for access.")]
    NotFound(&'static str),
    /// The thing is in a state in which this cannot be done.
    #[error("{detail}")]
    State {
        /// The state it is in.
        state: String,
        /// What would have to be the case.
        detail: String,
    },
    /// It would collide with something that exists.
    #[error("{0}")]
    Conflict(String),
    /// The caller's copy is stale.
    #[error(
        "This record changed after you read it. Read the current version, reapply your change, and send its ETag in `If-Match`."
    )]
    PreconditionFailed,
    /// The caller's copy is stale: what it is now, and the cure.
    #[error("{0}")]
    Moved(String),
    /// It was there, and what it was is not any more: why, and the cure.
    #[error("{0}")]
    Gone(String),
    /// Fields that were not accepted.
    #[error("The request was not accepted.")]
    Invalid(Vec<FieldError>),
    /// The gate is closed.
    #[error("The cautions of this revision have not been acknowledged.")]
    GateClosed(Box<Outstanding>),
    /// Too many attempts.
    #[error("Too many attempts.")]
    RateLimited {
        /// Seconds to wait.
        retry_after: u64,
    },
    /// The idempotency key was used for another request.
    #[error("This Idempotency-Key belongs to a different request. Send a new key.")]
    KeyReused,
    /// The first request with the idempotency key is still being worked on.
    #[error(
        "The first request with this Idempotency-Key is still running. Wait for its response, then retry."
    )]
    KeyInFlight,
    /// Other transactions were first, each time that this one was tried.
    #[error(
        "Other requests changed the same records at the same time. Nothing was saved. Retry after the seconds \
         given in `Retry-After`."
    )]
    Contended(#[source] Box<dyn std::error::Error + Send + Sync>),
    /// No connection to the database, or it took too long.
    #[error("The database is unavailable. Retry after the seconds given in `Retry-After`.")]
    Unavailable(#[source] Box<dyn std::error::Error + Send + Sync>),
    /// The place where files are kept does not answer, or takes nothing.
    #[error(
        "Photographs cannot be stored or read at the moment. Retry after the seconds given in `Retry-After`."
    )]
    FilesUnavailable(#[source] Box<dyn std::error::Error + Send + Sync>),
    /// A calculation that took longer than it may, or waited so long for its turn.
    #[error(
        "The calculation exceeded its time limit of {} ms and was stopped. Try again later, or split the \
         formula into smaller ones.",
        limit.as_millis()
    )]
    TookTooLong {
        /// How long it may take.
        limit: std::time::Duration,
    },
    /// Something the program did not expect. The cause goes into the log, never to a caller.
    #[error("An unexpected error occurred.")]
    Internal(#[source] Box<dyn std::error::Error + Send + Sync>),
}

impl Error {
    /// A single field that was not accepted.
    pub fn field(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::Invalid(vec![FieldError::new(pointer, detail)])
    }

    /// A fault that the program did not expect, said in words.
    pub fn internal(message: impl Into<String>) -> Self {
        Self::Internal(message.into().into())
    }

    /// An impossible transition: names the state and what it would have to be.
    pub fn state(state: impl std::fmt::Display, detail: impl Into<String>) -> Self {
        Self::State { state: state.to_string(), detail: detail.into() }
    }
}

impl From<diesel::result::Error> for Error {
    /// By kind. Diesel has no kind for deadlocks, timeouts and lost servers: `told` tells those.
    fn from(error: diesel::result::Error) -> Self {
        use diesel::result::{DatabaseErrorKind, Error as Db};
        match &error {
            Db::DatabaseError(DatabaseErrorKind::SerializationFailure, _) => Self::Contended(error.into()),
            // The second is what never reached the server, or was not answered: the connection is gone.
            Db::DatabaseError(
                DatabaseErrorKind::ClosedConnection | DatabaseErrorKind::UnableToSendCommand,
                _,
            )
            | Db::BrokenTransactionManager => Self::Unavailable(error.into()),
            _ => Self::Internal(error.into()),
        }
    }
}

impl Error {
    /// Tells an error of the database that Diesel has no kind for by the code that the server sent with it.
    pub(crate) fn told(self, code: Option<&SqlState>) -> Self {
        let Some(code) = code else { return self };
        let cause = match self {
            Self::Internal(cause) => cause,
            other => return other,
        };
        if !cause.is::<diesel::result::Error>() {
            return Self::Internal(cause);
        }
        match *code {
            // Who loses against another transaction, or waits too long for its lock, may try again.
            SqlState::T_R_SERIALIZATION_FAILURE
            | SqlState::T_R_DEADLOCK_DETECTED
            | SqlState::LOCK_NOT_AVAILABLE => Self::Contended(cause),
            SqlState::QUERY_CANCELED
            | SqlState::IDLE_IN_TRANSACTION_SESSION_TIMEOUT
            | SqlState::ADMIN_SHUTDOWN
            | SqlState::CRASH_SHUTDOWN
            | SqlState::CANNOT_CONNECT_NOW => Self::Unavailable(cause),
            // A server that lets nobody in. A pooler hands on to its callers what it was told when it tried.
            SqlState::OBJECT_NOT_IN_PREREQUISITE_STATE => Self::Unavailable(cause),
            // Class 08 is a failed connection, 28 and 3D a refused one, 53 a lack of resources.
            _ if ["08", "28", "3D", "53"].iter().any(|class| code.code().starts_with(class)) => {
                Self::Unavailable(cause)
            }
            _ => Self::Internal(cause),
        }
    }
}

impl From<judgement::Error> for Error {
    fn from(error: judgement::Error) -> Self {
        match error {
            judgement::Error::Invalid(fields) => Self::Invalid(fields),
            judgement::Error::Internal(message) => Self::internal(message),
            // Whoever set the limit says how long it was.
            judgement::Error::Interrupted => Self::TookTooLong { limit: std::time::Duration::ZERO },
        }
    }
}

impl From<serde_json::Error> for Error {
    /// Says where, not what: such an error may quote the value that it met, which may be an amount, and the cause of an
    /// internal error goes into the log.
    fn from(error: serde_json::Error) -> Self {
        let kind = error.classify();
        Self::internal(format!(
            "stored JSON: {kind:?} error at line {}, column {}",
            error.line(),
            error.column()
        ))
    }
}

/// Whether a database error is the violation of the named constraint, so that a lost race becomes a plain answer.
#[must_use]
pub fn violates(error: &diesel::result::Error, constraint: &str) -> bool {
    matches!(error, diesel::result::Error::DatabaseError(_, info) if info.constraint_name() == Some(constraint))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unreadable_stored_value_is_located_and_not_quoted() {
        let error = serde_json::from_str::<Vec<u8>>(r#"["137.31 g"]"#).unwrap_err();
        assert!(error.to_string().contains("137.31"), "the library quotes it: {error}");
        let Error::Internal(cause) = Error::from(error) else { panic!("a fault of ours") };
        assert!(!cause.to_string().contains("137.31"), "{cause}");
        assert!(cause.to_string().contains("line 1"), "{cause}");
    }
}
