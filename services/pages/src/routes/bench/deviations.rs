//! The deviations of a batch: what is recorded, what its maker adds, and what a second person authorises.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::{Detail, bench};
use wire::bench::{BatchRecord, BatchState, Entry, EntryKind, FindingKind, NewEntry};
use wire::deviations::NewAuthorisation;
use wire::ids::{BatchId, EntryId};
use wire::people::Role;

use super::record::writable;
use crate::acts;
use crate::answer::{page, to};
use crate::figures::spelled;
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/deviations", deviations_page);
    mount.post("/batches/{id}/deviations", deviate);
}

/// A deviation as it is read.
struct Deviation {
    id: EntryId,
    number: u32,
    /// The material or the step.
    about: String,
    words: String,
    /// Whether it adjusts the batch, of which a page tells more.
    adjusts: bool,
    reason: String,
    by: String,
    authorised: String,
    /// Whether it awaits authorisation.
    open: bool,
    once: String,
}

#[derive(Template)]
#[template(path = "deviations.html")]
struct DeviationsPage {
    frame: Frame,
    id: BatchId,
    title: String,
    number: String,
    /// Lines outside their tolerance of which no reason is recorded.
    unsaid: Vec<String>,
    deviations: Vec<Deviation>,
    may_write: bool,
    may_authorise: bool,
    once: String,
    note: String,
    note_cure: String,
    step: String,
    step_cure: String,
    fault: String,
}

fn deviation(visitor: &Visitor, frame: &Frame, record: &BatchRecord, one: &Entry) -> Deviation {
    let lines = || record.recipe.phases.iter().flat_map(|phase| &phase.lines);
    let line = one.line.as_ref().and_then(|line| lines().find(|of| of.line == *line));
    let step =
        one.step.and_then(|step| record.recipe.method.get(usize::try_from(step).ok()?.checked_sub(1)?));
    let about = line.map(|line| line.name.clone()).or_else(|| step.map(|step| spelled(&step.do_)));
    Deviation {
        id: one.id,
        number: one.number,
        about: about.unwrap_or_default(),
        words: match (one.kind, one.quantity.as_deref().map(spelled).unwrap_or_default()) {
            (EntryKind::Adjustment, weighed) => t1("deviations-adjusts", weighed),
            (_, words) => words,
        },
        adjusts: one.kind == EntryKind::Adjustment,
        reason: one.deviation.clone().or_else(|| one.note.clone()).unwrap_or_default(),
        by: t2("who-when", one.by_name.clone().unwrap_or_default(), frame.when(&one.at)),
        authorised: acts::authorised(frame, one, record),
        open: acts::awaits(one, record),
        once: visitor.pages().once(),
    }
}

async fn deviations_shown(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: &[(String, String)],
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let record: BatchRecord = match bench::batch(clinic, credentials, id, Detail::Brief).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/deviations")).await;
        }
        other => shown(&other?)?,
    };
    let frame = visitor.frame(t("deviations-link")).with("forms.js");
    let me = visitor.person().id;
    let (own, state) = (record.summary.maker == me, record.summary.state);
    let made = own || record.makers.iter().any(|one| one.person == me);
    let is_one = |one: &&Entry| {
        one.deviation.is_some() || matches!(one.kind, EntryKind::Deviation | EntryKind::Adjustment)
    };
    let live = record.entries.iter().filter(|one| one.corrected_by.is_none()).filter(is_one);
    let unsaid = record.findings.iter().filter(|finding| {
        let entry = record.entries.iter().find(|one| Some(one.id) == finding.entry);
        finding.kind == FindingKind::Deviation && entry.is_none_or(|one| !is_one(&one))
    });
    let cure = |field: &str| -> String {
        cures.iter().filter(|(name, _)| name == field).map(|(_, cure)| cure.as_str()).collect()
    };
    let shown_here = |name: &str| matches!(name, "note" | "step");
    let page_of = DeviationsPage {
        id,
        title: record.summary.title.clone(),
        number: record.summary.number.clone(),
        unsaid: unsaid.map(|finding| spelled(&finding.sentence)).collect(),
        deviations: live.map(|one| deviation(visitor, &frame, &record, one)).collect(),
        may_write: own && writable(state),
        may_authorise: !made
            && visitor.role() == Role::Instructor
            && matches!(state, BatchState::Making | BatchState::Submitted | BatchState::Returned),
        once: visitor.pages().once(),
        note: form.text("note"),
        note_cure: cure("note"),
        step: form.text("step"),
        step_cure: cure("step"),
        fault: cures.iter().filter(|(name, _)| !shown_here(name)).map(|(_, cure)| cure.as_str()).collect(),
        frame,
    };
    page(status, &page_of)
}

async fn deviations_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    deviations_shown(&visitor, id, StatusCode::OK, &Form::default(), &[]).await
}

async fn deviate(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/deviations"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let done = match form.text("do").as_str() {
        "authorise" => {
            let entry = form.text("entry").parse().map_err(|_| Trouble::Malformed)?;
            bench::authorise(clinic, credentials, &once, id, &NewAuthorisation { entry }).await.map(drop)
        }
        _ => {
            // What is no number of a step is refused by the use case as one that is too large.
            let step = form.given("step").map(|typed| typed.parse().unwrap_or(u16::MAX));
            let request = NewEntry { note: form.given("note"), step, ..NewEntry::of(EntryKind::Deviation) };
            bench::entry_create(clinic, credentials, &once, id, &request).await.map(drop)
        }
    };
    match done {
        Ok(()) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{id}/deviations"))),
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}/deviations")).await
        }
        Err(error) => {
            let cures = form::faults(error)?;
            deviations_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures).await
        }
    }
}
