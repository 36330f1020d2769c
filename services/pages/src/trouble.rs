//! Why a page could not be shown or an act was not done, and which kind of problem that is. Logs the cause of an internal
//! error; never shows it.

use std::fmt;

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use wire::kinds::{self, Kind};

/// Why a request was refused.
#[derive(Debug)]
pub(crate) enum Trouble {
    /// Refused by the clinic.
    Clinic(clinic::Error),
    /// Nobody is signed in, or not any more.
    SignedOut,
    /// There is no such page.
    NoPage,
    /// The form cannot be read, or has no key.
    Malformed,
    /// The form was sent by another site.
    CrossSite,
    /// The form is too large.
    TooLarge,
    /// The form did not arrive in full in time.
    TooSlow,
    /// The caller has used up the requests of the moment.
    TooFast {
        /// Seconds to wait.
        retry_after: u64,
    },
}

impl From<clinic::Error> for Trouble {
    fn from(error: clinic::Error) -> Self {
        Self::Clinic(error)
    }
}

impl From<askama::Error> for Trouble {
    fn from(error: askama::Error) -> Self {
        Self::Clinic(clinic::Error::internal(format!("a page could not be rendered: {error}")))
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.kind().title)
    }
}

impl Trouble {
    /// Which kind of problem it is.
    pub(crate) fn kind(&self) -> &'static Kind {
        use clinic::Error as E;
        match self {
            Self::SignedOut => &kinds::UNAUTHENTICATED,
            Self::NoPage => &kinds::NOT_FOUND,
            Self::Malformed => &kinds::MALFORMED,
            Self::CrossSite => &kinds::FORBIDDEN,
            Self::TooLarge => &kinds::TOO_LARGE,
            Self::TooSlow => &kinds::TOO_SLOW,
            Self::TooFast { .. } => &kinds::RATE_LIMITED,
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

    /// One sentence about this very case, where there is one that says more than the kind.
    pub(crate) fn detail(&self) -> Option<String> {
        use clinic::Error as E;
        match self {
            Self::CrossSite => Some(crate::texts::t("trouble-cross-site")),
            Self::Clinic(
                E::Forbidden(detail)
                | E::Conflict(detail)
                | E::Gone(detail)
                | E::Moved(detail)
                | E::State { detail, .. },
            ) => Some(detail.clone()),
            Self::Clinic(E::GateClosed(outstanding)) => Some(outstanding.reason.clone()),
            Self::Clinic(E::Invalid(errors)) => {
                Some(errors.iter().map(|error| error.detail.as_str()).collect::<Vec<_>>().join(" "))
            }
            _ => None,
        }
    }

    /// Seconds to wait before another try, where that helps.
    pub(crate) fn retry_after(&self) -> Option<u64> {
        use clinic::Error as E;
        match self {
            Self::TooFast { retry_after } | Self::Clinic(E::RateLimited { retry_after }) => {
                Some(*retry_after)
            }
            Self::Clinic(
                E::Unavailable(_)
                | E::FilesUnavailable(_)
                | E::Contended(_)
                | E::KeyInFlight
                | E::TookTooLong { .. },
            ) => Some(1),
            _ => None,
        }
    }

    fn log(&self) {
        match self {
            Self::Clinic(clinic::Error::Internal(cause)) => {
                tracing::error!(cause = %chain(cause.as_ref()), "request failed");
            }
            Self::Clinic(clinic::Error::Unavailable(cause)) => {
                tracing::warn!(cause = %chain(cause.as_ref()), "database unavailable");
            }
            Self::Clinic(clinic::Error::FilesUnavailable(cause)) => {
                tracing::warn!(cause = %chain(cause.as_ref()), "files of photographs unavailable");
            }
            Self::Clinic(clinic::Error::Contended(cause)) => {
                tracing::warn!(cause = %chain(cause.as_ref()), "transaction lost against others each time");
            }
            _ => {}
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

impl ResponseError for Trouble {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.kind().status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    /// Without a body: [`crate::around`] renders the page, which needs to know who is looking.
    fn error_response(&self) -> HttpResponse {
        self.log();
        let mut response = HttpResponse::build(self.status_code());
        if let Some(seconds) = self.retry_after() {
            response.insert_header((header::RETRY_AFTER, seconds.to_string()));
        }
        if matches!(self, Self::TooSlow) {
            response.force_close();
        }
        response.finish()
    }
}
