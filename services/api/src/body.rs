//! Request bodies: JSON of at most 1 MiB. Refuses unknown and positional fields; every error has a JSON pointer.

use std::future::Future;
use std::pin::Pin;
use std::time::Duration;

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest, web};
use clinic::IdempotencyKey;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use sha2::{Digest, Sha256};
use unicode_normalization::{IsNormalized, UnicodeNormalization, is_nfc_quick};

use crate::plain;
use crate::problem::Refusal;
use crate::state::ApiState;

/// In bytes.
pub(crate) const MAX_BODY_SIZE: usize = 1024 * 1024;

/// How long a body may take to arrive where no state says otherwise.
pub(crate) const BODY_TIME: Duration = Duration::from_secs(10);

/// The body of a request that may be repeated as it is.
pub(crate) struct Body<T>(pub(crate) T);

/// The body of a creating request, with the key that makes it repeatable.
pub(crate) struct Create<T> {
    pub(crate) once: IdempotencyKey,
    pub(crate) body: T,
}

/// A body whose texts are taken exactly as they were typed, since passwords are among them (ASVS 6.2.8).
pub(crate) struct AsTyped<T>(pub(crate) T);

/// The key of a creating request without a body.
pub(crate) struct Key(pub(crate) IdempotencyKey);

type Coming<T> = Pin<Box<dyn Future<Output = Result<T, Refusal>>>>;

impl<T: DeserializeOwned + Serialize + 'static> FromRequest for Body<T> {
    type Error = Refusal;
    type Future = Coming<Self>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let bytes = read(request, payload);
        Box::pin(async move { parse_composed(&bytes.await?).map(Self) })
    }
}

impl<T: DeserializeOwned + Serialize + 'static> FromRequest for AsTyped<T> {
    type Error = Refusal;
    type Future = Coming<Self>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let bytes = read(request, payload);
        Box::pin(async move { parse(&bytes.await?).map(Self) })
    }
}

impl<T: DeserializeOwned + Serialize + 'static> FromRequest for Create<T> {
    type Error = Refusal;
    type Future = Coming<Self>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let key = key(request);
        let route = route(request);
        let bytes = read(request, payload);
        Box::pin(async move {
            let key = key?;
            let bytes = bytes.await?;
            let once = IdempotencyKey { key, route, digest: Sha256::digest(&bytes).into() };
            Ok(Self { once, body: parse_composed(&bytes)? })
        })
    }
}

impl FromRequest for Key {
    type Error = Refusal;
    type Future = Coming<Self>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let key = key(request);
        let route = route(request);
        let bytes = collect(request, payload);
        Box::pin(async move {
            let bytes = bytes.await?.map_err(|_| Refusal::TooLarge)?;
            if !bytes.is_empty() {
                return Err(Refusal::Malformed("This request takes no body. Omit the body.".into()));
            }
            Ok(Self(IdempotencyKey { key: key?, route, digest: Sha256::digest(b"").into() }))
        })
    }
}

/// The whole body, if it arrives within the time that the settings allow from its first moment to its last byte.
fn collect(
    request: &HttpRequest,
    payload: &mut Payload,
) -> impl Future<Output = Result<Result<web::Bytes, actix_web::Error>, Refusal>> + use<> {
    let limit = request.app_data::<web::Data<ApiState>>().map_or(BODY_TIME, |state| state.body_time);
    let bytes = web::Bytes::from_request(request, payload);
    async move { actix_web::rt::time::timeout(limit, bytes).await.map_err(|_| Refusal::TooSlow(limit)) }
}

pub(crate) fn route(request: &HttpRequest) -> String {
    format!("{} {}", request.method(), request.path())
}

pub(crate) fn key(request: &HttpRequest) -> Result<String, Refusal> {
    let key = request.headers().get("idempotency-key").and_then(|value| value.to_str().ok());
    match key {
        Some(key) if (1..=255).contains(&key.len()) && key.bytes().all(|byte| byte.is_ascii_graphic()) => {
            Ok(key.to_owned())
        }
        _ => Err(Refusal::KeyMissing),
    }
}

fn read(
    request: &HttpRequest,
    payload: &mut Payload,
) -> impl Future<Output = Result<web::Bytes, Refusal>> + use<> {
    let json = request
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.split(';').next())
        .is_some_and(|media| media.trim().eq_ignore_ascii_case("application/json"));
    let length = request
        .headers()
        .get(header::CONTENT_LENGTH)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.parse::<usize>().ok());
    let bytes = collect(request, payload);
    async move {
        if length.is_some_and(|length| length > MAX_BODY_SIZE) {
            return Err(Refusal::TooLarge);
        }
        if !json {
            return Err(Refusal::MediaType);
        }
        bytes.await?.map_err(|error| match error.as_response_error().status_code().as_u16() {
            413 => Refusal::TooLarge,
            _ => Refusal::Malformed(
                "The body is incomplete, or its encoding is not the one in `Content-Encoding`.".into(),
            ),
        })
    }
}

/// As [`parse`], with every text in Unicode normalisation form C: one word is stored as one sequence of bytes, however it
/// was typed.
fn parse_composed<T: DeserializeOwned + Serialize>(bytes: &[u8]) -> Result<T, Refusal> {
    let read = parse(bytes)?;
    let text = std::str::from_utf8(bytes).unwrap_or_default();
    if text.is_ascii() && !text.contains("\\u") {
        return Ok(read);
    }
    let composed = |error| Refusal::from(clinic::Error::from(error));
    let mut value: Value = serde_json::from_str(text).map_err(composed)?;
    compose(&mut value);
    serde_json::from_value(value).map_err(composed)
}

fn compose(value: &mut Value) {
    match value {
        Value::String(text) => {
            if let IsNormalized::No | IsNormalized::Maybe = is_nfc_quick(text.chars()) {
                *text = text.nfc().collect();
            }
        }
        Value::Array(items) => items.iter_mut().for_each(compose),
        Value::Object(fields) => fields.values_mut().for_each(compose),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

fn parse<T: DeserializeOwned + Serialize>(bytes: &[u8]) -> Result<T, Refusal> {
    let text = std::str::from_utf8(bytes)
        .map_err(|_| Refusal::Malformed("The body is not UTF-8. Send JSON encoded as UTF-8.".into()))?;
    no_nul(text)?;
    let mut reader = serde_json::Deserializer::from_str(text);
    let value = serde_path_to_error::deserialize(&mut reader).map_err(|error| fault(text, &error))?;
    reader.end().map_err(|error| {
        Refusal::Malformed(format!(
            "Unexpected content follows the JSON value, {}. Send exactly one value.",
            place(&error)
        ))
    })?;
    no_positions(text, &value)?;
    Ok(value)
}

/// Refuses a list where an object belongs: serde would take its items for fields by position, and the order of fields
/// is no part of this API.
fn no_positions(text: &str, read: &impl Serialize) -> Result<(), Refusal> {
    if !text.contains('[') {
        return Ok(());
    }
    let value = |error| Refusal::from(clinic::Error::from(error));
    let (sent, read) =
        (serde_json::from_str(text).map_err(value)?, serde_json::to_value(read).map_err(value)?);
    match find_positions(&sent, &read, String::new()) {
        None => Ok(()),
        Some(pointer) => Err(clinic::Error::field(
            pointer,
            "An object is required here, not a list. Send each field by its name.",
        )
        .into()),
    }
}

fn find_positions(sent: &Value, read: &Value, at: String) -> Option<String> {
    match (sent, read) {
        (Value::Array(_), Value::Object(_)) => Some(at),
        (Value::Array(sent), Value::Array(read)) => sent
            .iter()
            .zip(read)
            .enumerate()
            .find_map(|(i, (sent, read))| find_positions(sent, read, format!("{at}/{i}"))),
        (Value::Object(sent), Value::Object(read)) => {
            sent.iter().find_map(|(key, sent)| find_positions(sent, read.get(key)?, format!("{at}/{key}")))
        }
        _ => None,
    }
}

/// Refuses U+0000, which Postgres cannot store.
fn no_nul(text: &str) -> Result<(), Refusal> {
    if !text.contains("\\u0000") {
        return Ok(());
    }
    let value: Value = serde_json::from_str(text)
        .map_err(|error| Refusal::Malformed(format!("The body is not JSON: {error}.")))?;
    match find_nul(&value, String::new()) {
        None => Ok(()),
        Some(pointer) => {
            Err(clinic::Error::field(pointer, "Text may not contain the character U+0000. Remove it.").into())
        }
    }
}

fn find_nul(value: &Value, at: String) -> Option<String> {
    use Value as V;
    match value {
        V::String(text) => text.contains('\0').then_some(at),
        V::Array(items) => items.iter().enumerate().find_map(|(i, item)| find_nul(item, format!("{at}/{i}"))),
        V::Object(fields) => fields.iter().find_map(|(key, item)| {
            if key.contains('\0') { Some(at.clone()) } else { find_nul(item, format!("{at}/{key}")) }
        }),
        V::Null | V::Bool(_) | V::Number(_) => None,
    }
}

fn fault(text: &str, error: &serde_path_to_error::Error<serde_json::Error>) -> Refusal {
    let inner = error.inner();
    if inner.is_eof() {
        return Refusal::Malformed(format!("The body is not JSON: it ends early, {}.", place(inner)));
    }
    // serde_json reports a number in the place of an enum's word as a syntax error, although the text is JSON.
    if inner.is_syntax() && serde_json::from_str::<Value>(text).is_err() {
        return Refusal::Malformed(format!("The body is not JSON: {inner}."));
    }
    let mut pointer = String::new();
    for segment in error.path() {
        use serde_path_to_error::Segment as S;
        match segment {
            S::Seq { index } => pointer.push_str(&format!("/{index}")),
            S::Map { key } | S::Enum { variant: key } => {
                pointer.push('/');
                pointer.push_str(&key.replace('~', "~0").replace('/', "~1"));
            }
            S::Unknown => {}
        }
    }
    let mut said = inner.to_string();
    // The pointer replaces the position, which is of no use to a program.
    if let Some(cut) = said.rfind(" at line ") {
        said.truncate(cut);
    }
    // The path of a missing or repeated field ends at its parent.
    if let Some(name) = plain::named(&said).filter(|_| !said.starts_with("unknown")) {
        pointer = format!("{pointer}/{name}");
    }
    let detail = plain::sentence(&said, &pointer);
    clinic::Error::field(pointer, detail).into()
}

fn place(error: &serde_json::Error) -> String {
    format!("at line {}, column {}", error.line(), error.column())
}

#[cfg(test)]
mod tests {
    use super::*;
    use wire::people::Invite;

    fn pointer(text: &str) -> String {
        match parse::<Invite>(text.as_bytes()).err().unwrap() {
            Refusal::Clinic(clinic::Error::Invalid(errors)) => errors[0].pointer.clone(),
            other => format!("{other:?}"),
        }
    }

    #[test]
    fn a_fault_stands_at_its_pointer() {
        assert_eq!(pointer(r#"{"sign_in_name":"a","name":"b","role":"king"}"#), "/role");
        assert_eq!(pointer(r#"{"sign_in_name":"a","name":"b"}"#), "/role");
        assert_eq!(pointer(r#"{"sign_in_name":"a","name":"b","role":"student","owner_id":1}"#), "/owner_id");
        assert_eq!(pointer(r#"{"sign_in_name":"a\u0000","name":"b","role":"student"}"#), "/sign_in_name");
    }

    #[test]
    fn fields_have_names_and_no_positions() {
        assert_eq!(pointer(r#"["tomasz.lipinski","Tomasz Lipinski","student"]"#), "");
        let content = |line: &str| {
            format!(
                r#"{{"content":{{"title":"a","preparation":"b","route":"c","regime":"food","method":[],
                    "phases":[{{"name":"d","lines":[{line}]}}]}}}}"#
            )
        };
        let parse = |line: &str| parse::<wire::recipe::Evaluate>(content(line).as_bytes());
        assert!(parse(r#"{"material":"olive oil","amount":"1 g"}"#).is_ok());
        match parse(r#"["olive oil",null,"1 g",null]"#).err().unwrap() {
            Refusal::Clinic(clinic::Error::Invalid(errors)) => {
                assert_eq!(errors[0].pointer, "/content/phases/0/lines/0");
            }
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn what_is_not_json_is_malformed() {
        for text in ["{", "", "{} {}", "[1,", "nonsense"] {
            assert!(
                matches!(parse::<serde_json::Value>(text.as_bytes()), Err(Refusal::Malformed(_))),
                "{text}"
            );
        }
        assert!(matches!(parse::<serde_json::Value>(b"\"\xff\""), Err(Refusal::Malformed(_))));
    }
}
