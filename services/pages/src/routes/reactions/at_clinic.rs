//! Writing down at the clinic what somebody tells of a jar.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{jars, reactions};
use serde::Deserialize;
use wire::ids::JarId;
use wire::jars::JarSheet;

use super::telling::{Fields, read};
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/handing/{id}/reaction", asked);
    mount.post("/handing/{id}/reaction", tell);
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Told {
    told: String,
}

#[derive(Template)]
#[template(path = "reaction_told.html")]
struct TellPage {
    frame: Frame,
    id: JarId,
    sheet: JarSheet,
    reference: String,
    fields: Fields,
    once: String,
}

async fn shown(
    visitor: &Visitor,
    id: JarId,
    status: StatusCode,
    reference: String,
    fields: Fields,
) -> Result<HttpResponse, Trouble> {
    let sheet = jars::sheet(visitor.clinic(), visitor.credentials(), id).await?;
    let frame = visitor.frame(t("reaction-told-title")).with("forms.js");
    let once = visitor.pages().once();
    page(status, &TellPage { frame, id, sheet, reference, fields, once })
}

async fn asked(visitor: Visitor, id: Path<String>, told: Query<Told>) -> Result<HttpResponse, Trouble> {
    let id: JarId = id.parse().map_err(|_| Trouble::NoPage)?;
    // Only what a reference can be is repeated.
    let reference: String = told.told.chars().filter(char::is_ascii_alphanumeric).take(8).collect();
    shown(&visitor, id, StatusCode::OK, reference, Fields::of(&Form::default(), Vec::new())).await
}

async fn tell(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: JarId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /handing/{id}/reaction"))?;
    let again = async |cures| {
        let fields = Fields::of(&form, cures);
        shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, String::new(), fields).await
    };
    let telling = match read(&form) {
        Ok(telling) => telling,
        Err(cures) => return again(cures).await,
    };
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    match reactions::tell_at_clinic(clinic, credentials, &once, id, &telling).await {
        Ok(receipt) => Ok(to(&format!("/handing/{id}/reaction?told={}", receipt.reference))),
        Err(error) => again(form::faults(error)?).await,
    }
}
