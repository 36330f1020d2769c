//! Getting in: signing in, the one-time code, and what was typed when a session had ended.

use actix_web::http::StatusCode;
use actix_web::web::{Data, Query};
use actix_web::{HttpMessage, HttpRequest, HttpResponse};
use askama::Template;
use clinic::people::{self, former_page_visitor};
use serde::Deserialize;
use wire::people::{SignIn, UseCode};

use crate::answer::{page, to};
use crate::cookies;
use crate::form::{Form, ONCE};
use crate::frame::{Frame, home};
use crate::mount::Mount;
use crate::seal::{self, For};
use crate::state::Pages;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::{self, Visitor};

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/", first);
    mount.get("/sign-in", sign_in);
    mount.post("/sign-in", enter);
    mount.get("/code", code);
    mount.post("/code", code_use);
    mount.get("/forgotten", forgotten);
    mount.post("/sign-out", sign_out);
}

/// A field of the form that a template shows again.
#[derive(Default)]
struct Wrong {
    name: String,
    cure: String,
    wait: String,
    /// Said above the form, such as that somebody was signed out.
    said: String,
}

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    frame: Frame,
    wrong: Wrong,
    then: String,
    kept: String,
}

#[derive(Template)]
#[template(path = "code.html")]
struct CodePage {
    frame: Frame,
    code: String,
    code_cure: String,
    password_cure: String,
}

#[derive(Template)]
#[template(path = "forgotten.html")]
struct ForgottenPage {
    frame: Frame,
}

#[derive(Template)]
#[template(path = "kept.html")]
struct KeptPage {
    frame: Frame,
    action: String,
    fields: Vec<(String, String)>,
    shown: Vec<String>,
}

#[derive(Deserialize)]
struct Then {
    #[serde(default)]
    then: String,
}

fn anybody(pages: &Pages, title: String) -> Frame {
    Frame::anybody(title, pages.clinic.clock().now()).with("forms.js").with("signed-out.js")
}

/// An address of our own to go on at, and no other site's.
fn ours(address: &str) -> Option<&str> {
    let path =
        address.starts_with('/') && !address.starts_with("//") && !address.contains(['\\', '\n', '\r']);
    path.then_some(address)
}

/// `/` leads to what its reader does next.
async fn first(request: HttpRequest, pages: Data<Pages>) -> Result<HttpResponse, Trouble> {
    match <Visitor as actix_web::FromRequest>::extract(&request).await {
        Ok(visitor) => Ok(to(home(visitor.role()))),
        Err(Trouble::SignedOut) => sign_in_page(&pages, StatusCode::OK, Wrong::default(), "", ""),
        Err(other) => Err(other),
    }
}

async fn sign_in(pages: Data<Pages>, query: Query<Then>) -> Result<HttpResponse, Trouble> {
    sign_in_page(&pages, StatusCode::OK, Wrong::default(), &query.then, "")
}

fn sign_in_page(
    pages: &Pages,
    status: StatusCode,
    wrong: Wrong,
    then: &str,
    kept: &str,
) -> Result<HttpResponse, Trouble> {
    let frame = anybody(pages, t("sign-in-title"));
    let (then, kept) = (ours(then).unwrap_or_default().to_owned(), kept.to_owned());
    page(status, &SignInPage { frame, wrong, then, kept })
}

/// The sign-in page in the place of a page whose session has ended. What was typed travels in it, sealed, so that only the
/// same person gets it back.
pub(crate) async fn instead_of(request: &HttpRequest, pages: &Pages) -> HttpResponse {
    let secret = cookies::session(request);
    let form = request.extensions().get::<Form>().cloned();
    let asked = request.uri().path_and_query().map_or("", |path| path.as_str());
    let (mut then, mut kept) = (asked.to_owned(), String::new());
    if let Some(form) = form {
        then = String::new();
        kept = keep(pages, secret.as_deref(), request.path(), &form).await.unwrap_or_default();
    }
    let said = match (secret.is_some(), kept.is_empty()) {
        (true, false) => t("sign-in-kept"),
        (true, true) => t("sign-in-ended"),
        (false, _) => t("sign-in-first"),
    };
    let wrong = Wrong { said, ..Wrong::default() };
    let mut response = sign_in_page(pages, StatusCode::UNAUTHORIZED, wrong, &then, &kept)
        .unwrap_or_else(|trouble| actix_web::ResponseError::error_response(&trouble));
    if secret.is_some() {
        cookies::without_session().set(&mut response);
    }
    response
}

async fn keep(pages: &Pages, secret: Option<&str>, path: &str, form: &Form) -> Option<String> {
    // A password is typed again; it travels in no page.
    let secret_field = |(name, _): &(String, String)| ["password", "current", "new"].contains(&name.as_str());
    if form.fields().iter().any(secret_field) {
        return None;
    }
    let person = former_page_visitor(&pages.clinic, secret?).await.ok()??;
    let text = serde_json::to_string(&(path, form.fields())).ok()?;
    seal::seal(&pages.settings.secret, For::Form(person), pages.clinic.rng().bytes(), &text)
}

async fn enter(request: HttpRequest, pages: Data<Pages>, form: Form) -> Result<HttpResponse, Trouble> {
    let name = form.text("sign_in_name");
    let (then, kept) = (form.text("then"), form.exact("kept").to_owned());
    let asked = SignIn {
        sign_in_name: name.clone(),
        password: form.exact("password").to_owned(),
        device_token: None,
    };
    let origin = visitor::origin(&request, &pages);
    let entered = match people::sign_in_to_pages(&pages.clinic, asked, &origin).await {
        Ok(entered) => entered,
        Err(clinic::Error::Unauthenticated(_)) => {
            let wrong = Wrong { name, cure: t("sign-in-wrong"), ..Wrong::default() };
            return sign_in_page(&pages, StatusCode::UNPROCESSABLE_ENTITY, wrong, &then, &kept);
        }
        Err(clinic::Error::RateLimited { retry_after }) => {
            let wrong = Wrong { name, wait: wait(retry_after), ..Wrong::default() };
            return sign_in_page(&pages, StatusCode::TOO_MANY_REQUESTS, wrong, &then, &kept);
        }
        Err(other) => return Err(other.into()),
    };
    let person = entered.opened.person;
    let secret = &pages.settings.secret;
    let opened = seal::open(secret, For::Form(person.id), &kept)
        .and_then(|text| serde_json::from_str::<(String, Vec<(String, String)>)>(&text).ok());
    let mut response = match opened {
        Some((action, fields)) => kept_page(&pages, action, fields)?,
        None => to(ours(&then).unwrap_or_else(|| home(person.role))),
    };
    cookies::with_session(&entered.opened.secret).set(&mut response);
    cookies::with_device(&pages, entered.device).set(&mut response);
    Ok(response)
}

/// How long to wait, in words.
pub(crate) fn wait(seconds: u64) -> String {
    if seconds < 90 {
        t1("wait-seconds", i64::try_from(seconds).unwrap_or(90))
    } else {
        t1("wait-minutes", i64::try_from(seconds.div_ceil(60)).unwrap_or(15))
    }
}

/// What was typed when the session had ended, to be sent now.
fn kept_page(pages: &Pages, action: String, fields: Vec<(String, String)>) -> Result<HttpResponse, Trouble> {
    let frame = anybody(pages, t("kept-title"));
    // What the form holds besides what a person types: its keys, and which record and act it is about.
    let hidden = |name: &str| {
        name.starts_with(ONCE)
            || name.starts_with('_')
            || ["kind", "line", "step", "corrects", "version", "do"].contains(&name)
    };
    let shown = fields
        .iter()
        .filter(|(name, value)| !hidden(name) && !value.trim().is_empty())
        .map(|(_, value)| value.clone())
        .collect();
    page(StatusCode::OK, &KeptPage { frame, action, fields, shown })
}

async fn code(pages: Data<Pages>) -> Result<HttpResponse, Trouble> {
    let frame = anybody(&pages, t("code-title")).with("code.js");
    page(
        StatusCode::OK,
        &CodePage { frame, code: String::new(), code_cure: String::new(), password_cure: String::new() },
    )
}

async fn code_use(request: HttpRequest, pages: Data<Pages>, form: Form) -> Result<HttpResponse, Trouble> {
    let (code, password) = (form.text("code"), form.exact("password").to_owned());
    let origin = visitor::origin(&request, &pages);
    let used =
        people::code_use(&pages.clinic, UseCode { code: code.clone(), password: password.clone() }, &origin)
            .await;
    let (code_cure, password_cure, status) = match used {
        Ok(sign_in_name) => {
            let asked = SignIn { sign_in_name, password, device_token: None };
            let entered = people::sign_in_to_pages(&pages.clinic, asked, &origin).await?;
            let mut response = to(home(entered.opened.person.role));
            cookies::with_session(&entered.opened.secret).set(&mut response);
            cookies::with_device(&pages, entered.device).set(&mut response);
            return Ok(response);
        }
        Err(clinic::Error::Unauthenticated(_)) => {
            (t("code-unusable"), String::new(), StatusCode::UNPROCESSABLE_ENTITY)
        }
        Err(clinic::Error::RateLimited { retry_after }) => {
            (wait(retry_after), String::new(), StatusCode::TOO_MANY_REQUESTS)
        }
        Err(clinic::Error::Invalid(errors)) => {
            let cure = errors.into_iter().map(|error| error.detail).collect::<Vec<_>>().join(" ");
            (String::new(), cure, StatusCode::UNPROCESSABLE_ENTITY)
        }
        Err(other) => return Err(other.into()),
    };
    let frame = anybody(&pages, t("code-title"));
    page(status, &CodePage { frame, code, code_cure, password_cure })
}

async fn forgotten(pages: Data<Pages>) -> Result<HttpResponse, Trouble> {
    page(StatusCode::OK, &ForgottenPage { frame: anybody(&pages, t("forgotten-title")) })
}

async fn sign_out(request: HttpRequest, visitor: Visitor) -> Result<HttpResponse, Trouble> {
    match people::session_end(visitor.clinic(), visitor.credentials(), None).await {
        // It had ended already: that is what was wanted.
        Ok(()) | Err(clinic::Error::Unauthenticated(_) | clinic::Error::NotFound(_)) => {}
        Err(other) => return Err(other.into()),
    }
    visitor::forget(&request, visitor.pages());
    let mut response = to("/sign-in");
    cookies::without_session().set(&mut response);
    Ok(response)
}

#[cfg(test)]
mod tests {
    use super::ours;

    #[test]
    fn after_signing_in_nobody_is_sent_elsewhere() {
        assert_eq!(ours("/batches/1?x=2"), Some("/batches/1?x=2"));
        for elsewhere in
            ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "batches", ""]
        {
            assert_eq!(ours(elsewhere), None, "{elsewhere}");
        }
    }
}
