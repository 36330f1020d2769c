//! One's own account: sessions, password, and how pages behave.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use clinic::{marking, people};
use wire::page::PageQuery;
use wire::people::{PasswordChange, Role, Session};

use crate::answer::{page, to};
use crate::cookies;
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::entry::wait;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::{self, Visitor};

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/account", account);
    mount.post("/account/password", password);
    mount.post("/account/sessions", session_end);
    mount.post("/account/measures", measures);
}

#[derive(Template)]
#[template(path = "account.html")]
struct AccountPage {
    frame: Frame,
    name: String,
    sign_in_name: String,
    sessions: Vec<Session>,
    measures_first: bool,
    /// Whether the person keeps phrases.
    instructor: bool,
    /// The students to whom a relation was declared. Nobody else sees them.
    relations: Vec<String>,
    /// What was refused of a new password.
    current_cure: String,
    new_cure: String,
    /// What was done just now.
    done: String,
}

impl AccountPage {
    const fn alone(&self) -> bool {
        self.sessions.len() < 2
    }
}

async fn show(
    visitor: &Visitor,
    status: StatusCode,
    cures: (String, String),
    done: String,
) -> Result<HttpResponse, Trouble> {
    let sessions = people::sessions(visitor.clinic(), visitor.credentials()).await?;
    let person = visitor.person();
    let (name, sign_in_name) = (person.name.clone(), person.sign_in_name.clone());
    let (current_cure, new_cure) = cures;
    let frame = visitor.frame(t("account-title")).with("forms.js");
    let measures_first = visitor.measures_first();
    let mut relations = Vec::new();
    if visitor.role() == Role::Instructor {
        let all = PageQuery { limit: Some(100), after: None };
        let found = marking::relations(visitor.clinic(), visitor.credentials(), &all).await?;
        relations = found.items.into_iter().filter_map(|one| one.student_name).collect();
    }
    let page_of = AccountPage {
        frame,
        name,
        sign_in_name,
        sessions,
        measures_first,
        instructor: visitor.role() == Role::Instructor,
        relations,
        current_cure,
        new_cure,
        done,
    };
    page(status, &page_of)
}

async fn account(request: HttpRequest, visitor: Visitor) -> Result<HttpResponse, Trouble> {
    let done = match request.query_string() {
        "done=password" => t("account-password-done"),
        "done=measures" => t("account-measures-done"),
        "done=session" => t("account-session-done"),
        _ => String::new(),
    };
    show(&visitor, StatusCode::OK, Default::default(), done).await
}

async fn password(request: HttpRequest, visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let change =
        PasswordChange { current: form.exact("current").to_owned(), new: form.exact("new").to_owned() };
    let origin = visitor::origin(&request, visitor.pages());
    match people::password_change(visitor.clinic(), visitor.credentials(), change, &origin).await {
        Ok(()) => Ok(to("/account?done=password")),
        Err(clinic::Error::Invalid(errors)) => {
            let cure = |field: &str| {
                errors
                    .iter()
                    .filter(|error| error.pointer == field)
                    .map(|error| error.detail.clone())
                    .collect::<String>()
            };
            show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, (cure("/current"), cure("/new")), String::new())
                .await
        }
        Err(clinic::Error::RateLimited { retry_after }) => {
            show(&visitor, StatusCode::TOO_MANY_REQUESTS, (wait(retry_after), String::new()), String::new())
                .await
        }
        Err(other) => Err(other.into()),
    }
}

/// Which of grams and household measures stands first: a choice of the device, which tells nothing about anybody.
async fn measures(_: Visitor, form: Form) -> HttpResponse {
    let mut response = to("/account?done=measures");
    cookies::with_measures(form.text("measures") == "first").set(&mut response);
    response
}

async fn session_end(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let id = form.text("session").parse().map_err(|_| Trouble::NoPage)?;
    match people::session_end(visitor.clinic(), visitor.credentials(), Some(id)).await {
        // It had ended already, perhaps by the first of two taps.
        Ok(()) | Err(clinic::Error::NotFound(_)) => Ok(to("/account?done=session")),
        Err(other) => Err(other.into()),
    }
}
