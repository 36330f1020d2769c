//! What became of a batch besides its yield: losses, samples, disposal, what was seen, and that it ended.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{Detail, bench};
use serde::Deserialize;
use wire::bench::{BatchRecord, Entry, EntryKind, NewEntry};
use wire::ids::{BatchId, EntryId};

use super::record::writable;
use super::written::with_unit;
use crate::answer::{page, to};
use crate::figures::{self, spelled};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::{t, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/outcome", outcome_page);
    mount.post("/batches/{id}/outcome", write_outcome);
}

/// What is written here: all that has no act of its own on the bench.
const KINDS: [EntryKind; 15] = [
    EntryKind::Appearance,
    EntryKind::Smell,
    EntryKind::Separation,
    EntryKind::TransferLoss,
    EntryKind::EvaporationLoss,
    EntryKind::SpillLoss,
    EntryKind::MarcLoss,
    EntryKind::Sample,
    EntryKind::LabelsPrinted,
    EntryKind::LabelsUsed,
    EntryKind::LabelsDestroyed,
    EntryKind::MarcDisposal,
    EntryKind::ClothDisposal,
    EntryKind::SpiritDisposal,
    EntryKind::Ended,
];

fn named(kind: EntryKind) -> String {
    // word("outcome-kind")
    t(&format!("outcome-kind-{}", kind.as_str().replace('_', "-")))
}

/// An entry that counts, with what it corrected: what stood there, and why.
struct Written {
    id: EntryId,
    number: u32,
    kind: String,
    words: String,
    by: String,
    instead: Vec<(String, String)>,
}

/// A sum, with how it came about.
struct Sum {
    name: String,
    value: String,
    sentence: String,
}

#[derive(Template)]
#[template(path = "outcome.html")]
struct OutcomePage {
    frame: Frame,
    id: BatchId,
    title: String,
    number: String,
    may: bool,
    written: Vec<Written>,
    figures: Vec<Sum>,
    kinds: Vec<(&'static str, String)>,
    what: String,
    corrects: String,
    quantity: String,
    quantity_cure: String,
    note: String,
    note_cure: String,
    reason: String,
    reason_cure: String,
    fault: String,
    once: String,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    correct: String,
}

fn words(entry: &Entry) -> String {
    let quantity = entry.quantity.as_deref().map(spelled);
    let parts: Vec<String> = quantity.into_iter().chain(entry.note.clone()).collect();
    parts.join(". ")
}

fn written(frame: &Frame, entry: &Entry, all: &[Entry]) -> Written {
    let mut instead = Vec::new();
    let mut newer = entry;
    while let Some(old) = newer.corrects.and_then(|id| all.iter().find(|one| one.id == id)) {
        instead.push((words(old), newer.reason.clone().unwrap_or_default()));
        newer = old;
    }
    Written {
        id: entry.id,
        number: entry.number,
        kind: named(entry.kind),
        words: words(entry),
        by: t2("who-when", entry.by_name.clone().unwrap_or_default(), frame.when(&entry.at)),
        instead,
    }
}

async fn outcome_shown(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: &[(String, String)],
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let record: BatchRecord = match bench::batch(clinic, credentials, id, Detail::Explained).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/outcome")).await;
        }
        other => shown(&other?)?,
    };
    let frame = visitor.frame(t("outcome-link")).with("forms.js");
    let may = record.summary.maker == visitor.person().id && writable(record.summary.state);
    let live = || record.entries.iter().filter(|one| one.corrected_by.is_none() && KINDS.contains(&one.kind));
    let corrects = form.text("corrects");
    let correcting = live().find(|one| one.id.to_string() == corrects);
    let typed = |field: &str, of: &dyn Fn(&Entry) -> Option<String>| match correcting {
        Some(one) if cures.is_empty() => of(one).unwrap_or_default(),
        _ => form.text(field),
    };
    let cure = |field: &str| -> String {
        cures.iter().filter(|(name, _)| name == field).map(|(_, cure)| cure.as_str()).collect()
    };
    let here = |name: &str| matches!(name, "quantity" | "note" | "reason");
    let sums = record.as_made.iter().flat_map(|made| &made.yields);
    let page_of = OutcomePage {
        id,
        title: record.summary.title.clone(),
        number: record.summary.number.clone(),
        may,
        written: live().map(|one| written(&frame, one, &record.entries)).collect(),
        figures: sums
            .map(|figure| Sum {
                name: figure.name.clone(),
                value: figures::shown(figure).whole(),
                sentence: figures::beside(figure),
            })
            .collect(),
        kinds: KINDS
            .iter()
            .filter(|kind| correcting.is_none_or(|one| one.kind == **kind))
            .map(|kind| (kind.as_str(), named(*kind)))
            .collect(),
        what: typed("kind", &|one| Some(one.kind.as_str().to_owned())),
        quantity: typed("quantity", &|one| one.quantity.clone()),
        quantity_cure: cure("quantity"),
        note: typed("note", &|one| one.note.clone()),
        note_cure: cure("note"),
        reason: form.text("reason"),
        reason_cure: cure("reason"),
        fault: cures.iter().filter(|(name, _)| !here(name)).map(|(_, cure)| cure.as_str()).collect(),
        corrects: correcting.map(|one| one.id.to_string()).unwrap_or_default(),
        once: visitor.pages().once(),
        frame,
    };
    page(status, &page_of)
}

async fn outcome_page(
    visitor: Visitor,
    id: Path<String>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let form = Form::of([("corrects", &asked.correct)]);
    outcome_shown(&visitor, id, StatusCode::OK, &form, &[]).await
}

async fn write_outcome(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let kind: EntryKind = form.text("kind").parse().map_err(|_| Trouble::Malformed)?;
    if !KINDS.contains(&kind) {
        return Err(Trouble::Malformed);
    }
    let once = form.once(&format!("POST /batches/{id}/outcome"))?;
    let corrects = form.given("corrects").map(|id| id.parse()).transpose().map_err(|_| Trouble::Malformed)?;
    let request = NewEntry {
        quantity: form
            .given("quantity")
            .map(|typed| if kind.is_count() { typed } else { with_unit(&typed, "g") }),
        note: form.given("note"),
        corrects,
        reason: form.given("reason"),
        ..NewEntry::of(kind)
    };
    match bench::entry_create(visitor.clinic(), visitor.credentials(), &once, id, &request).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{id}/outcome"))),
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}/outcome")).await
        }
        Err(error) => {
            let cures = form::faults(error)?;
            outcome_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures).await
        }
    }
}
