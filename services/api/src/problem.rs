//! Refused requests as problem details (RFC 9457): the one exhaustive match from errors to problems. Logs the cause of
//! an internal error; never sends it.

use std::fmt;
use std::time::Duration;

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use wire::kinds::{self, Kind};
use wire::problem::Problem;

use crate::plain;
use crate::rate;
use crate::request_id;

/// Why a request was refused.
#[derive(Debug)]
pub enum Refusal {
    /// Refused by the clinic.
    Clinic(clinic::Error),
    /// Body, query or address that cannot be parsed. Says where and why.
    Malformed(String),
    /// A creating request without a key.
    KeyMissing,
    /// No route has this address.
    NoRoute,
    /// The address has something other than an ID where an ID belongs.
    NotAnId,
    /// The address supports other methods: these.
    Method(String),
    /// The body did not arrive in full within this time.
    TooSlow(Duration),
    /// The headers did not arrive in full in time.
    HeadTooSlow,
    /// The headers are too large.
    HeadTooLarge,
    /// The caller has used up the requests of the moment.
    TooFast {
        /// Seconds to wait.
        retry_after: u64,
    },
    /// The body is too large.
    TooLarge,
    /// The body is not said to be of a kind that is taken here.
    MediaType,
    /// A change without `If-Match`.
    PreconditionRequired,
}

impl From<clinic::Error> for Refusal {
    fn from(error: clinic::Error) -> Self {
        Self::Clinic(error)
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.detail())
    }
}

impl Refusal {
    pub(crate) fn kind(&self) -> &'static Kind {
        use clinic::Error as E;
        match self {
            Self::Malformed(_) => &kinds::MALFORMED,
            Self::KeyMissing => &kinds::KEY_MISSING,
            Self::NoRoute | Self::NotAnId => &kinds::NOT_FOUND,
            Self::Method(_) => &kinds::METHOD,
            Self::TooSlow(_) => &kinds::TOO_SLOW,
            Self::HeadTooSlow => &kinds::HEAD_TOO_SLOW,
            Self::HeadTooLarge => &kinds::HEAD_TOO_LARGE,
            Self::TooFast { .. } => &kinds::RATE_LIMITED,
            Self::TooLarge => &kinds::TOO_LARGE,
            Self::MediaType => &kinds::MEDIA_TYPE,
            Self::PreconditionRequired => &kinds::PRECONDITION_REQUIRED,
            Self::Clinic(error) => match error {
                E::Unauthenticated(_) => &kinds::UNAUTHENTICATED,
                E::Forbidden(_) => &kinds::FORBIDDEN,
                E::GateClosed(_) => &kinds::GATE_CLOSED,
                E::NotFound(_) => &kinds::NOT_FOUND,
                E::State { .. } => &kinds::WRONG_STATE,
                E::Conflict(_) => &kinds::CONFLICT,
                E::PreconditionFailed | E::Moved(_) => &kinds::PRECONDITION_FAILED,
                E::Gone(_) => &kinds::GONE,
                E::Invalid(_) => &kinds::INVALID,
                E::RateLimited { .. } => &kinds::RATE_LIMITED,
                E::KeyReused => &kinds::KEY_REUSED,
                E::KeyInFlight => &kinds::KEY_IN_FLIGHT,
                E::Contended(_) => &kinds::CONTENDED,
                E::TookTooLong { .. } => &kinds::TOOK_TOO_LONG,
                E::Unavailable(_) | E::FilesUnavailable(_) => &kinds::UNAVAILABLE,
                E::Internal(_) => &kinds::INTERNAL,
            },
        }
    }

    fn detail(&self) -> String {
        match self {
            Self::Clinic(clinic::Error::GateClosed(outstanding)) => outstanding.reason.clone(),
            Self::Clinic(clinic::Error::Invalid(errors)) => match errors.as_slice() {
                [one] if one.pointer.is_empty() => one.detail.clone(),
                [one] => format!("{}: {}", one.pointer, one.detail),
                many => format!("{} fields are invalid. `errors` lists them.", many.len()),
            },
            Self::Clinic(error) => error.to_string(),
            Self::Malformed(detail) => detail.clone(),
            Self::NotAnId => plain::ID.to_owned(),
            Self::Method(allowed) => format!("This address supports the methods {allowed}."),
            Self::TooSlow(limit) => format!(
                "The body did not arrive in full within {} ms. Send the request again over a steady connection.",
                limit.as_millis()
            ),
            Self::KeyMissing
            | Self::NoRoute
            | Self::HeadTooSlow
            | Self::HeadTooLarge
            | Self::TooFast { .. }
            | Self::TooLarge
            | Self::MediaType
            | Self::PreconditionRequired => self.kind().page.to_owned(),
        }
    }

    fn problem(&self) -> Problem {
        let kind = self.kind();
        let mut problem = Problem {
            kind: format!("/problems/{}", kind.slug),
            title: kind.title.to_owned(),
            status: kind.status,
            detail: self.detail(),
            request_id: request_id::current(),
            errors: Vec::new(),
            outstanding: None,
            state: None,
        };
        match self {
            Self::Clinic(clinic::Error::Invalid(errors)) => problem.errors.clone_from(errors),
            Self::Clinic(clinic::Error::GateClosed(outstanding)) => {
                problem.outstanding = Some(outstanding.clone())
            }
            Self::Clinic(clinic::Error::State { state, .. }) => problem.state = Some(state.clone()),
            _ => {}
        }
        problem
    }

    /// The problem as JSON, with the ID of the request at hand.
    pub(crate) fn body(&self) -> String {
        serde_json::to_string(&self.problem()).unwrap_or_default()
    }

    /// Logs the cause that the response withholds.
    fn log(&self) {
        if let Self::Clinic(clinic::Error::Internal(cause)) = self {
            tracing::error!(cause = %chain(cause.as_ref()), "request failed");
        } else if let Self::Clinic(clinic::Error::Unavailable(cause)) = self {
            tracing::warn!(cause = %chain(cause.as_ref()), "database unavailable");
        } else if let Self::Clinic(clinic::Error::FilesUnavailable(cause)) = self {
            tracing::warn!(cause = %chain(cause.as_ref()), "files of photographs unavailable");
        } else if let Self::Clinic(clinic::Error::Contended(cause)) = self {
            tracing::warn!(cause = %chain(cause.as_ref()), "transaction lost against others each time");
        }
    }
}

fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut next = error.source();
    while let Some(cause) = next {
        text = format!("{text}: {cause}");
        next = cause.source();
    }
    text
}

impl ResponseError for Refusal {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.kind().status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        self.log();
        let mut response = HttpResponse::build(self.status_code());
        match self {
            Self::Clinic(clinic::Error::Unauthenticated(_)) => {
                response.insert_header((header::WWW_AUTHENTICATE, "Bearer"));
            }
            Self::Clinic(clinic::Error::RateLimited { retry_after }) => {
                response.insert_header((header::RETRY_AFTER, retry_after.to_string()));
                response.insert_header((rate::LIMIT.clone(), rate::of_attempts(*retry_after)));
            }
            Self::TooFast { retry_after } => {
                response.insert_header((header::RETRY_AFTER, retry_after.to_string()));
            }
            Self::Clinic(
                clinic::Error::Unavailable(_)
                | clinic::Error::FilesUnavailable(_)
                | clinic::Error::Contended(_)
                | clinic::Error::KeyInFlight
                | clinic::Error::TookTooLong { .. },
            ) => {
                response.insert_header((header::RETRY_AFTER, "1"));
            }
            // The rest of the body is never read, so that whoever sends it cannot hold the connection.
            Self::TooSlow(_) => {
                response.force_close();
            }
            Self::Method(allowed) => {
                response.insert_header((header::ALLOW, allowed.as_str()));
            }
            _ => {}
        }
        response.content_type("application/problem+json");
        response.body(self.body())
    }
}
