//! The credentials and the address of a request. Parsed here, never verified against the database: the clinic does that
//! in the first statement of its transaction.

use std::future::{Ready, ready};
use std::net::IpAddr;

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{FromRequest, HttpRequest};
use clinic::Credentials;
use clinic::people::Origin;

use crate::key_gate::KeyGate;
use crate::problem::Refusal;
use crate::state::ApiState;
use crate::token::Read;

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

/// What stands in `Authorization`.
pub(crate) enum Bearer {
    /// A good access token, or a key of the right form.
    Good(Credentials),
    /// Nothing that can be read.
    Missing,
    /// An access token past its time.
    Expired,
    /// No access token of this service.
    Invalid,
    /// A key of a form that no key was ever made in.
    MadeUpKey,
}

/// Reads the bearer token of a request. The database has not been asked.
pub(crate) fn bearer(request: &HttpRequest, state: &ApiState) -> Bearer {
    let credential = request
        .headers()
        .get(header::AUTHORIZATION)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.split_once(' '))
        .filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"))
        .map(|(_, credential)| credential.trim());
    let Some(credential) = credential else { return Bearer::Missing };
    if credential.starts_with("sk_") {
        if !KeyGate::well_formed(credential) {
            return Bearer::MadeUpKey;
        }
        return Bearer::Good(Credentials::of_key(credential));
    }
    match state.tokens.read(credential, state.clinic.clock()) {
        Read::Good(credentials) => Bearer::Good(credentials),
        Read::Expired => Bearer::Expired,
        Read::Invalid => Bearer::Invalid,
    }
}

fn caller(request: &HttpRequest) -> Result<Caller, Refusal> {
    let state = state(request)?;
    let credentials = match bearer(request, state) {
        Bearer::Good(credentials) => credentials,
        Bearer::Missing => return Err(MISSING.into()),
        Bearer::Expired | Bearer::Invalid => return Err(INVALID.into()),
        Bearer::MadeUpKey => return Err(clinic::KEY_NOT_KNOWN.into()),
    };
    if let Credentials::Key(hash) = &credentials {
        let origin = origin(request, state, None);
        state
            .keys
            .admit(request, *hash, origin.network())
            .map_err(|retry_after| clinic::Error::RateLimited { retry_after })?;
    }
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
    count(request, state, credentials).map_err(|retry_after| Refusal::TooFast { retry_after })
}

/// Counts a request of a caller; answers the seconds to wait if none is left.
pub(crate) fn count(request: &HttpRequest, state: &ApiState, credentials: &Credentials) -> Result<(), u64> {
    let Some(rate) = &state.rate else { return Ok(()) };
    let key = match credentials {
        Credentials::Session { person, .. } => person.0.into_bytes(),
        Credentials::Key(hash) => hash.first_chunk().copied().unwrap_or_default(),
    };
    rate.count(request, &key)
}

/// Counts a request of whoever is not signed in; answers the seconds to wait if none is left. Whoever has one address of IPv6
/// has a network of them, so the network counts.
pub(crate) fn count_stranger(request: &HttpRequest, state: &ApiState) -> Result<(), u64> {
    let Some((rate, key)) = state.rate.as_ref().zip(network(request, state)) else { return Ok(()) };
    rate.count(request, &key)
}

/// Counts a report of whoever is not signed in; answers the seconds to wait if none is left. Where it comes from is not known,
/// all such reports count as one caller's.
pub(crate) fn count_report(request: &HttpRequest, state: &ApiState) -> Result<(), u64> {
    state.reports.count(&network(request, state).unwrap_or_default())
}

/// The address that a request comes from, of IPv6 its network.
fn network(request: &HttpRequest, state: &ApiState) -> Option<[u8; 16]> {
    let address = address(request, &state.trusted_proxies)?;
    let mut key = match address {
        IpAddr::V4(address) => address.to_ipv6_mapped().octets(),
        IpAddr::V6(address) => address.octets(),
    };
    if address.is_ipv6() {
        key.iter_mut().skip(8).for_each(|byte| *byte = 0);
    }
    Some(key)
}

/// The IP address that a request comes from: the peer's, or, behind a trusted proxy, the one it forwards.
pub(crate) struct Address(Option<IpAddr>);

impl Address {
    /// Where the request comes from, with the device that its token names, if one was sent and is good.
    pub(crate) fn origin(&self, state: &ApiState, device_token: Option<&str>) -> Origin {
        let device = device_token.and_then(|token| state.tokens.read_device(token, state.clinic.clock()));
        Origin::of(self.0, device)
    }
}

impl FromRequest for Address {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(state(request).map(|state| Self(address(request, &state.trusted_proxies))))
    }
}

/// Where a request comes from.
pub(crate) fn origin(request: &HttpRequest, state: &ApiState, device_token: Option<&str>) -> Origin {
    Address(address(request, &state.trusted_proxies)).origin(state, device_token)
}

pub(crate) fn address(request: &HttpRequest, trusted: &[IpAddr]) -> Option<IpAddr> {
    let peer = request.peer_addr()?.ip().to_canonical();
    if !trusted.contains(&peer) {
        return Some(peer);
    }
    let forwarded: Vec<&str> = request
        .headers()
        .get_all("x-forwarded-for")
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .collect();
    // From the end, where the trusted proxies wrote. What stands before the last address that is no trusted proxy is
    // the caller's own text.
    let from = forwarded
        .into_iter()
        .rev()
        .map_while(|part| part.trim().parse::<IpAddr>().ok())
        .map(|address| address.to_canonical())
        .find(|address| !trusted.contains(address));
    Some(from.unwrap_or(peer))
}
