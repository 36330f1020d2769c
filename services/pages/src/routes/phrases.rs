//! Phrases that an instructor keeps: chosen at a comment, added from one, and looked after on a page of their own.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::marking;
use wire::page::PageQuery;
use wire::teaching::{KeptPhrase, NewPhrase};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/phrases", phrases);
    mount.post("/phrases", add);
    mount.post("/phrases/{id}/remove", remove);
}

/// Before the name of a comment's field: the phrase that is chosen for it.
const CHOSEN: &str = "phrase-";

/// Before the name of a comment's field: that it is to be kept as a phrase.
const KEEP: &str = "keep-";

/// The phrases that the visitor keeps.
pub(super) async fn kept(visitor: &Visitor) -> Result<Vec<KeptPhrase>, Trouble> {
    let all = PageQuery { limit: Some(100), after: None };
    Ok(marking::phrases(visitor.clinic(), visitor.credentials(), &all).await?.items)
}

/// A form with the chosen phrases in their comments, after what was typed. Where scripts run they stand there already.
pub(super) async fn written(visitor: &Visitor, form: &Form) -> Result<Form, Trouble> {
    let of = |(name, id): &(String, String)| Some((name.strip_prefix(CHOSEN)?.to_owned(), id.clone()));
    let chosen: Vec<(String, String)> =
        form.fields().iter().filter_map(of).filter(|(_, id)| !id.is_empty()).collect();
    if chosen.is_empty() {
        return Ok(form.clone());
    }
    let kept = kept(visitor).await?;
    let mut whole = form.clone();
    for (field, id) in chosen {
        let Some(phrase) = kept.iter().find(|one| one.id.to_string() == id) else { continue };
        let text = [whole.text(&field), phrase.text.clone()].join(" ").trim().to_owned();
        whole = whole.with(&field, text).with(&format!("{CHOSEN}{field}"), String::new());
    }
    Ok(whole)
}

/// Keeps the comments of a form that are to be kept as phrases. Answers why one cannot be.
pub(super) async fn keep(visitor: &Visitor, form: &Form) -> Result<Option<String>, Trouble> {
    let fields = form.fields().iter().filter_map(|(name, _)| name.strip_prefix(KEEP));
    for field in fields {
        let Some(text) = form.given(field) else { continue };
        let once = form.once_of(form::ONCE, "POST /phrases", &[KEEP, field])?;
        match marking::phrase_create(visitor.clinic(), visitor.credentials(), &once, &NewPhrase { text })
            .await
        {
            // The same form again: it was kept with the first.
            Ok(_) | Err(clinic::Error::KeyReused) => {}
            Err(error) => {
                let cures = form::faults(error)?.into_iter().map(|(_, cure)| cure);
                return Ok(Some(t1("phrase-not-kept", cures.collect::<Vec<_>>().join(" "))));
            }
        }
    }
    Ok(None)
}

#[derive(Template)]
#[template(path = "phrases.html")]
struct PhrasesPage {
    frame: Frame,
    phrases: Vec<KeptPhrase>,
    text: String,
    cure: String,
    once: String,
}

async fn phrases(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    show(&visitor, StatusCode::OK, String::new(), String::new()).await
}

async fn show(
    visitor: &Visitor,
    status: StatusCode,
    text: String,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let phrases = kept(visitor).await?;
    let frame = visitor.frame(t("phrases-title")).with("forms.js");
    page(status, &PhrasesPage { frame, phrases, text, cure, once: visitor.pages().once() })
}

async fn add(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let once = form.once("POST /phrases")?;
    let text = form.text("text");
    let request = NewPhrase { text: text.clone() };
    match marking::phrase_create(visitor.clinic(), visitor.credentials(), &once, &request).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to("/phrases")),
        Err(error) => {
            let cure = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" ");
            show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, text, cure).await
        }
    }
}

async fn remove(visitor: Visitor, id: Path<String>, _: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = id.parse().map_err(|_| Trouble::NoPage)?;
    match marking::phrase_remove(visitor.clinic(), visitor.credentials(), id).await {
        // Removed already, perhaps by the first of two taps.
        Ok(()) | Err(clinic::Error::NotFound(_)) => Ok(to("/phrases")),
        Err(other) => Err(other.into()),
    }
}
