//! A maker's own check before making, and the sentence that a student tells the instructors. What is ticked goes into the
//! page that answers it and nowhere else: not into an address, a redirect, a key of a form or a draft in the browser.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::{formulary, teaching};
use wire::ids::{CohortId, RevisionId};
use wire::page::PageQuery;
use wire::people::Role;
use wire::self_check::{NewSelfCheck, SelfCheck};
use wire::teaching::{Cohort, CohortRole, NewWorkLimit, WorkLimit};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::cure_of;
use crate::routes::find::suits;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/revisions/{id}/self-check", ask);
    mount.post("/revisions/{id}/self-check", answer);
    mount.get("/classes/{id}/work-limits", limits);
    mount.post("/classes/{id}/work-limits", tell);
    mount.post("/classes/{id}/work-limits/withdraw", withdraw);
}

#[derive(Template)]
#[template(path = "self_check.html")]
struct CheckPage {
    frame: Frame,
    id: RevisionId,
    title: String,
    /// What can be ticked: its word, and what it says.
    choices: Vec<(String, String)>,
    /// The answer, with how it suits in words.
    answer: Option<(String, SelfCheck)>,
    /// The classes whose instructors can be told.
    classes: Vec<Cohort>,
    cure: String,
}

async fn ask(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id = id.parse().map_err(|_| Trouble::NoPage)?;
    show(&visitor, StatusCode::OK, id, None, String::new()).await
}

async fn show(
    visitor: &Visitor,
    status: StatusCode,
    id: RevisionId,
    answer: Option<SelfCheck>,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let title = match &answer {
        Some(answer) => answer.title.clone(),
        None => formulary::revision(clinic, credentials, id).await?.value.title,
    };
    let said = |(word, name): (String, Option<String>)| {
        let says = match name {
            Some(name) => t1("self-check-allergy", name),
            // word("self-check")
            None => t(&format!("self-check-{word}")),
        };
        (word, says)
    };
    let classes = match answer.is_some() && visitor.role() == Role::Student {
        true => {
            let all = PageQuery { limit: Some(100), after: None };
            teaching::cohorts(clinic, credentials, &all).await?.items
        }
        false => Vec::new(),
    };
    let page_of = CheckPage {
        frame: visitor.frame(t("self-check-title")),
        id,
        title,
        choices: formulary::self_check_choices(clinic).into_iter().map(said).collect(),
        answer: answer.map(|answer| (suits(answer.answer).0, answer)),
        classes,
        cure,
    };
    page(status, &page_of)
}

async fn answer(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let request = NewSelfCheck { answers: form.all("is") };
    match formulary::self_check(visitor.clinic(), visitor.credentials(), id, &request).await {
        Ok(answer) => show(&visitor, StatusCode::OK, id, Some(answer), String::new()).await,
        Err(clinic::Error::Invalid(_)) => {
            show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, id, None, t("self-check-cure")).await
        }
        Err(other) => Err(other.into()),
    }
}

#[derive(Template)]
#[template(path = "work_limits.html")]
struct LimitsPage {
    frame: Frame,
    cohort: Cohort,
    student: bool,
    told: Vec<WorkLimit>,
    text: String,
    cures: Vec<(String, String)>,
    once: String,
}

impl LimitsPage {
    fn cure(&self, field: &str) -> String {
        cure_of(&self.cures, field)
    }
}

type Typed = (String, Vec<(String, String)>);

async fn limits(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id = id.parse().map_err(|_| Trouble::NoPage)?;
    show_limits(&visitor, StatusCode::OK, id, (String::new(), Vec::new())).await
}

async fn show_limits(
    visitor: &Visitor,
    status: StatusCode,
    id: CohortId,
    (text, cures): Typed,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let told = teaching::work_limits(clinic, credentials, id).await?.items;
    let cohort = teaching::cohort(clinic, credentials, id).await?.value;
    let student = cohort.role == Some(CohortRole::Student);
    let title = if student { t("limits-own-title") } else { t("limits-title") };
    let frame = visitor.frame(title).with("forms.js");
    page(status, &LimitsPage { frame, cohort, student, told, text, cures, once: visitor.pages().once() })
}

async fn tell(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: CohortId = id.parse().map_err(|_| Trouble::NoPage)?;
    let address = format!("/classes/{id}/work-limits");
    let once = form.once(&format!("POST {address}"))?;
    let text = form.text("cannot_work_with");
    let request = NewWorkLimit { cannot_work_with: text.clone(), consent: form.ticked("consent") };
    match teaching::work_limit_create(visitor.clinic(), visitor.credentials(), &once, id, &request).await {
        // The page shows what was told, and how to withdraw it.
        Ok(_) | Err(clinic::Error::KeyReused | clinic::Error::Conflict(_) | clinic::Error::Gone(_)) => {
            Ok(to(&address))
        }
        Err(error) => {
            let cures = form::faults(error)?;
            show_limits(&visitor, StatusCode::UNPROCESSABLE_ENTITY, id, (text, cures)).await
        }
    }
}

async fn withdraw(visitor: Visitor, id: Path<String>, _: Form) -> Result<HttpResponse, Trouble> {
    let id: CohortId = id.parse().map_err(|_| Trouble::NoPage)?;
    match teaching::work_limit_withdraw(visitor.clinic(), visitor.credentials(), id).await {
        // Withdrawn already, perhaps by the first of two taps.
        Ok(()) | Err(clinic::Error::NotFound(_)) => Ok(to(&format!("/classes/{id}/work-limits"))),
        Err(other) => Err(other.into()),
    }
}
