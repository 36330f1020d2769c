//! What went wrong, for people and for whoever builds a tool.

use actix_web::http::StatusCode;
use actix_web::web::{Data, Path};
use actix_web::{HttpMessage, HttpRequest, HttpResponse, ResponseError};
use askama::Template;
use wire::kinds::{KINDS, Kind};

use crate::answer::page;
use crate::form::{Form, ONCE};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::entry::wait;
use crate::state::Pages;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/problems", list);
    mount.get("/problems/{slug}", of_kind);
}

/// A kind of problem as people read about it.
struct Told {
    slug: &'static str,
    status: u16,
    title: String,
    happened: String,
    cure: String,
    /// For whoever builds a tool: text and code in turn.
    for_tools: Vec<(bool, String)>,
}

impl Told {
    fn of(kind: &'static Kind) -> Self {
        let parts = kind.page.split('`').enumerate();
        Self {
            slug: kind.slug,
            status: kind.status,
            // word("problem")
            title: t(&format!("problem-{}-title", kind.slug)),
            happened: t(&format!("problem-{}-happened", kind.slug)),
            cure: t(&format!("problem-{}-cure", kind.slug)),
            for_tools: parts.map(|(i, part)| (i % 2 == 1, part.to_owned())).collect(),
        }
    }
}

#[derive(Template)]
#[template(path = "problem.html")]
struct ProblemPage {
    frame: Frame,
    told: Told,
    /// What is known of this very case; empty on the page about the kind.
    detail: String,
    /// The request, to be quoted; empty on the page about the kind.
    request: String,
    wait: String,
    /// What was typed, to be taken along.
    typed: Vec<String>,
    /// Where to go on.
    back: String,
}

#[derive(Template)]
#[template(path = "problems.html")]
struct ListPage {
    frame: Frame,
    kinds: Vec<Told>,
}

/// The frame of a page that is open to everybody.
pub(super) async fn frame(request: &HttpRequest, pages: &Pages, title: String) -> Frame {
    match <Visitor as actix_web::FromRequest>::extract(request).await {
        Ok(visitor) => visitor.frame(title),
        Err(_) => Frame::anybody(title, pages.clinic.clock().now()),
    }
}

async fn list(request: HttpRequest, pages: Data<Pages>) -> Result<HttpResponse, Trouble> {
    let frame = frame(&request, &pages, t("problems-title")).await;
    page(StatusCode::OK, &ListPage { frame, kinds: KINDS.iter().map(|kind| Told::of(kind)).collect() })
}

async fn of_kind(
    request: HttpRequest,
    pages: Data<Pages>,
    slug: Path<String>,
) -> Result<HttpResponse, Trouble> {
    let kind = KINDS.iter().find(|kind| kind.slug == slug.as_str()).ok_or(Trouble::NoPage)?;
    let told = Told::of(kind);
    let frame = frame(&request, &pages, told.title.clone()).await;
    let (detail, request, wait, back) = Default::default();
    page(StatusCode::OK, &ProblemPage { frame, told, detail, request, wait, typed: Vec::new(), back })
}

/// The page in the place of one that could not be shown, or after an act that was not done.
pub(crate) fn instead_of(
    pages: &Pages,
    visitor: Option<&Visitor>,
    request: &HttpRequest,
    trouble: &Trouble,
) -> HttpResponse {
    let told = Told::of(trouble.kind());
    let title = told.title.clone();
    let frame = match visitor {
        Some(visitor) => visitor.frame(title),
        None => Frame::anybody(title, pages.clinic.clock().now()),
    };
    let typed = request.extensions().get::<Form>().map(typed).unwrap_or_default();
    let back = if typed.is_empty() { String::new() } else { form_of(request) };
    let of_case = ProblemPage {
        frame,
        detail: trouble.detail().unwrap_or_default(),
        request: (pages.settings.request_id)(),
        wait: trouble.retry_after().map(wait).unwrap_or_default(),
        typed,
        back,
        told,
    };
    let bare = trouble.error_response();
    let mut response = page(trouble.status_code(), &of_case).unwrap_or_else(|error| error.error_response());
    for (name, value) in bare.headers() {
        response.headers_mut().insert(name.clone(), value.clone());
    }
    response
}

/// What a person typed; keys, ids and passwords are nothing that was typed to be kept.
fn typed(form: &Form) -> Vec<String> {
    let fields = form.fields().iter();
    fields
        .filter(|(name, value)| {
            name != ONCE
                && !name.starts_with('_')
                && !["password", "current", "new", "kept"].contains(&name.as_str())
                && value.trim().chars().count() > 1
        })
        .map(|(_, value)| value.clone())
        .collect()
}

/// The page that a form stands on, as the browser says.
fn form_of(request: &HttpRequest) -> String {
    let referer = request.headers().get("referer").and_then(|value| value.to_str().ok()).unwrap_or_default();
    let host = request.headers().get("host").and_then(|value| value.to_str().ok()).unwrap_or_default();
    let Some((_, rest)) = referer.split_once("://") else { return String::new() };
    match rest.strip_prefix(host) {
        Some(path) if path.starts_with('/') => path.to_owned(),
        _ => String::new(),
    }
}
