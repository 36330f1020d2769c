//! Responses: JSON with a strong `ETag`, conditional reads, `Location` of created resources, `Link` to the next page.
//! Called only after the clinic has verified the caller, so `304 Not Modified` never precedes that check.

use actix_web::body::MessageBody;
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderMap};
use actix_web::{HttpRequest, HttpResponse, web};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use clinic::Versioned;
use clinic::{Ready, ReadyPage, ReleasedRecipe};
use serde::Serialize;
use sha2::{Digest, Sha256};
use wire::page::Page;

use crate::coding;
use crate::problem::Refusal;

/// What a handler answers.
pub(crate) type Answer = Result<HttpResponse, Refusal>;

fn text(value: &impl Serialize) -> Result<String, Refusal> {
    serde_json::to_string(value).map_err(|error| clinic::Error::from(error).into())
}

/// The tag in `If-None-Match` that names what is served now, as it was sent; compared weakly (RFC 9110, section 13.1.2),
/// whatever coding it names.
fn matching<'h>(headers: &'h HeaderMap, tag: &'h str) -> Option<&'h str> {
    let sent = headers.get(header::IF_NONE_MATCH)?.to_str().ok()?;
    sent.split(',').find_map(|one| {
        let one = one.trim();
        let one = one.strip_prefix("W/").unwrap_or(one);
        if one == "*" {
            return Some(tag);
        }
        let inside = one.strip_prefix('"')?.strip_suffix('"')?;
        (tag.strip_prefix('"')?.strip_suffix('"')? == coding::uncoded(inside)).then_some(one)
    })
}

/// `304 Not Modified`, with the tag that the caller sent, if it names what is served now.
pub(crate) fn not_modified(request: &HttpRequest, tag: &str) -> Option<HttpResponse> {
    let tag = matching(request.headers(), tag)?;
    Some(HttpResponse::NotModified().insert_header((header::ETAG, tag)).finish())
}

fn json(status: StatusCode, tag: Option<&str>, body: String) -> HttpResponse {
    let mut response = HttpResponse::build(status);
    response.content_type("application/json");
    if let Some(tag) = tag {
        response.insert_header((header::ETAG, tag));
    }
    response.body(body)
}

/// The tag of a body: its digest.
pub(crate) fn digest_tag(body: impl AsRef<[u8]>) -> String {
    format!("\"{}\"", URL_SAFE_NO_PAD.encode(Sha256::digest(body)))
}

/// A resource. Its tag is the digest of the body.
pub(crate) fn read(request: &HttpRequest, value: &impl Serialize) -> Answer {
    let body = text(value)?;
    let tag = digest_tag(&body);
    Ok(conditional(request, &tag, body))
}

/// As [`read`], for what may have some megabytes: it is written off the executor, which serves others meanwhile.
pub(crate) async fn read_large(request: &HttpRequest, value: impl Serialize + Send + 'static) -> Answer {
    let written = web::block(move || {
        let body = serde_json::to_string(&value)?;
        Ok((digest_tag(&body), body))
    });
    let written: Result<_, serde_json::Error> =
        written.await.map_err(|error| clinic::Error::internal(error.to_string()))?;
    let (tag, body) = written.map_err(clinic::Error::from)?;
    Ok(conditional(request, &tag, body))
}

fn conditional(request: &HttpRequest, tag: &str, body: String) -> HttpResponse {
    not_modified(request, tag).unwrap_or_else(|| json(StatusCode::OK, Some(tag), body))
}

/// Released bytes. Their tag is known without serialising them.
pub(crate) fn released(request: &HttpRequest, released: &ReleasedRecipe) -> Answer {
    tagged(request, released.tag(), released)
}

/// An open answer that was rendered before.
pub(crate) fn ready(request: &HttpRequest, ready: &Ready) -> Answer {
    tagged(request, ready.tag(), ready)
}

fn tagged(request: &HttpRequest, tag: &[u8; 32], value: &impl Serialize) -> Answer {
    let tag = format!("\"{}\"", URL_SAFE_NO_PAD.encode(tag));
    if let Some(response) = not_modified(request, &tag) {
        return Ok(response);
    }
    Ok(json(StatusCode::OK, Some(&tag), text(value)?))
}

fn version_tag(version: i64) -> String {
    format!("\"v{version}\"")
}

/// A resource that can change. Its tag names the version that a change must send in `If-Match`.
pub(crate) fn versioned(request: &HttpRequest, found: &Versioned<impl Serialize>) -> Answer {
    Ok(conditional(request, &version_tag(found.version), text(&found.value)?))
}

/// A resource after a change.
pub(crate) fn changed(found: &Versioned<impl Serialize>) -> Answer {
    Ok(json(StatusCode::OK, Some(&version_tag(found.version)), text(&found.value)?))
}

/// A result that is not saved. It has no tag, because it has no address to read it from.
pub(crate) fn worked_out(value: &impl Serialize) -> Answer {
    Ok(json(StatusCode::OK, None, text(value)?))
}

/// A new resource, with its address in `Location`.
pub(crate) fn created(location: &str, value: &impl Serialize) -> Answer {
    let mut response = HttpResponse::Created();
    response.insert_header((header::LOCATION, location)).content_type("application/json");
    Ok(response.body(text(value)?))
}

/// As [`created`], with the version of the new resource.
pub(crate) fn created_version(location: &str, found: &Versioned<impl Serialize>) -> Answer {
    let mut response = HttpResponse::Created();
    response
        .insert_header((header::LOCATION, location))
        .insert_header((header::ETAG, version_tag(found.version)))
        .content_type("application/json");
    Ok(response.body(text(&found.value)?))
}

/// A CSV file, with a name to save it under.
pub(crate) fn table(name: &str, csv: String) -> HttpResponse {
    file("text/csv; charset=utf-8; header=present", name, csv)
}

/// A line of JSON for each item, with a name to save the file under.
pub(crate) fn lines(name: &str, lines: String) -> HttpResponse {
    file("application/x-ndjson; charset=utf-8", name, lines)
}

/// An archive of files, with a name to save it under.
pub(crate) fn archive(name: &str, bytes: Vec<u8>) -> HttpResponse {
    file("application/zip", name, bytes)
}

/// A document on paper, with a name to save it under. A browser shows it.
pub(crate) fn pdf(name: &str, bytes: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("application/pdf")
        .insert_header((header::CONTENT_DISPOSITION, format!("inline; filename=\"{name}\"")))
        .body(bytes)
}

/// An image.
pub(crate) fn png(bytes: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok().content_type("image/png").body(bytes)
}

/// A photograph. Nobody keeps it, and a browser that opens it shows a picture and nothing else.
pub(crate) fn jpeg(name: &str, bytes: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("image/jpeg")
        .insert_header((header::CONTENT_DISPOSITION, format!("inline; filename=\"{name}\"")))
        .body(bytes)
}

fn file(kind: &str, name: &str, body: impl MessageBody + 'static) -> HttpResponse {
    HttpResponse::Ok()
        .content_type(kind)
        .insert_header((header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .body(body)
}

/// Success without a body.
pub(crate) fn done() -> Answer {
    Ok(HttpResponse::NoContent().finish())
}

/// A page of a list, with the next page's address in `Link` (RFC 8288).
pub(crate) fn page<T: Serialize>(request: &HttpRequest, page: &Page<T>) -> Answer {
    Ok(linked(request, read(request, page)?, page.next.as_deref()))
}

/// As [`page`], of a page that was rendered before.
pub(crate) fn ready_page(request: &HttpRequest, page: &ReadyPage) -> Answer {
    Ok(linked(request, ready(request, &page.ready)?, page.next.as_deref()))
}

fn linked(request: &HttpRequest, mut response: HttpResponse, next: Option<&str>) -> HttpResponse {
    if let Some(next) = next {
        let kept: Vec<(String, String)> =
            serde_urlencoded::from_str(request.query_string()).unwrap_or_default();
        let pairs: Vec<(&str, &str)> = kept
            .iter()
            .filter(|(name, _)| name != "after")
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .chain(std::iter::once(("after", next)))
            .collect();
        let query = serde_urlencoded::to_string(pairs).unwrap_or_default();
        let link = format!("<{}?{query}>; rel=\"next\"", request.path());
        if let Ok(link) = header::HeaderValue::from_str(&link) {
            response.headers_mut().insert(header::LINK, link);
        }
    }
    response
}
