//! Releasing what a batch made: the cautions of its label, each to be confirmed, and what stands in the way. And discarding.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::jars;
use wire::bench::Disposition;
use wire::ids::BatchId;
use wire::jars::{NewDiscard, NewRelease, ReleaseSheet};
use wire::safety::CautionLevel;

use super::batch::stands;
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/release", release_page);
    mount.post("/batches/{id}/release", decide);
}

/// A caution to be confirmed.
struct ToConfirm {
    id: String,
    text: String,
    class: &'static str,
    level: String,
    confirmed: bool,
}

#[derive(Template)]
#[template(path = "release.html")]
struct ReleasePage {
    frame: Frame,
    id: BatchId,
    number: String,
    title: String,
    stands: String,
    barred: Vec<String>,
    until: String,
    storage: Vec<String>,
    cautions: Vec<ToConfirm>,
    may_release: bool,
    may_discard: bool,
    own: bool,
    reason: String,
    discard_reason: String,
    faults: Vec<String>,
    once: String,
}

async fn shown(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let read: ReleaseSheet = match jars::release_sheet(visitor.clinic(), visitor.credentials(), id).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/release")).await;
        }
        other => other?,
    };
    let frame = visitor.frame(t("release-act")).with("forms.js");
    let own = read.own;
    let mut barred: Vec<String> = read.barred.into_iter().map(|bar| bar.text).collect();
    if own && visitor.second_person() {
        barred.push(t("release-not-own"));
    }
    let day = read.label.use_by.as_ref().and_then(|use_by| use_by.day);
    let given = form.all("confirmed");
    let discarding = form.text("do") == "discard";
    let typed = |of_discard: bool| if of_discard == discarding { form.text("reason") } else { String::new() };
    let page_of = ReleasePage {
        id,
        number: read.number,
        title: read.label.name.text,
        stands: stands(read.disposition),
        may_release: barred.is_empty(),
        may_discard: read.disposition != Disposition::Discarded,
        barred,
        until: day.as_ref().map(|day| frame.day(day)).unwrap_or_default(),
        storage: read.label.storage.into_iter().map(|fact| fact.text).collect(),
        cautions: read
            .cautions
            .into_iter()
            .map(|one| ToConfirm {
                confirmed: given.contains(&one.id),
                id: one.id,
                text: one.text,
                class: class(one.level),
                // The strongest say so in words, too.
                level: match one.level {
                    CautionLevel::Contraindication => t("level-contraindication"),
                    CautionLevel::Stop => t("level-stop"),
                    CautionLevel::Caution | CautionLevel::Note => String::new(),
                },
            })
            .collect(),
        own,
        reason: typed(false),
        discard_reason: typed(true),
        faults: cures.into_iter().map(|(_, cure)| cure).collect(),
        once: visitor.pages().once(),
        frame,
    };
    page(status, &page_of)
}

const fn class(level: CautionLevel) -> &'static str {
    match level {
        CautionLevel::Note => "caution note",
        CautionLevel::Caution => "caution",
        CautionLevel::Contraindication => "caution contra",
        CautionLevel::Stop => "caution stop",
    }
}

async fn release_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    shown(&visitor, id, StatusCode::OK, &Form::default(), Vec::new()).await
}

async fn decide(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/release"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let done = match form.text("do").as_str() {
        "discard" => {
            jars::discard(clinic, credentials, &once, id, &NewDiscard { reason: form.text("reason") }).await
        }
        _ => {
            let request = NewRelease { confirmed: form.all("confirmed"), reason: form.given("reason") };
            jars::release(clinic, credentials, &once, id, &request).await
        }
    };
    match done {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{id}/jars"))),
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}/release")).await
        }
        Err(error) => {
            let cures = form::faults(error)?;
            shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, cures).await
        }
    }
}
