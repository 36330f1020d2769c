//! What other crates that answer requests on the same listener share with the API: the request's ID, where it comes from,
//! and the rate of its caller. The server hands these on, since those crates do not know this one.

use std::net::IpAddr;

use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::Credentials;
use wire::teaching::CredentialFacts;

use crate::caller;
use crate::request_id;
use crate::state::ApiState;

/// The ID of the request that is being answered; empty outside a request.
#[must_use]
pub fn current_request_id() -> String {
    request_id::current()
}

/// Where a request comes from: the peer, or, behind a trusted proxy, the address that it forwards.
#[must_use]
pub fn address(request: &HttpRequest) -> Option<IpAddr> {
    let state = request.app_data::<Data<ApiState>>()?;
    caller::address(request, &state.trusted_proxies)
}

/// Counts a request of a caller, together with those to the API.
///
/// # Errors
/// Returns the seconds to wait if the caller has no request left.
pub fn admit(request: &HttpRequest, credentials: &Credentials) -> Result<(), u64> {
    match request.app_data::<Data<ApiState>>() {
        Some(state) => caller::count(request, state, credentials),
        None => Ok(()),
    }
}

/// Counts a request of whoever is not signed in, by where it comes from. Where that is not known, nothing is counted.
///
/// # Errors
/// Returns the seconds to wait if no request is left.
pub fn admit_stranger(request: &HttpRequest) -> Result<(), u64> {
    match request.app_data::<Data<ApiState>>() {
        Some(state) => caller::count_stranger(request, state),
        None => Ok(()),
    }
}

/// Counts a report of a reaction by whoever is not signed in, by where it comes from.
///
/// # Errors
/// Returns the seconds to wait if no report is left.
pub fn admit_report(request: &HttpRequest) -> Result<(), u64> {
    match request.app_data::<Data<ApiState>>() {
        Some(state) => caller::count_report(request, state),
        None => Ok(()),
    }
}

/// Signs a credential; `None` if it cannot be signed.
pub fn sign_credential(request: &HttpRequest, of: &CredentialFacts) -> Option<String> {
    let state = request.app_data::<Data<ApiState>>()?;
    state.tokens.credential(of)
}
