//! What can go wrong: before the first call, and in a call.

use wire::problem::{Outstanding, Problem};

/// Why no client could be made.
#[derive(Debug, thiserror::Error)]
pub enum SetupError {
    /// The base address is not one of a service. The address itself is not repeated, since it may hold a secret.
    #[error("this is not the address of a service: {0}")]
    Address(String),
    /// The key would travel readable.
    #[error(
        "plain http would send the key readable over the network: use https (plain http is for loopback)"
    )]
    PlainHttp,
    /// What was given cannot be an API client's key. It is not repeated.
    #[error("this is not a key: {0}")]
    Key(&'static str),
    /// The HTTP client could not be made, such as for want of trusted certificates.
    #[error(
        "the connection could not be prepared; https needs the system's trusted certificates (ca-certificates)"
    )]
    Connection(#[source] reqwest::Error),
}

/// Why a call has no result.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The service refused, and says why.
    #[error("{} ({}): {} [request {}]", .0.title, .0.status, .0.detail, .0.request_id)]
    Problem(Box<Problem>),
    /// The service was not reached, or its answer did not arrive whole and in time.
    #[error("the service was not reached, or its answer did not arrive whole and in time")]
    Transport(#[source] reqwest::Error),
    /// An answer that this client does not understand, such as a redirect or a page of a proxy. Its content is not
    /// repeated, since it may be what the gate guards.
    #[error("the service answered {status}, {what}")]
    Unexpected {
        /// The HTTP status.
        status: u16,
        /// What was not understood.
        what: String,
    },
    /// The answer is larger than [`Settings::largest_answer`](crate::Settings::largest_answer).
    #[error("the answer is larger than {limit} bytes")]
    TooLarge {
        /// The limit, in bytes.
        limit: usize,
    },
}

impl Error {
    /// What the service said when it refused.
    #[must_use]
    pub const fn problem(&self) -> Option<&Problem> {
        match self {
            Self::Problem(problem) => Some(problem),
            Self::Transport(_) | Self::Unexpected { .. } | Self::TooLarge { .. } => None,
        }
    }

    /// The outstanding cautions, when the call was refused because the gate is closed.
    #[must_use]
    pub fn closed_gate(&self) -> Option<&Outstanding> {
        self.problem()?.outstanding.as_deref()
    }
}

impl From<reqwest::Error> for Error {
    /// The address is left out: whoever calls knows it, and a log need not.
    fn from(error: reqwest::Error) -> Self {
        Self::Transport(error.without_url())
    }
}
