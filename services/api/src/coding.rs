//! Content codings of responses: gzip and brotli, as `Accept-Encoding` asks (RFC 9110, section 12.5.3).
//!
//! Whole bodies in memory, by our own code and not by actix-web's middleware: with that feature every request body would
//! be decompressed too, and a few kilobytes of brotli become gigabytes before any limit is applied. Never here: a coded
//! response that holds a secret beside text that its caller chose, since its length would tell about the secret.

use std::io::Write;

use actix_web::body::{BodySize, BoxBody, EitherBody, MessageBody};
use actix_web::dev::ServiceResponse;
use actix_web::http::header::{
    self, AcceptEncoding, Encoding, Header, HeaderMap, HeaderValue, Preference, Quality,
};
use actix_web::web::{self, Bytes};
use actix_web::{HttpMessage, HttpRequest, HttpResponse};

/// In bytes. Below this a coding saves less than the packet it travels in.
const SMALLEST: u64 = 1024;

/// In bytes. Above this a body is coded on a thread of its own, since the worker would keep others waiting.
const LARGEST_HERE: usize = 32 * 1024;

/// Addresses whose responses hold tokens, one-time codes, API keys or the codes of jars.
const SECRET: [&str; 11] = [
    "/v1/sessions",
    "/v1/one-time-codes",
    "/v1/invitations",
    "/v1/api-clients",
    "/v1/people/{id}/reset",
    "/v1/cohorts/{id}/codes",
    "/v1/cohorts/{id}/class",
    "/v1/enrolments",
    "/v1/jars",
    "/v1/sign-offs/{id}/credential",
    "/v1/batches/{id}/jars",
];

/// A content coding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Coding {
    Brotli,
    Gzip,
}

impl Coding {
    const ALL: [Self; 2] = [Self::Brotli, Self::Gzip];

    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Brotli => "br",
            Self::Gzip => "gzip",
        }
    }

    /// The coding that a request asks for; `None` if it asks for neither. Of two that it values alike, brotli.
    pub(crate) fn accepted(request: &impl HttpMessage) -> Option<Self> {
        if !request.headers().contains_key(header::ACCEPT_ENCODING) {
            return None;
        }
        let asked = AcceptEncoding::parse(request).ok()?;
        let quality =
            |coding: Self| asked.iter().find(|one| coding.is_named(&one.item)).map(|one| one.quality);
        let (brotli, gzip) = (quality(Self::Brotli), quality(Self::Gzip));
        let best = if brotli >= gzip { (Self::Brotli, brotli) } else { (Self::Gzip, gzip) };
        best.1.filter(|quality| *quality > Quality::ZERO).map(|_| best.0)
    }

    fn is_named(self, preference: &Preference<Encoding>) -> bool {
        let ours = match self {
            Self::Brotli => Encoding::brotli(),
            Self::Gzip => Encoding::gzip(),
        };
        preference.item().is_some_and(|named| *named == ours)
    }

    /// The coded bytes. The levels are those where more time saves little: brotli 4 and gzip 6.
    pub(crate) fn encode(self, plain: &[u8]) -> std::io::Result<Vec<u8>> {
        let out = Vec::with_capacity(plain.len() / 3);
        match self {
            Self::Brotli => {
                let mut writer = brotli::CompressorWriter::new(out, 4096, 4, 20);
                writer.write_all(plain)?;
                Ok(writer.into_inner())
            }
            Self::Gzip => {
                let mut writer = flate2::write::GzEncoder::new(out, flate2::Compression::new(6));
                writer.write_all(plain)?;
                writer.finish()
            }
        }
    }

    /// A coded body has bytes of its own, and so a tag of its own: `"v3"` becomes `"v3.gzip"`. The dot is in no tag of
    /// ours.
    fn tag(self, plain: &HeaderValue) -> Option<HeaderValue> {
        let opened = plain.to_str().ok()?.strip_suffix('"')?;
        HeaderValue::from_str(&format!("{opened}.{}\"", self.name())).ok()
    }

    /// Marks a response as coded, its tag included.
    pub(crate) fn mark(self, headers: &mut HeaderMap) {
        headers.insert(header::CONTENT_ENCODING, HeaderValue::from_static(self.name()));
        if let Some(tag) = headers.get(header::ETAG).and_then(|tag| self.tag(tag)) {
            headers.insert(header::ETAG, tag);
        }
    }
}

/// The inside of a tag without the coding that it names: `v3` of `v3.gzip`.
pub(crate) fn uncoded(tag: &str) -> &str {
    Coding::ALL.iter().find_map(|coding| tag.strip_suffix(coding.name())?.strip_suffix('.')).unwrap_or(tag)
}

/// Whether the responses of a route are never coded, since they hold secrets. `pattern` is the route's template.
#[must_use]
pub fn is_never_coded(pattern: &str) -> bool {
    SECRET.iter().any(|secret| pattern.starts_with(secret))
}

fn holds_secrets(request: &HttpRequest) -> bool {
    routing::pattern(request).is_some_and(is_never_coded)
}

/// Whether a response gains by a coding and may have one.
fn suits<B: MessageBody>(response: &ServiceResponse<B>) -> bool {
    let large = matches!(response.response().body().size(), BodySize::Sized(size) if size >= SMALLEST);
    let headers = response.headers();
    // A page with a secret on it says so itself.
    let as_it_is = headers
        .get(header::CACHE_CONTROL)
        .and_then(|value| value.to_str().ok())
        .is_some_and(|value| value.contains("no-transform"));
    if as_it_is {
        return false;
    }
    let text = headers.get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).is_some_and(|kind| {
        kind.starts_with("text/") || kind.starts_with("application/json") || kind.contains("+json")
    });
    large && text && !headers.contains_key(header::CONTENT_ENCODING) && !holds_secrets(response.request())
}

/// The response in this coding, or as it is where it does not suit.
pub(crate) async fn encode<B: MessageBody + 'static>(
    response: ServiceResponse<B>,
    coding: Coding,
) -> ServiceResponse<EitherBody<B>> {
    if !suits(&response) {
        return response.map_into_left_body();
    }
    let (request, response) = response.into_parts();
    let (response, body) = response.into_parts();
    match body.try_into_bytes() {
        Err(body) => ServiceResponse::new(request, response.set_body(body)).map_into_left_body(),
        Ok(plain) => {
            ServiceResponse::new(request, coded(response, plain, coding).await).map_into_right_body()
        }
    }
}

async fn coded(response: HttpResponse<()>, plain: Bytes, coding: Coding) -> HttpResponse<BoxBody> {
    let encoded = if plain.len() > LARGEST_HERE {
        let copy = plain.clone();
        web::block(move || coding.encode(&copy)).await.ok().and_then(Result::ok)
    } else {
        coding.encode(&plain).ok()
    };
    let mut response = response.set_body(BoxBody::new(plain));
    if let Some(encoded) = encoded {
        response = response.set_body(BoxBody::new(encoded));
        coding.mark(response.headers_mut());
    }
    response
}
