//! Photographs of a batch: taking one at the bench, looking at them, and withdrawing one.

use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use actix_web::web::Path;
use askama::Template;
use clinic::photographs::{self, PhotographSize};
use clinic::{IdempotencyKey, bench};
use sha2::{Digest, Sha256};
use wire::bench::{EntryKind, EntryWritten, NewEntry};
use wire::ids::{BatchId, PhotographId};
use wire::photographs::{NewPhotographQuery, Photograph, PhotographSubject, Photographs, WithdrawPhotograph};

use crate::answer::{page, to};
use crate::form::{self, Form, ONCE};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::upload::{Brought, Upload};
use crate::visitor::Visitor;

/// The one page that takes a form with a file.
pub(crate) const ADDRESS: &str = "/batches/{id}/photographs";

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get(ADDRESS, view);
    mount.post(ADDRESS, add);
    mount.get("/batches/{id}/photographs/{photograph}/picture", picture);
    mount.get("/batches/{id}/photographs/{photograph}/preview", preview);
    mount.post("/batches/{id}/photographs/{photograph}/withdrawal", withdraw);
}

/// What a photograph shows, in words: what stands in its place for whoever does not see it.
fn subject(of: PhotographSubject) -> String {
    // word("photo-subject")
    t(&format!("photo-subject-{}", of.as_str()))
}

/// A photograph on a page.
pub(super) struct Shown {
    pub(super) id: PhotographId,
    pub(super) number: u32,
    pub(super) alt: String,
    pub(super) width: u32,
    pub(super) height: u32,
    entry: String,
    by: String,
    submission: String,
    /// Why there is no picture; empty where there is one.
    without: String,
    may_withdraw: bool,
}

fn one(frame: &Frame, of: &Photograph, lost: &[PhotographId]) -> Shown {
    let by = t2("photo-by", of.by_name.clone().unwrap_or_default(), frame.when(&of.at));
    let without = match &of.withdrawn {
        Some(withdrawn) => {
            let who = t2(
                "photo-withdrawn",
                withdrawn.by_name.clone().unwrap_or_default(),
                frame.when(&withdrawn.at),
            );
            format!("{who} {}", withdrawn.reason)
        }
        None if lost.contains(&of.id) => t("photo-lost"),
        None => String::new(),
    };
    Shown {
        id: of.id,
        number: of.number,
        alt: subject(of.subject),
        width: of.preview.width,
        height: of.preview.height,
        entry: of.entry.map(|number| t1("photo-entry", i64::from(number))).unwrap_or_default(),
        by,
        submission: of.submission.map(|number| t1("photo-submission", i64::from(number))).unwrap_or_default(),
        without,
        may_withdraw: of.may_withdraw,
    }
}

/// The photographs of a record that are not withdrawn, for its pages.
pub(super) async fn strip(visitor: &Visitor, frame: &Frame, id: BatchId) -> Result<Vec<Shown>, Trouble> {
    let all = photographs::of_batch(visitor.clinic(), visitor.credentials(), id).await?.photographs;
    Ok(all.iter().filter(|of| of.withdrawn.is_none()).map(|of| one(frame, of, &[])).collect())
}

#[derive(Template)]
#[template(path = "photographs.html")]
struct PhotographsPage {
    frame: Frame,
    id: BatchId,
    number: String,
    title: String,
    may_add: bool,
    /// Each with its word, how it is named, and whether it is chosen.
    subjects: Vec<(&'static str, String, bool)>,
    words: String,
    photographs: Vec<Shown>,
    /// Of the form that was sent: which photograph it withdraws, and the reason as typed.
    withdraws: String,
    reason: String,
    cures: Vec<(String, String)>,
    once: String,
}

impl PhotographsPage {
    fn cure(&self, field: &str) -> String {
        let of_field = self.cures.iter().filter(|(name, _)| self.withdraws.is_empty() && name == field);
        of_field.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    fn is_sent(&self, photograph: &Shown) -> bool {
        self.withdraws == photograph.id.to_string()
    }

    fn cure_of(&self, photograph: &Shown) -> String {
        let of_field = self.cures.iter().filter(|(name, _)| self.is_sent(photograph) && name == "reason");
        of_field.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    /// What stands in the way of the whole.
    fn faults(&self) -> Vec<&str> {
        let known = ["photograph", "subject", "words", "reason"];
        let others = self.cures.iter().filter(|(name, _)| !known.contains(&name.as_str()));
        others.map(|(_, cure)| cure.as_str()).collect()
    }
}

async fn show(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    (form, withdraws): (&Form, &str),
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let of: Photographs = match photographs::of_batch(visitor.clinic(), visitor.credentials(), id).await {
        Err(clinic::Error::GateClosed(outstanding)) => return gate(visitor, &outstanding, id).await,
        other => other?,
    };
    let lost = photographs::lost(visitor.clinic(), &of.photographs).await;
    let frame = visitor.frame(t("photo-open")).with("forms.js");
    let chosen = form.text("subject");
    let page_of = PhotographsPage {
        id,
        may_add: of.may_add,
        subjects: PhotographSubject::ALL
            .iter()
            .map(|one| (one.as_str(), subject(*one), one.as_str() == chosen))
            .collect(),
        words: form.text("words"),
        photographs: of.photographs.iter().rev().map(|of| one(&frame, of, &lost)).collect(),
        withdraws: withdraws.to_owned(),
        reason: form.text("reason"),
        number: of.number,
        title: of.title,
        cures,
        once: visitor.pages().once(),
        frame,
    };
    page(status, &page_of)
}

async fn gate(
    visitor: &Visitor,
    outstanding: &wire::problem::Outstanding,
    id: BatchId,
) -> Result<HttpResponse, Trouble> {
    formula::gate(visitor, outstanding, format!("/batches/{id}/photographs")).await
}

async fn view(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    show(&visitor, id, StatusCode::OK, (&Form::default(), ""), Vec::new()).await
}

/// What was not accepted, with the whole body standing for the file.
fn cures(error: clinic::Error) -> Result<Vec<(String, String)>, Trouble> {
    let all = form::faults(match error {
        clinic::Error::Invalid(errors) => clinic::Error::Invalid(
            errors
                .into_iter()
                .map(|error| match error.pointer.as_str() {
                    "" => wire::problem::FieldError { pointer: "/photograph".into(), ..error },
                    "/note" => wire::problem::FieldError { pointer: "/words".into(), ..error },
                    _ => error,
                })
                .collect(),
        ),
        other => other,
    })?;
    Ok(all)
}

async fn add(visitor: Visitor, id: Path<String>, upload: Upload) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    match photographs::may_come(visitor.clinic(), visitor.credentials(), id).await {
        Err(clinic::Error::GateClosed(outstanding)) => return gate(&visitor, &outstanding, id).await,
        other => other?,
    }
    let (form, brought) = upload.read(visitor.clinic()).await?;
    let refused = StatusCode::UNPROCESSABLE_ENTITY;
    let cure = |text: String| vec![("photograph".to_owned(), text)];
    let (bytes, place) = match brought {
        Brought::File(bytes, place) => (bytes, place),
        Brought::Nothing => {
            return show(&visitor, id, refused, (&form, ""), cure(t("photo-none-chosen"))).await;
        }
        Brought::TooLarge => {
            return show(&visitor, id, refused, (&form, ""), cure(t("photo-too-large"))).await;
        }
    };
    let Ok(subject) = form.text("subject").parse::<PhotographSubject>() else {
        let cures = vec![("subject".to_owned(), t("photo-subject-cure"))];
        return show(&visitor, id, refused, (&form, ""), cures).await;
    };
    // Another picture is another act, also out of the same form.
    let of_file = hex::encode(Sha256::digest(&bytes));
    let once = form.once_of(ONCE, &format!("POST /batches/{id}/photographs"), &[&of_file])?;
    match kept(&visitor, id, (&form, &once), (bytes, place), subject).await {
        Ok(kept) => Ok(to(&format!("/batches/{id}/photographs#p-{}", kept.id))),
        Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{id}/photographs"))),
        Err(clinic::Error::GateClosed(outstanding)) => gate(&visitor, &outstanding, id).await,
        Err(error) => show(&visitor, id, refused, (&form, ""), cures(error)?).await,
    }
}

/// The photograph, drawn anew before anything is written; then the words about it as an entry of the record, which tells them
/// to nobody but its readers; then the photograph, which belongs to that entry.
async fn kept(
    visitor: &Visitor,
    id: BatchId,
    (form, once): (&Form, &IdempotencyKey),
    (bytes, place): (Vec<u8>, photographs::Admitted),
    subject: PhotographSubject,
) -> Result<Photograph, clinic::Error> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let ready = photographs::develop(clinic, place, bytes).await?;
    let entry = match form.given("words") {
        None => None,
        Some(note) => {
            let note = NewEntry { note: Some(note), ..NewEntry::of(EntryKind::Observation) };
            let of_words = IdempotencyKey { key: format!("{}.words", once.key), ..once.clone() };
            let of_words = IdempotencyKey { route: format!("POST /batches/{id}/entries"), ..of_words };
            let written = bench::entry_create(clinic, credentials, &of_words, id, &note).await?;
            let written: EntryWritten =
                shown(&written).map_err(|_| clinic::Error::internal("an entry that cannot be shown"))?;
            Some(written.entry.number)
        }
    };
    let request = NewPhotographQuery { subject, entry };
    photographs::keep(clinic, credentials, once, id, (&ready, &request)).await
}

async fn withdraw(
    visitor: Visitor,
    path: Path<(String, String)>,
    form: Form,
) -> Result<HttpResponse, Trouble> {
    let (id, photograph) = ids(&path)?;
    let once = form.once(&format!("POST /batches/{id}/photographs/{photograph}/withdrawal"))?;
    let request = WithdrawPhotograph { reason: form.text("reason") };
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    match photographs::withdraw(clinic, credentials, &once, (id, photograph), &request).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{id}/photographs#p-{photograph}"))),
        Err(clinic::Error::GateClosed(outstanding)) => gate(&visitor, &outstanding, id).await,
        Err(error) => {
            let (cures, sent) = (form::faults(error)?, photograph.to_string());
            show(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, (&form, &sent), cures).await
        }
    }
}

fn ids(path: &(String, String)) -> Result<(BatchId, PhotographId), Trouble> {
    let id = path.0.parse().map_err(|_| Trouble::NoPage)?;
    Ok((id, path.1.parse().map_err(|_| Trouble::NoPage)?))
}

async fn picture(visitor: Visitor, path: Path<(String, String)>) -> Result<HttpResponse, Trouble> {
    file(&visitor, &path, PhotographSize::Whole).await
}

async fn preview(visitor: Visitor, path: Path<(String, String)>) -> Result<HttpResponse, Trouble> {
    file(&visitor, &path, PhotographSize::Preview).await
}

async fn file(
    visitor: &Visitor,
    path: &(String, String),
    size: PhotographSize,
) -> Result<HttpResponse, Trouble> {
    let of = ids(path)?;
    let bytes = photographs::file(visitor.clinic(), visitor.credentials(), of, size).await?;
    Ok(HttpResponse::Ok()
        .content_type("image/jpeg")
        .insert_header((header::CONTENT_DISPOSITION, "inline; filename=\"photograph.jpg\""))
        .body(bytes))
}
