//! What is around every page: forms are read before anything else, nothing is done for another site, and whatever goes
//! wrong becomes a page.

use std::collections::HashSet;
use std::sync::LazyLock;
use std::time::Duration;

use actix_web::body::{BoxBody, EitherBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use actix_web::middleware::Next;
use actix_web::web::{Bytes, Data};
use actix_web::{HttpMessage, HttpRequest, HttpResponse, ResponseError, rt};
use clinic::security::{self, Who};
use wire::security::SecurityEventKind;

use crate::config::listed;
use crate::form::Form;
use crate::routes::{entry, photographs, problems};
use crate::state::Pages;
use crate::trouble::Trouble;
use crate::upload;
use crate::visitor::{self, Visitor};

/// In bytes.
const LARGEST_FORM: usize = 1024 * 1024;

/// How long a form may take to arrive in full.
const FORM_TIME: Duration = Duration::from_secs(10);

/// Scripts, styles, fonts and pictures of our own, and nothing inline.
pub(crate) const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; \
    img-src 'self'; connect-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// A picture that is opened by itself. The browser's own page around it fits it to the window by inline styles; there is no
/// markup of ours or of anybody else in it, and in a sandbox it can do nothing.
const PICTURE_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox";

/// The cameras and lines that a page may ask for: only what the bench uses.
const PERMISSIONS: &str = "camera=(), microphone=(), geolocation=(), payment=(), usb=(), serial=(self), \
    screen-wake-lock=(self)";

static SEC_FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");
static PERMISSIONS_POLICY: HeaderName = HeaderName::from_static("permissions-policy");

/// Reads the form, refuses what comes from elsewhere, and makes a page of what went wrong.
///
/// # Errors
/// Returns the errors of the inner services.
pub async fn around(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<EitherBody<BoxBody, impl MessageBody>>, actix_web::Error> {
    // What is no page of ours is refused by whoever answers unknown addresses.
    let ours = is_page(request.request());
    // A form with a file is read by its page, which proves the right first.
    let later = ours && takes_file(request.request()) && upload::in_parts(request.headers());
    if ours && request.method() != Method::GET {
        let read = match came_from_here(request.headers()) {
            true if later => Ok(None),
            true => read(&mut request).await.map(Some),
            false => Err(Trouble::CrossSite),
        };
        match read {
            Ok(None) => {}
            Ok(Some(form)) => {
                request.extensions_mut().insert(form);
            }
            Err(trouble) => {
                let response = request.into_response(trouble.error_response());
                let (request, _) = response.into_parts();
                let page = page_of(&request, &trouble).await;
                return Ok(ServiceResponse::new(request, dressed(page)).map_into_left_body());
            }
        }
    }
    let response = next.call(request).await?;
    let (request, response) = response.into_parts();
    let page = match response.error().and_then(|error| error.as_error::<Trouble>()) {
        None => None,
        Some(trouble) => Some(page_of(&request, trouble).await),
    };
    Ok(match page {
        Some(page) => ServiceResponse::new(request, dressed(page)).map_into_left_body(),
        None if ours => ServiceResponse::new(request, dressed(response)).map_into_right_body(),
        None => ServiceResponse::new(request, response).map_into_right_body(),
    })
}

/// The pattern of every page.
static PAGES: LazyLock<HashSet<&'static str>> =
    LazyLock::new(|| listed().into_iter().map(|page| page.pattern).collect());

fn is_page(request: &HttpRequest) -> bool {
    routing::pattern(request).is_some_and(|pattern| PAGES.contains(pattern))
}

/// Whether a page takes a form with a file.
fn takes_file(request: &HttpRequest) -> bool {
    routing::pattern(request) == Some(photographs::ADDRESS)
}

/// Adds the headers that every page has.
fn dressed<B>(mut response: HttpResponse<B>) -> HttpResponse<B> {
    let headers = response.headers_mut();
    let is_picture = headers.get(header::CONTENT_TYPE).is_some_and(|kind| kind == "image/jpeg");
    let policy = if is_picture { PICTURE_POLICY } else { POLICY };
    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
    headers.insert(PERMISSIONS_POLICY.clone(), HeaderValue::from_static(PERMISSIONS));
    // A form tells its origin to the address that it is sent to; a link tells nothing to anybody.
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("same-origin"));
    response
}

/// Whether a request that may change something was made by a page of ours. Browsers say so in `Sec-Fetch-Site`, older
/// ones in `Origin`; what says neither is refused.
fn came_from_here(headers: &HeaderMap) -> bool {
    let text = |name: &HeaderName| headers.get(name).and_then(|value| value.to_str().ok());
    if let Some(site) = text(&SEC_FETCH_SITE) {
        return site == "same-origin";
    }
    let (Some(origin), Some(host)) = (text(&header::ORIGIN), text(&header::HOST)) else { return false };
    origin.split_once("://").is_some_and(|(_, from)| from.eq_ignore_ascii_case(host))
}

async fn read(request: &mut ServiceRequest) -> Result<Form, Trouble> {
    let kind =
        request.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    if !kind.starts_with("application/x-www-form-urlencoded") {
        return Err(Trouble::Malformed);
    }
    let payload = request.take_payload();
    let body = actix_web::body::to_bytes_limited(actix_web::body::BodyStream::new(payload), LARGEST_FORM);
    let bytes: Bytes = rt::time::timeout(FORM_TIME, body)
        .await
        .map_err(|_| Trouble::TooSlow)?
        .map_err(|_| Trouble::TooLarge)?
        .map_err(|_| Trouble::Malformed)?;
    Form::parse(&bytes).ok_or(Trouble::Malformed)
}

/// The page that says what went wrong, to whoever is looking.
async fn page_of(request: &HttpRequest, trouble: &Trouble) -> HttpResponse {
    let Some(pages) = request.app_data::<Data<Pages>>().cloned() else { return trouble.error_response() };
    let signed_out =
        matches!(trouble, Trouble::SignedOut | Trouble::Clinic(clinic::Error::Unauthenticated(_)));
    if signed_out {
        visitor::forget(request, &pages);
        return entry::instead_of(request, &pages).await;
    }
    let visitor = request.extensions().get::<Visitor>().cloned();
    note(request, &pages, visitor.as_ref(), trouble);
    problems::instead_of(&pages, visitor.as_ref(), request, trouble)
}

/// What says that somebody tried what is not theirs goes among the security events.
fn note(request: &HttpRequest, pages: &Pages, visitor: Option<&Visitor>, trouble: &Trouble) {
    let kind = match trouble {
        Trouble::Clinic(clinic::Error::Forbidden(_)) | Trouble::CrossSite => SecurityEventKind::Forbidden,
        Trouble::Clinic(clinic::Error::RateLimited { .. }) => SecurityEventKind::RequestsLimited,
        _ => return,
    };
    let who = visitor.map_or(Who::Nobody, |visitor| Who::Principal(visitor.person().id.0));
    let operation = routing::pattern(request).map(|pattern| format!("{} {pattern}", request.method()));
    security::note(&pages.clinic, kind, who, &visitor::origin(request, pages), operation);
}

/// Whether whoever asks for an unknown address is best answered with a page.
#[must_use]
pub fn wants_page(request: &HttpRequest) -> bool {
    let accepts =
        request.headers().get(header::ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    !request.path().starts_with("/v1/") && accepts.contains("text/html")
}

/// The page for an unknown address. To be answered inside [`around`].
///
/// # Errors
/// Always: that is its answer.
pub async fn no_page(request: HttpRequest) -> Result<HttpResponse, actix_web::Error> {
    // Whoever is signed in keeps their places on the page.
    <Visitor as actix_web::FromRequest>::extract(&request).await.ok();
    Err(Trouble::NoPage.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs
            .iter()
            .map(|(name, value)| (HeaderName::from_static(name), HeaderValue::from_static(value)))
            .collect()
    }

    #[test]
    fn a_form_of_another_site_is_refused() {
        let host = ("host", "clinic.example");
        assert!(came_from_here(&headers(&[host, ("sec-fetch-site", "same-origin")])));
        assert!(came_from_here(&headers(&[host, ("origin", "https://clinic.example")])));
        for foreign in [
            &[host, ("sec-fetch-site", "cross-site"), ("origin", "https://clinic.example")][..],
            &[host, ("sec-fetch-site", "same-site")],
            &[host, ("sec-fetch-site", "none")],
            &[host, ("origin", "https://elsewhere.example")],
            &[host, ("origin", "null")],
            &[host],
        ] {
            assert!(!came_from_here(&headers(foreign)), "{foreign:?}");
        }
    }
}
