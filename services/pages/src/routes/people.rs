//! People: who is here, letting somebody in, and what an account may do.

use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::people::{self, ClassFault};
use serde::Deserialize;
use wire::ids::PersonId;
use wire::page::PageQuery;
use wire::people::{Invite, OneTimeCode, Person, PersonChange, PersonState, Role};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/people", list);
    mount.post("/people/invite", invite);
    mount.post("/people/invite-class", invite_class);
    mount.get("/people/{id}", person);
    mount.post("/people/{id}", change);
    mount.post("/people/{id}/reset", reset);
}

/// Which page of a list.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(super) struct After {
    pub(super) after: String,
}

impl After {
    pub(super) fn query(&self) -> PageQuery {
        PageQuery { limit: Some(50), after: Some(self.after.clone()).filter(|after| !after.is_empty()) }
    }
}

struct Choice {
    value: &'static str,
    words: String,
    chosen: bool,
}

fn roles(chosen: Option<Role>) -> Vec<Choice> {
    // word("role")
    let all = Role::ALL.iter();
    all.map(|role| Choice { value: role.as_str(), words: role_word(*role), chosen: chosen == Some(*role) })
        .collect()
}

fn role_word(role: Role) -> String {
    t(&format!("role-{}", role.as_str()))
}

#[derive(Default)]
struct Typed {
    name: String,
    sign_in_name: String,
    role: Option<Role>,
    class: String,
}

#[derive(Template)]
#[template(path = "people.html")]
struct PeoplePage {
    frame: Frame,
    people: Vec<(Person, String)>,
    next: String,
    once: String,
    roles: Vec<Choice>,
    typed: Typed,
    /// Faults of one invitation: field and cure.
    faults: Vec<(String, String)>,
    /// Faults of a class: line and cure.
    class_faults: Vec<(usize, String)>,
    class_lines: usize,
}

impl PeoplePage {
    fn cure(&self, field: &str) -> String {
        self.faults.iter().filter(|(of, _)| of == field).map(|(_, cure)| cure.clone()).collect()
    }
}

#[derive(Template)]
#[template(path = "codes.html")]
struct CodesPage {
    frame: Frame,
    codes: Vec<(Person, String, String)>,
}

#[derive(Template)]
#[template(path = "person.html")]
struct PersonPage {
    frame: Frame,
    person: Person,
    state: String,
    version: i64,
    roles: Vec<Choice>,
    once: String,
    disabled: bool,
    cure: String,
}

async fn list(visitor: Visitor, after: Query<After>) -> Result<HttpResponse, Trouble> {
    show(&visitor, StatusCode::OK, &after, Typed::default(), Vec::new(), Vec::new()).await
}

async fn show(
    visitor: &Visitor,
    status: StatusCode,
    after: &After,
    typed: Typed,
    faults: Vec<(String, String)>,
    class_faults: Vec<(usize, String)>,
) -> Result<HttpResponse, Trouble> {
    let found = people::people(visitor.clinic(), visitor.credentials(), &after.query()).await?;
    let next = found.next.map(|next| {
        format!("/people?{}", serde_urlencoded::to_string([("after", next)]).unwrap_or_default())
    });
    let people = found.items.into_iter().map(|person| (person.clone(), role_word(person.role))).collect();
    let roles = roles(typed.role.or(Some(Role::Student)));
    let class_lines = typed.class.lines().filter(|line| !line.trim().is_empty()).count();
    let frame = visitor.frame(t("people-title")).with("forms.js");
    let once = visitor.pages().once();
    let next = next.unwrap_or_default();
    page(status, &PeoplePage { frame, people, next, once, roles, typed, faults, class_faults, class_lines })
}

/// A page with secrets: nothing keeps it, and nothing codes it on its way.
pub(super) fn codes(visitor: &Visitor, codes: Vec<OneTimeCode>) -> Result<HttpResponse, Trouble> {
    let frame = visitor.frame(t("codes-title"));
    let codes = codes
        .into_iter()
        .map(|code| {
            let until = frame.when(&code.valid_until);
            (code.person, code.code.unwrap_or_default(), until)
        })
        .collect();
    let mut response = page(StatusCode::OK, &CodesPage { frame, codes })?;
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, header::HeaderValue::from_static("no-store, no-transform"));
    Ok(response)
}

async fn invite(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let role: Role = form.text("role").parse().map_err(|_| Trouble::Malformed)?;
    let asked = Invite { sign_in_name: form.text("sign_in_name"), name: form.text("name"), role };
    let once = form.once("POST /people/invite")?;
    match people::invite(visitor.clinic(), visitor.credentials(), &once, &asked).await {
        Ok(code) => codes(&visitor, vec![code]),
        Err(error) => {
            let faults = match error {
                clinic::Error::Invalid(errors) => form::cures(errors),
                clinic::Error::Conflict(detail) => vec![("sign_in_name".to_owned(), detail)],
                other => return Err(other.into()),
            };
            let typed = Typed {
                name: asked.name,
                sign_in_name: asked.sign_in_name,
                role: Some(role),
                class: String::new(),
            };
            show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, &After::default(), typed, faults, Vec::new())
                .await
        }
    }
}

async fn invite_class(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let class = form.exact("class").replace("\r\n", "\n");
    let (mut invites, mut faults) = (Vec::new(), Vec::new());
    for (number, line) in people::class_list(&class) {
        match line {
            Ok(invite) => invites.push((number, invite)),
            Err(ClassFault::TooShort) => faults.push((number, t("class-line-cure"))),
            Err(ClassFault::Role(role)) => faults.push((number, t1("class-role-cure", role))),
        }
    }
    let requests: Vec<Invite> = invites.iter().map(|(_, invite)| invite.clone()).collect();
    if faults.is_empty() && !requests.is_empty() {
        match people::invite_all(visitor.clinic(), visitor.credentials(), &requests).await {
            Ok(made) => return codes(&visitor, made),
            Err(clinic::Error::Invalid(errors)) => {
                faults.extend(errors.into_iter().map(|error| {
                    let place = error.pointer.split('/').nth(1).and_then(|place| place.parse::<usize>().ok());
                    let line = place.and_then(|place| invites.get(place)).map_or(1, |(line, _)| *line);
                    (line, error.detail)
                }));
            }
            Err(other) => return Err(other.into()),
        }
    }
    if requests.is_empty() && faults.is_empty() {
        faults.push((1, t("class-line-cure")));
    }
    let typed = Typed { class, ..Typed::default() };
    show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, &After::default(), typed, Vec::new(), faults).await
}

async fn person(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    person_page(&visitor, id.parse().map_err(|_| Trouble::NoPage)?, StatusCode::OK, String::new()).await
}

async fn person_page(
    visitor: &Visitor,
    id: PersonId,
    status: StatusCode,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let found = people::person(visitor.clinic(), visitor.credentials(), id).await?;
    let person = found.value;
    let frame = visitor.frame(person.name.clone()).with("forms.js");
    // word("account-state")
    let state = t(&format!("account-state-{}", person.state.as_str()));
    let page_of = PersonPage {
        frame,
        state,
        version: found.version,
        roles: roles(Some(person.role)),
        once: visitor.pages().once(),
        disabled: person.state == PersonState::Disabled,
        person,
        cure,
    };
    page(status, &page_of)
}

async fn change(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: PersonId = id.parse().map_err(|_| Trouble::NoPage)?;
    let version = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let state = form.given("state").map(|state| state.parse()).transpose().map_err(|_| Trouble::Malformed)?;
    let role = form.given("role").map(|role| role.parse()).transpose().map_err(|_| Trouble::Malformed)?;
    let asked = PersonChange { name: form.given("name"), role, state };
    match people::change(visitor.clinic(), visitor.credentials(), id, version, &asked).await {
        Ok(_) => Ok(to(&format!("/people/{id}"))),
        Err(clinic::Error::Invalid(errors)) => {
            let cure = errors.into_iter().map(|error| error.detail).collect::<Vec<_>>().join(" ");
            person_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, cure).await
        }
        Err(clinic::Error::Conflict(cure)) => person_page(&visitor, id, StatusCode::CONFLICT, cure).await,
        Err(other) => Err(other.into()),
    }
}

async fn reset(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: PersonId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /people/{id}/reset"))?;
    let code = people::reset(visitor.clinic(), visitor.credentials(), &once, id).await?;
    codes(&visitor, vec![code])
}
