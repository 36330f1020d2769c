//! Addresses and queries: ids and parameters, unknown ones refused; and the version a change names.

use std::future::{Ready, ready};

use actix_web::dev::{Payload, ServiceRequest};
use actix_web::http::header::{self, HeaderMap};
use actix_web::{FromRequest, HttpRequest};
use serde::de::DeserializeOwned;

use crate::plain;
use crate::problem::Refusal;
use crate::route_table::{Accepts, Routes};

/// The query of a request. Its type says which parameters there are; any other is refused.
pub(crate) struct Query<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequest for Query<T> {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(query(request.query_string()).map(Self))
    }
}

fn query<T: DeserializeOwned>(text: &str) -> Result<T, Refusal> {
    let pairs: Vec<(String, String)> = serde_urlencoded::from_str(text)
        .map_err(|error| Refusal::Malformed(format!("the query cannot be read: {error}")))?;
    if let Some((name, _)) = pairs.iter().find(|(name, value)| name.contains('\0') || value.contains('\0')) {
        return Err(clinic::Error::field(format!("?{}", name.replace('\0', "")), "leave out U+0000").into());
    }
    // A parameter that is sent twice is refused here too: a structure has each field once.
    serde_urlencoded::from_str(text).map_err(|error| {
        let detail = error.to_string();
        let named = plain::named(&detail).map(str::to_owned);
        // The message of a value that did not fit does not say whose it was: try each alone.
        let name = named.or_else(|| {
            pairs.iter().find_map(|(name, value)| {
                let alone = serde_urlencoded::to_string([(name, value)]).ok()?;
                serde_urlencoded::from_str::<T>(&alone).is_err().then(|| name.clone())
            })
        });
        let name = name.unwrap_or_default();
        clinic::Error::field(format!("?{name}"), plain::sentence(&detail, &name)).into()
    })
}

fn accepts(request: &ServiceRequest) -> Option<Accepts> {
    request.app_data::<Routes>()?.0.accepts(&request.match_pattern()?, request.method())
}

/// Refuses parameters at an address that takes none; one that takes some reads them itself, as a [`Query`].
pub(crate) fn unwanted(request: &ServiceRequest) -> Option<Refusal> {
    if request.query_string().is_empty() {
        return None;
    }
    if accepts(request)?.query {
        return None;
    }
    let pairs: Vec<(String, String)> = serde_urlencoded::from_str(request.query_string()).ok()?;
    let (name, _) = pairs.into_iter().next()?;
    let detail = "unknown parameter: this address takes none";
    Some(clinic::Error::field(format!("?{}", name.replace('\0', "")), detail).into())
}

/// Refuses a body where none is read: what was sent in it would seem to have been accepted.
pub(crate) fn unwanted_body(request: &ServiceRequest) -> Option<Refusal> {
    let headers = request.headers();
    let none = match headers.get(header::CONTENT_LENGTH) {
        Some(length) => length.as_bytes() == b"0",
        None => !headers.contains_key(header::TRANSFER_ENCODING),
    };
    if none || accepts(request)?.body {
        return None;
    }
    Some(clinic::Error::field("", "this request has no body: leave it out").into())
}

/// An id in the address. What is not an id names nothing; an address that is written out has its own methods only.
pub(crate) struct Path<T>(pub(crate) T);

impl<T: DeserializeOwned + 'static> FromRequest for Path<T> {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let path = T::deserialize(actix_router::PathDeserializer::new(request.match_info()));
        let literal = || request.app_data::<Routes>()?.0.literal_methods(request.path());
        ready(path.map(Self).map_err(|_| match literal() {
            Some(methods) => Refusal::Method(methods.to_owned()),
            None => Refusal::NotAnId,
        }))
    }
}

/// The version that a change names in `If-Match`: needed on every change of what others may change too.
pub(crate) struct IfMatch(pub(crate) i64);

impl FromRequest for IfMatch {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(if_match(request.headers()).map(Self))
    }
}

fn if_match(headers: &HeaderMap) -> Result<i64, Refusal> {
    let value = headers.get(header::IF_MATCH).ok_or(Refusal::Precondition)?;
    let version = value
        .to_str()
        .ok()
        .and_then(|text| text.trim().strip_prefix("\"v")?.strip_suffix('"')?.parse::<i64>().ok());
    // A tag that is not one of ours matches nothing that is here now.
    version.ok_or_else(|| clinic::Error::Stale.into())
}
