//! What a handler answers: a page, or the way to one.

use actix_web::HttpResponse;
use actix_web::body::MessageBody;
use actix_web::http::{StatusCode, header};

use crate::trouble::Trouble;

/// A page, not to be kept by any cache.
pub(crate) fn page(status: StatusCode, template: &impl askama::Template) -> Result<HttpResponse, Trouble> {
    let body = template.render()?;
    Ok(HttpResponse::build(status).content_type("text/html; charset=utf-8").body(body))
}

/// To another page, after an act: reloading that one repeats nothing.
pub(crate) fn to(address: &str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((header::LOCATION, address)).finish()
}

/// A file to save, which no cache keeps.
pub(crate) fn file(kind: &str, name: &str, body: impl MessageBody + 'static) -> HttpResponse {
    HttpResponse::Ok()
        .content_type(kind)
        .insert_header((header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .body(body)
}

/// An answer for a script.
pub(crate) fn json(status: StatusCode, value: &serde_json::Value) -> HttpResponse {
    HttpResponse::build(status).content_type("application/json").body(value.to_string())
}
