//! IDs in addresses, query parameters, and the version in `If-Match`. Refuses unknown parameters, and bodies where none
//! is read.

use std::future::{Ready, ready};

use actix_web::dev::{Payload, ServiceRequest};
use actix_web::http::header::{self, HeaderMap};
use actix_web::{FromRequest, HttpRequest};
use clinic::Detail;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use wire::recipe::ExplainQuery;

use crate::coding;
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
        .map_err(|error| Refusal::Malformed(format!("The query string cannot be parsed: {error}.")))?;
    if let Some((name, _)) = pairs.iter().find(|(name, value)| name.contains('\0') || value.contains('\0')) {
        return Err(clinic::Error::field(
            format!("?{}", name.replace('\0', "")),
            "A parameter may not contain the character U+0000. Remove it.",
        )
        .into());
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

/// The query of an address whose figures can explain themselves: `explain`, and the parameters of `T`.
pub(crate) struct Explained<T> {
    pub(crate) detail: Detail,
    pub(crate) query: T,
}

impl<T: DeserializeOwned> FromRequest for Explained<T> {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(explained(request.query_string()))
    }
}

/// No parameters but `explain`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Nothing {}

fn explained<T: DeserializeOwned>(text: &str) -> Result<Explained<T>, Refusal> {
    let is_explain = |pair: &&str| pair.split('=').next() == Some("explain");
    if !text.split('&').any(|pair| is_explain(&pair)) {
        return Ok(Explained { detail: Detail::Brief, query: query(text)? });
    }
    let (asked, others): (Vec<&str>, Vec<&str>) = text.split('&').partition(is_explain);
    let asked: ExplainQuery = query(&asked.join("&"))?;
    let detail = if asked.explain { Detail::Explained } else { Detail::Brief };
    Ok(Explained { detail, query: query(&others.join("&"))? })
}

fn accepts(request: &ServiceRequest) -> Option<Accepts> {
    let pattern = routing::pattern(request.request())?;
    request.app_data::<Routes>()?.0.accepts(pattern, request.method())
}

/// Refuses parameters at an address that takes none. Addresses that take some parse them as a [`Query`].
pub(crate) fn unwanted(request: &ServiceRequest) -> Option<Refusal> {
    if request.query_string().is_empty() {
        return None;
    }
    if accepts(request)?.query {
        return None;
    }
    let pairs: Vec<(String, String)> = serde_urlencoded::from_str(request.query_string()).ok()?;
    let (name, _) = pairs.into_iter().next()?;
    let detail = "Unknown parameter. This address takes no parameters.";
    Some(clinic::Error::field(format!("?{}", name.replace('\0', "")), detail).into())
}

/// Refuses a body where none is read: to ignore it would look like accepting it.
pub(crate) fn unwanted_body(request: &ServiceRequest) -> Option<Refusal> {
    let headers = request.headers();
    let none = match headers.get(header::CONTENT_LENGTH) {
        Some(length) => length.as_bytes() == b"0",
        None => !headers.contains_key(header::TRANSFER_ENCODING),
    };
    if none || accepts(request)?.body {
        return None;
    }
    Some(clinic::Error::field("", "This request takes no body. Omit the body.").into())
}

/// An ID in the address. Answers 404 for anything but an ID.
pub(crate) struct Path<T>(pub(crate) T);

impl<T: DeserializeOwned + 'static> FromRequest for Path<T> {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let path = T::deserialize(actix_router::PathDeserializer::new(request.match_info()));
        ready(path.map(Self).map_err(|_| Refusal::NotAnId))
    }
}

/// The version in `If-Match`. Required on every change of a record that several users may change.
pub(crate) struct IfMatch(pub(crate) i64);

impl FromRequest for IfMatch {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(if_match(request.headers()).map(Self))
    }
}

fn if_match(headers: &HeaderMap) -> Result<i64, Refusal> {
    let value = headers.get(header::IF_MATCH).ok_or(Refusal::PreconditionRequired)?;
    let version = value
        .to_str()
        .ok()
        .and_then(|text| text.trim().strip_prefix('"')?.strip_suffix('"'))
        .and_then(|inside| coding::uncoded(inside).strip_prefix('v')?.parse::<i64>().ok());
    // A tag that this service did not issue matches no current version.
    version.ok_or_else(|| clinic::Error::PreconditionFailed.into())
}
