//! Telling a reaction on the page of a jar, as whoever holds it: no sign-in, no cookie, no script, and nobody is asked who they
//! are.

use actix_web::http::{StatusCode, header};
use actix_web::web::{Data, Path, Query};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use clinic::{jars, reactions};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use wire::jars::JarPage;

use super::telling::{Fields, read};
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::state::Pages;
use crate::texts::{t, t1};
use crate::trouble::Trouble;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/jars/{code}/reaction", asked);
    mount.post("/jars/{code}/reaction", tell);
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Told {
    told: String,
}

#[derive(Template)]
#[template(path = "reaction.html")]
struct TellPage {
    frame: Frame,
    code: String,
    of: JarPage,
    /// The reference of a report that is kept.
    reference: String,
    fields: Fields,
    once: String,
}

fn count(request: &HttpRequest, pages: &Pages) -> Result<(), Trouble> {
    (pages.settings.admit_stranger)(request).map_err(|retry_after| Trouble::TooFast { retry_after })
}

async fn shown(
    pages: &Pages,
    code: &str,
    status: StatusCode,
    reference: String,
    fields: Fields,
) -> Result<HttpResponse, Trouble> {
    let of = jars::jar_page(&pages.clinic, code).await.map_err(|error| match error {
        clinic::Error::NotFound(_) => Trouble::NoPage,
        other => other.into(),
    })?;
    let mut frame = Frame::anybody(t("reaction-title"), pages.clinic.clock().now());
    frame.notice.clone_from(&of.notice);
    // Only letters and digits go into an address.
    let code = code.chars().filter(char::is_ascii_alphanumeric).take(64).collect();
    page(status, &TellPage { frame, code, of, reference, fields, once: pages.once() })
}

async fn asked(
    request: HttpRequest,
    pages: Data<Pages>,
    code: Path<String>,
    told: Query<Told>,
) -> Result<HttpResponse, Trouble> {
    count(&request, &pages)?;
    let reference = match told.told.as_str() {
        "" => String::new(),
        told => match reactions::receipt(&pages.clinic, &code, told).await {
            Ok(receipt) => receipt.reference,
            Err(clinic::Error::NotFound(_)) => return Err(Trouble::NoPage),
            Err(other) => return Err(other.into()),
        },
    };
    shown(&pages, &code, StatusCode::OK, reference, Fields::of(&Form::default(), Vec::new())).await
}

async fn tell(
    request: HttpRequest,
    pages: Data<Pages>,
    code: Path<String>,
    form: Form,
) -> Result<HttpResponse, Trouble> {
    count(&request, &pages)?;
    let again =
        async |status, cures| shown(&pages, &code, status, String::new(), Fields::of(&form, cures)).await;
    let key = form.once(&format!("POST /jars/{code}/reaction"))?;
    let telling = match read(&form) {
        Ok(telling) => telling,
        Err(cures) => return again(StatusCode::UNPROCESSABLE_ENTITY, cures).await,
    };
    if let Err(error) = reactions::acceptable(&pages.clinic, &telling) {
        return again(StatusCode::UNPROCESSABLE_ENTITY, form::faults(error)?).await;
    }
    // What could not be kept is not counted, and what was typed is not lost.
    if let Err(seconds) = (pages.settings.admit_report)(&request) {
        let wait = t1("reaction-too-many", i64::try_from(seconds.div_ceil(60)).unwrap_or(i64::MAX));
        let mut answer = again(StatusCode::TOO_MANY_REQUESTS, vec![(String::new(), wait)]).await?;
        answer.headers_mut().insert(header::RETRY_AFTER, seconds.into());
        return Ok(answer);
    }
    let of_form: [u8; 32] = Sha256::new().chain_update(&key.key).chain_update(key.digest).finalize().into();
    match reactions::tell_on_page(&pages.clinic, &code, of_form, &telling).await {
        Ok(receipt) => {
            let plain: String = code.chars().filter(char::is_ascii_alphanumeric).take(64).collect();
            Ok(to(&format!("/jars/{plain}/reaction?told={}", receipt.reference)))
        }
        Err(clinic::Error::NotFound(_)) => Err(Trouble::NoPage),
        Err(error) => again(StatusCode::UNPROCESSABLE_ENTITY, form::faults(error)?).await,
    }
}
