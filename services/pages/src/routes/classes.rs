//! A class: its term, its members, its codes, and reading a class list in.

use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use actix_web::web::{Path, Query};
use askama::Template;
use chrono::{Duration, NaiveDate};
use clinic::{people, teaching};
use wire::ids::{CohortCodeId, CohortId, PersonId};
use wire::page::PageQuery;
use wire::people::{Person, Role};
use wire::teaching::{
    Cohort, CohortCode, CohortMember, CohortRole, Enrol, NewClass, NewCohort, NewCohortCode,
};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::people::{After, codes as one_time_codes};
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/classes/new", new);
    mount.post("/classes/new", create);
    mount.get("/classes/{id}", class);
    mount.post("/classes/{id}", change);
    mount.post("/classes/{id}/members", member);
    mount.post("/classes/{id}/list", list);
    mount.post("/classes/{id}/codes", codes);
}

pub(super) fn id_of(id: &str) -> Result<CohortId, Trouble> {
    id.parse().map_err(|_| Trouble::NoPage)
}

/// The cures of one field.
pub(super) fn cure_of(cures: &[(String, String)], field: &str) -> String {
    let of_field = cures.iter().filter(|(of, _)| of == field);
    of_field.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
}

/// Name, term and time zone as they are typed. A day that cannot be read is told apart from one that is refused.
#[derive(Default)]
struct Term {
    name: String,
    starts_on: String,
    ends_on: String,
    time_zone: String,
    cures: Vec<(String, String)>,
}

impl Term {
    fn typed(form: &Form) -> Self {
        Self {
            name: form.text("name"),
            starts_on: form.text("starts_on"),
            ends_on: form.text("ends_on"),
            time_zone: form.text("time_zone"),
            cures: Vec::new(),
        }
    }

    fn of(cohort: &Cohort) -> Self {
        Self {
            name: cohort.name.clone(),
            starts_on: cohort.starts_on.to_string(),
            ends_on: cohort.ends_on.to_string(),
            time_zone: cohort.time_zone.clone(),
            cures: Vec::new(),
        }
    }

    /// The request, or the cures of days that cannot be read.
    fn asked(&self) -> Result<NewCohort, Vec<(String, String)>> {
        let mut cures = Vec::new();
        let mut day = |field: &str, text: &str| {
            let day = text.parse::<NaiveDate>().ok();
            if day.is_none() {
                cures.push((field.to_owned(), t("day-cure")));
            }
            day.unwrap_or_default()
        };
        let (starts_on, ends_on) = (day("starts_on", &self.starts_on), day("ends_on", &self.ends_on));
        if !cures.is_empty() {
            return Err(cures);
        }
        Ok(NewCohort { name: self.name.clone(), starts_on, ends_on, time_zone: self.time_zone.clone() })
    }

    fn cure(&self, field: &str) -> String {
        cure_of(&self.cures, field)
    }
}

#[derive(Template)]
#[template(path = "class_new.html")]
struct NewPage {
    frame: Frame,
    once: String,
    term: Term,
}

async fn new(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let policy = clinic::policy::policy(visitor.clinic(), visitor.credentials()).await?;
    let time_zone = policy.value.content.time_zone.clone();
    new_page(&visitor, StatusCode::OK, Term { time_zone, ..Term::default() })
}

fn new_page(visitor: &Visitor, status: StatusCode, term: Term) -> Result<HttpResponse, Trouble> {
    let frame = visitor.frame(t("make-class")).with("forms.js");
    page(status, &NewPage { frame, once: visitor.pages().once(), term })
}

async fn create(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let once = form.once("POST /classes/new")?;
    let mut term = Term::typed(&form);
    term.cures = match term.asked() {
        Err(cures) => cures,
        Ok(asked) => {
            match teaching::cohort_create(visitor.clinic(), visitor.credentials(), &once, &asked).await {
                Ok(made) => return Ok(to(&format!("/classes/{}", made.value.id))),
                Err(clinic::Error::Conflict(detail)) => vec![("name".to_owned(), detail)],
                Err(error) => form::faults(error)?,
            }
        }
    };
    new_page(&visitor, StatusCode::UNPROCESSABLE_ENTITY, term)
}

/// What was typed and not accepted, or why an act was not done.
#[derive(Default)]
struct Typed {
    term: Option<Term>,
    csv: String,
    /// What is wrong in the list, each with its line and cure.
    lines: Vec<String>,
    days: String,
    /// Why a code was not made, and why a person was not enrolled or removed.
    code: String,
    member: String,
    stale: bool,
}

#[derive(Template)]
#[template(path = "class.html")]
struct ClassPage {
    frame: Frame,
    cohort: Cohort,
    version: i64,
    term: Term,
    members: Vec<(CohortMember, String)>,
    next: String,
    /// Codes that can be used, with until when.
    codes: Vec<(CohortCode, String)>,
    people: Vec<Person>,
    /// Whoever looks after its people: its instructors, and administrators.
    keeper: bool,
    instructor: bool,
    once: String,
    typed: Typed,
}

async fn class(visitor: Visitor, id: Path<String>, after: Query<After>) -> Result<HttpResponse, Trouble> {
    show(&visitor, id_of(&id)?, StatusCode::OK, &after, Typed::default()).await
}

async fn show(
    visitor: &Visitor,
    id: CohortId,
    status: StatusCode,
    after: &After,
    typed: Typed,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = teaching::cohort(clinic, credentials, id).await?;
    let cohort = found.value;
    let members = teaching::members(clinic, credentials, id, &after.query()).await?;
    let instructor = cohort.role == Some(CohortRole::Instructor);
    let keeper = instructor || cohort.role.is_none();
    let (mut usable, mut people) = (Vec::new(), Vec::new());
    let frame = visitor.frame(cohort.name.clone()).with("forms.js");
    if keeper {
        let (now, all) = (clinic.clock().now(), PageQuery { limit: Some(100), after: None });
        let codes = teaching::codes(clinic, credentials, id, &all).await?.items;
        let can_be = |code: &CohortCode| code.closed_at.is_none() && code.valid_until > now;
        let codes = codes.into_iter().filter(can_be);
        usable = codes.map(|code| (code.clone(), frame.when(&code.valid_until))).collect();
        let is_member = |person: &Person| members.items.iter().any(|one| one.person == person.id);
        let all = people::people(clinic, credentials, &all).await?.items;
        let may_be = |person: &Person| person.role != Role::Administrator && !is_member(person);
        people = all.into_iter().filter(may_be).collect();
    }
    let next = members.next.map(|next| {
        format!("/classes/{id}?{}", serde_urlencoded::to_string([("after", next)]).unwrap_or_default())
    });
    // word("in-class")
    let word = |role: CohortRole| t(&format!("in-class-{}", role.as_str()));
    let mut typed = typed;
    let term = typed.term.take().unwrap_or_else(|| Term::of(&cohort));
    let page_of = ClassPage {
        frame,
        version: found.version,
        term,
        members: members.items.into_iter().map(|one| (one.clone(), word(one.role))).collect(),
        next: next.unwrap_or_default(),
        codes: usable,
        people,
        keeper,
        instructor,
        once: visitor.pages().once(),
        cohort,
        typed,
    };
    page(status, &page_of)
}

async fn refused(visitor: &Visitor, id: CohortId, typed: Typed) -> Result<HttpResponse, Trouble> {
    show(visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &After::default(), typed).await
}

async fn change(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let version = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let mut term = Term::typed(&form);
    term.cures = match term.asked() {
        Err(cures) => cures,
        Ok(asked) => match teaching::cohort_change(clinic, credentials, id, version, &asked).await {
            Ok(_) => return Ok(to(&format!("/classes/{id}"))),
            Err(clinic::Error::PreconditionFailed) => {
                let typed = Typed { term: Some(term), stale: true, ..Typed::default() };
                return show(&visitor, id, StatusCode::PRECONDITION_FAILED, &After::default(), typed).await;
            }
            Err(clinic::Error::Conflict(detail)) => vec![("name".to_owned(), detail)],
            Err(error) => form::faults(error)?,
        },
    };
    refused(&visitor, id, Typed { term: Some(term), ..Typed::default() }).await
}

async fn member(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let person: PersonId = form.text("person").parse().map_err(|_| Trouble::Malformed)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let done = match form.text("do").as_str() {
        "add" => {
            let role = form.text("role").parse().map_err(|_| Trouble::Malformed)?;
            let once = form.once(&format!("POST /classes/{id}/members"))?;
            let asked = Enrol { person, role };
            teaching::enrol(clinic, credentials, &once, id, &asked).await.map(|_| ())
        }
        // Removed already, perhaps by the first of two taps.
        _ => match teaching::member_remove(clinic, credentials, id, person).await {
            Err(clinic::Error::NotFound("member")) => Ok(()),
            other => other,
        },
    };
    match done {
        Ok(()) => Ok(to(&format!("/classes/{id}"))),
        Err(error) => {
            let member = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" ");
            refused(&visitor, id, Typed { member, ..Typed::default() }).await
        }
    }
}

async fn list(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let once = form.once(&format!("POST /classes/{id}/list"))?;
    let csv = form.exact("csv").replace("\r\n", "\n");
    let asked = NewClass { csv: csv.clone() };
    match teaching::class_enrol(visitor.clinic(), visitor.credentials(), &once, id, &asked).await {
        Ok(class) if class.invited.is_empty() => Ok(to(&format!("/classes/{id}"))),
        Ok(class) => one_time_codes(&visitor, class.invited),
        Err(clinic::Error::Invalid(errors)) => {
            let lines = errors.into_iter().map(|error| error.detail).collect();
            refused(&visitor, id, Typed { csv, lines, ..Typed::default() }).await
        }
        Err(other) => Err(other.into()),
    }
}

#[derive(Template)]
#[template(path = "class_code.html")]
struct CodePage {
    frame: Frame,
    id: CohortId,
    code: String,
    until: String,
}

async fn codes(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    if form.text("do") == "close" {
        let code: CohortCodeId = form.text("code").parse().map_err(|_| Trouble::Malformed)?;
        teaching::code_close(clinic, credentials, id, code).await?;
        return Ok(to(&format!("/classes/{id}")));
    }
    let once = form.once(&format!("POST /classes/{id}/codes"))?;
    let days = form.text("days");
    let Some(number) = days.parse::<u16>().ok().filter(|days| (1..=366).contains(days)) else {
        return refused(&visitor, id, Typed { days, code: t("days-cure"), ..Typed::default() }).await;
    };
    let valid_until = clinic.clock().now() + Duration::days(number.into());
    let made = teaching::code_create(clinic, credentials, &once, id, &NewCohortCode { valid_until }).await?;
    let frame = visitor.frame(t("class-code"));
    let until = t1("code-until", frame.when(&made.valid_until));
    let mut response =
        page(StatusCode::OK, &CodePage { frame, id, code: made.code.unwrap_or_default(), until })?;
    // A page with a secret: nothing keeps it, and nothing codes it on its way.
    let cache = header::HeaderValue::from_static("no-store, no-transform");
    response.headers_mut().insert(header::CACHE_CONTROL, cache);
    Ok(response)
}
