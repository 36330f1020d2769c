//! The credentials and the address of a request. Parsed here, never verified against the database: the clinic does that
//! in the first statement of its transaction.

use std::future::{Ready, ready};
use std::net::IpAddr;

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{FromRequest, HttpRequest};
use clinic::Credentials;

use crate::problem::Refusal;
use crate::state::ApiState;

/// The credentials of a request, not yet verified. A handler that takes them answers 401 without.
pub(crate) struct Caller(pub(crate) Credentials);

const MISSING: clinic::Error =
    clinic::Error::Unauthenticated("Send `Authorization: Bearer` with an access token or an API key.");
const INVALID: clinic::Error =
    clinic::Error::Unauthenticated("The access token is invalid or expired. Refresh it or sign in again.");

impl FromRequest for Caller {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(caller(request))
    }
}

fn caller(request: &HttpRequest) -> Result<Caller, Refusal> {
    let state = state(request)?;
    let credential = request
        .headers()
        .get(header::AUTHORIZATION)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.split_once(' '))
        .filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"))
        .map(|(_, credential)| credential.trim())
        .ok_or(MISSING)?;
    let credentials = if credential.starts_with("sk_") {
        Credentials::of_key(credential)
    } else {
        state.tokens.read(credential, state.clinic.clock()).ok_or(INVALID)?
    };
    limit(request, state, &credentials)?;
    Ok(Caller(credentials))
}

fn state(request: &HttpRequest) -> Result<&ApiState, Refusal> {
    request
        .app_data::<Data<ApiState>>()
        .map(|data| data.get_ref())
        .ok_or_else(|| clinic::Error::internal("the API has no state").into())
}

/// Enforces the request rate of a caller.
fn limit(request: &HttpRequest, state: &ApiState, credentials: &Credentials) -> Result<(), Refusal> {
    let Some(rate) = &state.rate else { return Ok(()) };
    let key = match credentials {
        Credentials::Session { person, .. } => person.0.into_bytes(),
        Credentials::Key(hash) => hash.first_chunk().copied().unwrap_or_default(),
    };
    rate.count(request, &key).map_err(|retry_after| Refusal::TooFast { retry_after })
}

/// The IP address that a request comes from: the peer's, or, behind a trusted proxy, the one it forwards.
pub(crate) struct Address(pub(crate) String);

impl FromRequest for Address {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(state(request).map(|state| Self(address(request, &state.trusted_proxies))))
    }
}

fn address(request: &HttpRequest, trusted: &[IpAddr]) -> String {
    let Some(peer) = request.peer_addr().map(|peer| peer.ip().to_canonical()) else { return String::new() };
    if !trusted.contains(&peer) {
        return peer.to_string();
    }
    let forwarded: Vec<&str> = request
        .headers()
        .get_all("x-forwarded-for")
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .collect();
    // From the end, where the trusted proxies wrote. What stands before the last address that is no trusted proxy is
    // the caller's own text.
    forwarded
        .into_iter()
        .rev()
        .map_while(|part| part.trim().parse::<IpAddr>().ok())
        .map(|address| address.to_canonical())
        .find(|address| !trusted.contains(address))
        .unwrap_or(peer)
        .to_string()
}
