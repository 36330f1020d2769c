//! Handing a jar out, and taking it back.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::jars;
use wire::ids::JarId;
use wire::jars::{JarHanded, JarSheet, NewHanding, NewJarReturn};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1, t2, t3};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/handing/{id}", handing);
    mount.post("/handing/{id}", act);
}

/// Where a jar went, and whether it came back.
pub(super) fn went(frame: &Frame, handed: &JarHanded) -> String {
    let by = handed.by_name.clone().unwrap_or_default();
    let out = t3("hand-went", handed.reference.clone(), by, frame.day(&handed.on));
    match &handed.returned {
        Some(back) => format!("{out} {}", t1("hand-back", frame.when(&back.at))),
        None => out,
    }
}

#[derive(Template)]
#[template(path = "handing.html")]
struct HandingPage {
    frame: Frame,
    id: JarId,
    sheet: JarSheet,
    until: String,
    went: String,
    back_note: String,
    may_return: bool,
    reference: String,
    ticked: [bool; 3],
    cures: Vec<(String, String)>,
    note: String,
    once: String,
}

impl HandingPage {
    fn cure(&self, field: &str) -> String {
        self.cures.iter().filter(|(name, _)| name == field).map(|(_, cure)| cure.as_str()).collect()
    }
}

async fn shown(
    visitor: &Visitor,
    id: JarId,
    status: StatusCode,
    form: &Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let sheet = jars::sheet(visitor.clinic(), visitor.credentials(), id).await?;
    let frame =
        visitor.frame(t2("hand-title", sheet.title.clone(), i64::from(sheet.jar.number))).with("forms.js");
    let handed = sheet.jar.handed.as_ref();
    let page_of = HandingPage {
        id,
        until: sheet.jar.use_by.as_ref().map(|day| frame.day(day)).unwrap_or_else(|| t("jar-undated")),
        went: handed.map(|handed| went(&frame, handed)).unwrap_or_default(),
        back_note: handed.and_then(|one| one.returned.as_ref()?.note.clone()).unwrap_or_default(),
        may_return: handed.is_some_and(|handed| handed.returned.is_none()),
        reference: form.text("reference"),
        ticked: ["suitability_asked", "cautions_told", "opening_told"].map(|name| form.ticked(name)),
        note: form.text("note"),
        cures,
        once: visitor.pages().once(),
        sheet,
        frame,
    };
    page(status, &page_of)
}

async fn handing(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: JarId = id.parse().map_err(|_| Trouble::NoPage)?;
    shown(&visitor, id, StatusCode::OK, &Form::default(), Vec::new()).await
}

async fn act(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: JarId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /handing/{id}"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let done = match form.text("do").as_str() {
        "return" => {
            let request = NewJarReturn { note: form.given("note") };
            jars::take_back(clinic, credentials, &once, id, &request).await
        }
        _ => {
            let request = NewHanding {
                reference: form.text("reference"),
                suitability_asked: form.ticked("suitability_asked"),
                cautions_told: form.ticked("cautions_told"),
                opening_told: form.ticked("opening_told"),
            };
            jars::hand(clinic, credentials, &once, id, &request).await
        }
    };
    match done {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/handing/{id}"))),
        Err(error) => {
            let cures = form::faults(error)?;
            shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, cures).await
        }
    }
}
