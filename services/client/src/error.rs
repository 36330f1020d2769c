//! Errors of this crate: of making a client, and of a call. No message contains the key, the address or a response's
//! body.

use wire::problem::{Outstanding, Problem};

/// Why a client cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum SetupError {
    /// The address cannot be that of a service. The message omits the address, which may contain a secret.
    #[error("The service address is invalid: {0}.")]
    Address(String),
    /// The key would be sent unencrypted.
    #[error("Plain http would send the key unencrypted. For any but a loopback address, use https.")]
    PlainHttp,
    /// The text cannot be an API client's key. The message omits the text.
    #[error("The API key is invalid: {0}.")]
    Key(&'static str),
    /// The text is no `traceparent`.
    #[error(
        "The traceparent is invalid. Give one of version 00, such as \
         00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01, or none."
    )]
    TraceParent,
    /// The HTTP client cannot be set up, such as without trusted certificates.
    #[error(
        "The HTTP client cannot be set up. For https, install the system's trusted certificates (ca-certificates)."
    )]
    Connection(#[source] reqwest::Error),
}

/// Why a call has no result.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The service refused the request, with this reason.
    #[error("{} ({}): {} [request {}]", .0.title, .0.status, .0.detail, .0.request_id)]
    Problem(Box<Problem>),
    /// The service was not reached, or its response was incomplete or late.
    #[error(
        "The service was not reached, or its response was incomplete or late. Check the address and the \
         network, then retry."
    )]
    Transport(#[source] reqwest::Error),
    /// A response that this client cannot read, such as a redirect or a proxy's page. The message omits the body, which
    /// may contain amounts or method.
    #[error("The service answered {status}, {what}.")]
    Unexpected {
        /// The HTTP status.
        status: u16,
        /// What was unexpected.
        what: String,
    },
    /// The response is larger than [`Settings::largest_answer`](crate::Settings::largest_answer).
    #[error("The response exceeds {limit} bytes, the limit of this client.")]
    TooLarge {
        /// The limit, in bytes.
        limit: usize,
    },
}

impl Error {
    /// The problem that the service answered.
    #[must_use]
    pub const fn problem(&self) -> Option<&Problem> {
        match self {
            Self::Problem(problem) => Some(problem),
            Self::Transport(_) | Self::Unexpected { .. } | Self::TooLarge { .. } => None,
        }
    }

    /// The cautions to acknowledge, if the call was refused because they are not acknowledged.
    #[must_use]
    pub fn closed_gate(&self) -> Option<&Outstanding> {
        self.problem()?.outstanding.as_deref()
    }
}

impl From<reqwest::Error> for Error {
    /// Without the address, which has no place in a log.
    fn from(error: reqwest::Error) -> Self {
        Self::Transport(error.without_url())
    }
}
