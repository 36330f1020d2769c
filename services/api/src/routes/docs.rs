//! Problem pages, published keys and health.

use crate::mount::Mount;
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse, get};
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer::{self, Answer};
use crate::kinds::KINDS;
use crate::problem::Refusal;
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    config
        .service(welcome)
        .service(health_live)
        .service(health_ready)
        .service(published_keys)
        .service(page_style)
        .service(problem_list)
        .service(problem_page);
}

/// Start page
///
/// Redirects to the documentation.
#[utoipa::path(tag = "service", responses((status = 303, description = "To the documentation")), security(()))]
#[get("/")]
async fn welcome() -> HttpResponse {
    HttpResponse::SeeOther().insert_header((header::LOCATION, "/docs/")).finish()
}

/// The health of the service.
#[derive(Serialize, ToSchema)]
struct Health {
    /// `ok`.
    #[schema(example = "ok")]
    status: &'static str,
}

/// Check that the process runs
#[utoipa::path(tag = "service", responses((status = 200, body = Health)), security(()))]
#[get("/health/live")]
async fn health_live(request: HttpRequest) -> Answer {
    answer::read(&request, &Health { status: "ok" })
}

/// Check that the service can answer
///
/// Answers 503 while the database is unavailable.
#[utoipa::path(tag = "service", responses((status = 200, body = Health)), security(()))]
#[get("/health/ready")]
async fn health_ready(request: HttpRequest, state: Data<ApiState>) -> Answer {
    state.clinic.ready().await?;
    answer::read(&request, &Health { status: "ok" })
}

/// Read the public keys of access tokens (RFC 7517)
#[utoipa::path(tag = "service", responses((status = 200, body = serde_json::Value)), security(()))]
#[get("/.well-known/jwks.json")]
async fn published_keys(request: HttpRequest, state: Data<ApiState>) -> Answer {
    answer::read(&request, &serde_json::json!({ "keys": state.tokens.published() }))
}

const POLICY: &str = "default-src 'none'; style-src 'self'; base-uri 'none'; frame-ancestors 'none'";

fn html(title: &str, body: &str) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/html; charset=utf-8")
        .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
        .body(format!(
            "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><meta name=\"viewport\" \
             content=\"width=device-width, initial-scale=1\"><title>{title}</title>\
             <link rel=\"stylesheet\" href=\"/page.css\"><main><h1>{title}</h1>{body}</main></html>"
        ))
}

/// Style of the problem pages
#[utoipa::path(tag = "service", responses((status = 200, body = String, content_type = "text/css")), security(()))]
#[get("/page.css")]
async fn page_style() -> HttpResponse {
    HttpResponse::Ok().content_type("text/css; charset=utf-8").body(include_str!("page.css"))
}

/// Text with its `code` marked up. Only for texts of this crate, which hold nothing to escape.
fn marked(text: &str) -> String {
    text.split('`')
        .enumerate()
        .map(|(i, part)| if i % 2 == 1 { format!("<code>{part}</code>") } else { part.to_owned() })
        .collect()
}

/// List the kinds of problems
///
/// An HTML page.
#[utoipa::path(tag = "service", responses((status = 200, body = String, content_type = "text/html")), security(()))]
#[get("/problems")]
async fn problem_list() -> HttpResponse {
    let items: String = KINDS
        .iter()
        .map(|kind| {
            format!("<li><a href=\"/problems/{0}\">{1}</a> ({2})", kind.slug, kind.title, kind.status)
        })
        .collect();
    html("Problems", &format!("<ul>{items}</ul>"))
}

/// Read about a kind of problem
///
/// An HTML page. The `type` of a problem is its address.
#[utoipa::path(tag = "service", params(("slug" = String, Path, description = "The problem's name")),
    responses((status = 200, body = String, content_type = "text/html")), security(()))]
#[get("/problems/{slug}")]
async fn problem_page(slug: actix_web::web::Path<String>) -> Answer {
    let kind = KINDS.iter().find(|kind| kind.slug == slug.as_str()).ok_or(Refusal::NoRoute)?;
    let body = format!(
        "<p class=\"status\">HTTP status {}</p><p>{}</p><p><a href=\"/problems\">All problems</a> · \
         <a href=\"/docs/\">Documentation</a></p>",
        kind.status,
        marked(kind.page),
    );
    Ok(html(kind.title, &body))
}
