//! The body of a request that brings a photograph: bytes of a picture, larger than any other body, and so with bounds of its
//! own. It is read once the right of its caller is proved, and there is a place for it.

use std::future::{Ready, ready};
use std::time::Duration;

use actix_web::dev::Payload;
use actix_web::http::header::{self, HeaderMap};
use actix_web::web::{BytesMut, Data};
use actix_web::{FromRequest, HttpRequest};
use clinic::photographs::LARGEST;
use clinic::{Clinic, IdempotencyKey};
use futures_util::StreamExt;
use sha2::{Digest, Sha256};

use crate::body::{BODY_TIME, key, route};
use crate::problem::Refusal;
use crate::state::ApiState;

/// How much longer than any other body a photograph may take: ten times as large, over the link of a phone. Sixty seconds
/// where ten are usual, so that 10 MB arrive at 1.4 Mbit/s.
const PATIENCE: u32 = 6;

/// In bytes. So much of what is too large is taken and thrown away, so that its sender reads the answer; then the connection ends.
const THROWN_AWAY: usize = 4 * LARGEST;

/// A photograph that has not been read yet.
pub(crate) struct Picture {
    headers: HeaderMap,
    key: Result<String, Refusal>,
    route: String,
    query: String,
    limit: Duration,
    payload: Payload,
}

/// A photograph that was read.
pub(crate) struct Brought {
    pub(crate) once: IdempotencyKey,
    pub(crate) bytes: Vec<u8>,
    pub(crate) place: clinic::photographs::Admitted,
}

impl FromRequest for Picture {
    type Error = Refusal;
    type Future = Ready<Result<Self, Refusal>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let usual = request.app_data::<Data<ApiState>>().map_or(BODY_TIME, |state| state.body_time);
        ready(Ok(Self {
            headers: request.headers().clone(),
            key: key(request),
            route: route(request),
            query: request.query_string().to_owned(),
            limit: usual.saturating_mul(PATIENCE),
            payload: payload.take(),
        }))
    }
}

impl Picture {
    /// Reads it, in bounded time and memory.
    ///
    /// # Errors
    /// Returns a refusal for a missing key, another media type, a content coding, and for what is too large or too slow.
    pub(crate) async fn read(self, clinic: &Clinic) -> Result<Brought, Refusal> {
        let Self { headers, key, route, query, limit, payload } = self;
        let key = key?;
        let text = |name| headers.get(name).and_then(|value| value.to_str().ok()).map(str::trim);
        let media = text(header::CONTENT_TYPE).and_then(|value| value.split(';').next()).unwrap_or_default();
        let is_picture = ["image/jpeg", "image/png", "image/webp"]
            .iter()
            .any(|one| media.trim().eq_ignore_ascii_case(one));
        // A coding could make gigabytes of a few kilobytes.
        let plain =
            text(header::CONTENT_ENCODING).is_none_or(|coding| coding.eq_ignore_ascii_case("identity"));
        if !is_picture || !plain {
            return Err(Refusal::MediaType);
        }
        let place = clinic::photographs::admit(clinic)?;
        let read = actix_web::rt::time::timeout(limit, collect(payload));
        let bytes = read.await.map_err(|_| Refusal::TooSlow(limit))??;
        let mut digest = Sha256::new();
        digest.update(query.as_bytes());
        digest.update([0]);
        digest.update(&bytes);
        let once = IdempotencyKey { key, route, digest: digest.finalize().into() };
        Ok(Brought { once, bytes, place })
    }
}

/// The whole body, if it is not too large.
async fn collect(mut payload: Payload) -> Result<Vec<u8>, Refusal> {
    let (mut bytes, mut length) = (BytesMut::new(), 0_usize);
    while let Some(chunk) = payload.next().await {
        let chunk = chunk.map_err(|_| Refusal::Malformed("The body is incomplete.".into()))?;
        length = length.saturating_add(chunk.len());
        if length > THROWN_AWAY {
            return Err(Refusal::TooLarge);
        }
        if length > LARGEST {
            bytes = BytesMut::new();
        } else {
            bytes.extend_from_slice(&chunk);
        }
    }
    if length > LARGEST { Err(Refusal::TooLarge) } else { Ok(bytes.to_vec()) }
}
