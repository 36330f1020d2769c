//! Refused requests as problem details (RFC 9457): every error of every layer, matched in one place.

use std::fmt;

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use wire::problem::Problem;

use crate::boundary;
use crate::plain;

/// A kind of problem: its stable name, title, status and what its page says.
pub(crate) struct Kind {
    pub(crate) slug: &'static str,
    pub(crate) title: &'static str,
    pub(crate) status: u16,
    pub(crate) page: &'static str,
}

macro_rules! kinds {
    ($($name:ident = $status:literal $slug:literal $title:literal $page:literal;)+) => {
        $(pub(crate) static $name: Kind = Kind { slug: $slug, title: $title, status: $status, page: $page };)+
        /// Every kind of problem there is.
        pub(crate) static KINDS: &[&Kind] = &[$(&$name),+];
    };
}

kinds! {
    MALFORMED = 400 "malformed-request" "The request cannot be read"
        "The body is not JSON, or a header or address cannot be read. `detail` says what and where.";
    KEY_MISSING = 400 "idempotency-key-missing" "An Idempotency-Key is needed"
        "Creating requests carry an `Idempotency-Key` header of 1 to 255 visible characters, new for every new request. Repeating a request with its key does nothing twice.";
    NOT_KNOWN = 401 "not-known" "Who is calling is not known"
        "Send `Authorization: Bearer` with an access token or an API key. Tokens last ten minutes: exchange the refresh token for new ones. A session that was ended, a disabled account and a revoked key are not known.";
    FORBIDDEN = 403 "forbidden" "Not yours to do"
        "The thing exists, but this is done by somebody else. `detail` says by whom.";
    GATE_CLOSED = 403 "gate-closed" "The cautions have not been acknowledged"
        "Amounts and method are shown to whoever has acknowledged the current cautions, whatever their role. `outstanding` lists the cautions and says where to acknowledge them. An acknowledgement ends when the cautions or the revision change, when a membership ends, and after the time the clinic's policy sets.";
    NOT_FOUND = 404 "not-found" "There is no such thing"
        "It does not exist, or it is not open to you: the two are not told apart.";
    METHOD = 405 "method-not-allowed" "This method is not for this address"
        "The `Allow` header lists the methods that are.";
    WRONG_STATE = 409 "wrong-state" "The thing is in the wrong state"
        "`state` names the state it is in, `detail` what it would have to be.";
    CONFLICT = 409 "conflict" "It collides with something that exists"
        "`detail` says with what, and what can be done.";
    KEY_IN_FLIGHT = 409 "request-in-flight" "The first request is still being worked on"
        "A request with the same Idempotency-Key has not been answered yet. Wait and repeat it.";
    STALE = 412 "stale" "It has changed since you read it"
        "Read it again, apply your change to what it is now, and send the new `ETag` in `If-Match`.";
    TOO_LARGE = 413 "too-large" "The body is too large"
        "A body has at most one mebibyte.";
    MEDIA_TYPE = 415 "media-type" "The body is not JSON"
        "Send `Content-Type: application/json`.";
    INVALID = 422 "invalid-request" "Fields were not accepted"
        "`errors` names each field by a JSON pointer (or `?name` for a query parameter) and says what would be accepted. Nothing was written.";
    KEY_REUSED = 422 "idempotency-key-reused" "The key was used for another request"
        "An Idempotency-Key belongs to one request: method, address and body. Send a new key with a new request.";
    PRECONDITION = 428 "precondition-required" "An If-Match is needed"
        "Changes of things that others may change too carry the `ETag` that was read, in `If-Match`.";
    TOO_MANY = 429 "too-many-requests" "Too many requests"
        "Wait for the seconds that `Retry-After` names.";
    INTERNAL = 500 "internal" "Something went wrong here"
        "It is in the log under the request id. Nothing was half-written.";
    UNAVAILABLE = 503 "unavailable" "The service cannot answer at the moment"
        "The database cannot be reached or is too busy. Wait for the seconds that `Retry-After` names and repeat.";
}

/// Why a request was refused.
#[derive(Debug)]
pub enum Refusal {
    /// By the clinic.
    Clinic(clinic::Error),
    /// It cannot be read.
    Malformed(String),
    /// A creating request without a key.
    KeyMissing,
    /// No route has this address.
    NoRoute,
    /// What stands in the address where an id belongs is none.
    NotAnId,
    /// A route has this address, for other methods.
    Method(String),
    /// The body is too large.
    TooLarge,
    /// The body is not said to be JSON.
    MediaType,
    /// A change without `If-Match`.
    Precondition,
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
            Self::Malformed(_) => &MALFORMED,
            Self::KeyMissing => &KEY_MISSING,
            Self::NoRoute | Self::NotAnId => &NOT_FOUND,
            Self::Method(_) => &METHOD,
            Self::TooLarge => &TOO_LARGE,
            Self::MediaType => &MEDIA_TYPE,
            Self::Precondition => &PRECONDITION,
            Self::Clinic(error) => match error {
                E::NotKnown(_) => &NOT_KNOWN,
                E::Forbidden(_) => &FORBIDDEN,
                E::GateClosed(_) => &GATE_CLOSED,
                E::NotFound(_) => &NOT_FOUND,
                E::State { .. } => &WRONG_STATE,
                E::Conflict(_) => &CONFLICT,
                E::Stale => &STALE,
                E::Invalid(_) => &INVALID,
                E::TooMany { .. } => &TOO_MANY,
                E::KeyReused => &KEY_REUSED,
                E::KeyInFlight => &KEY_IN_FLIGHT,
                E::Unavailable(_) => &UNAVAILABLE,
                E::Internal(_) => &INTERNAL,
            },
        }
    }

    fn detail(&self) -> String {
        match self {
            Self::Clinic(clinic::Error::GateClosed(outstanding)) => outstanding.reason.clone(),
            Self::Clinic(clinic::Error::Invalid(errors)) => match errors.as_slice() {
                [one] if one.pointer.is_empty() => one.detail.clone(),
                [one] => format!("{}: {}", one.pointer, one.detail),
                many => format!("{} fields were not accepted", many.len()),
            },
            Self::Clinic(error) => error.to_string(),
            Self::Malformed(detail) => detail.clone(),
            Self::NotAnId => format!("there is no such thing: {}", plain::ID),
            Self::Method(allowed) => format!("this address has the methods {allowed}"),
            Self::KeyMissing | Self::NoRoute | Self::TooLarge | Self::MediaType | Self::Precondition => {
                self.kind().page.to_owned()
            }
        }
    }

    fn problem(&self) -> Problem {
        let kind = self.kind();
        let mut problem = Problem {
            kind: format!("/problems/{}", kind.slug),
            title: kind.title.to_owned(),
            status: kind.status,
            detail: self.detail(),
            request_id: boundary::request_id(),
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

    /// Logs what a caller is not told: once, here at the boundary.
    fn log(&self) {
        if let Self::Clinic(clinic::Error::Internal(cause)) = self {
            tracing::error!(cause = %chain(cause.as_ref()), "a request failed");
        } else if let Self::Clinic(clinic::Error::Unavailable(cause)) = self {
            tracing::warn!(cause = %chain(cause.as_ref()), "the database did not serve a request");
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
            Self::Clinic(clinic::Error::NotKnown(_)) => {
                response.insert_header((header::WWW_AUTHENTICATE, "Bearer"));
            }
            Self::Clinic(clinic::Error::TooMany { retry_after }) => {
                response.insert_header((header::RETRY_AFTER, retry_after.to_string()));
            }
            Self::Clinic(clinic::Error::Unavailable(_) | clinic::Error::KeyInFlight) => {
                response.insert_header((header::RETRY_AFTER, "1"));
            }
            Self::Method(allowed) => {
                response.insert_header((header::ALLOW, allowed.as_str()));
            }
            _ => {}
        }
        response.content_type("application/problem+json");
        response.body(serde_json::to_string(&self.problem()).unwrap_or_default())
    }
}
