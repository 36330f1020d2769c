//! Who says they are calling: read from the `Authorization` header, proved later by the clinic.

use std::future::{Ready, ready};
use std::net::IpAddr;

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{FromRequest, HttpRequest};
use clinic::Claim;
use clinic::canonical;

use crate::problem::Refusal;
use crate::state::ApiState;

/// The claim of a request. A handler that takes it answers 401 without one.
pub(crate) struct Caller(pub(crate) Claim);

const NONE: clinic::Error =
    clinic::Error::NotKnown("send `Authorization: Bearer` with an access token or an API key");
const ENDED: clinic::Error =
    clinic::Error::NotKnown("this access token is not valid or has ended: refresh it or sign in again");

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
        .ok_or(NONE)?;
    let claim = if credential.starts_with("sk_") {
        Claim::Key(canonical::secret(credential))
    } else {
        state.tokens.read(credential, &state.clinic.clock).ok_or(ENDED)?
    };
    limit(state, &claim)?;
    Ok(Caller(claim))
}

fn state(request: &HttpRequest) -> Result<&ApiState, Refusal> {
    request
        .app_data::<Data<ApiState>>()
        .map(|data| data.get_ref())
        .ok_or_else(|| clinic::Error::internal("the API has no state").into())
}

/// Slows a caller who asks too often. Kept in the process: a write per read would cost more than the read.
fn limit(state: &ApiState, claim: &Claim) -> Result<(), Refusal> {
    use governor::clock::{Clock, DefaultClock};
    let Some(limiter) = &state.limiter else { return Ok(()) };
    let key = match claim {
        Claim::Session { person, .. } => person.0.into_bytes(),
        Claim::Key(hash) => hash.first_chunk().copied().unwrap_or_default(),
    };
    limiter.check_key(&key).map_err(|until| {
        let wait = until.wait_time_from(DefaultClock::default().now());
        clinic::Error::TooMany { retry_after: wait.as_secs() + 1 }.into()
    })
}

/// Where a request comes from: the peer, or, behind a proxy we trust, what that proxy says.
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
    // The last address that is not itself one of our proxies; anything before it may be made up.
    let forwarded: Vec<&str> = request
        .headers()
        .get_all("x-forwarded-for")
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .collect();
    // Read from the end, where our proxies wrote, so that nothing made up before it can hide it.
    forwarded
        .into_iter()
        .rev()
        .map_while(|part| part.trim().parse::<IpAddr>().ok())
        .map(|address| address.to_canonical())
        .find(|address| !trusted.contains(address))
        .unwrap_or(peer)
        .to_string()
}
