//! The threshold of a material.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::stock;
use wire::ids::MaterialId;
use wire::stock::NewThreshold;

use crate::answer::{page, to};
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/shelf/thresholds/{id}", threshold_page);
    mount.post("/shelf/thresholds/{id}", threshold);
}

#[derive(Template)]
#[template(path = "threshold.html")]
struct ThresholdPage {
    frame: Frame,
    id: MaterialId,
    version: i64,
    name: String,
    least: String,
    cure: String,
}

async fn threshold_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: MaterialId = id.parse().map_err(|_| Trouble::NoPage)?;
    threshold_shown(&visitor, id, StatusCode::OK, None, String::new()).await
}

async fn threshold_shown(
    visitor: &Visitor,
    id: MaterialId,
    status: StatusCode,
    typed: Option<String>,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let found = stock::threshold(visitor.clinic(), visitor.credentials(), id).await?;
    let frame = visitor.frame(t1("threshold-title", found.value.material_name.clone())).with("forms.js");
    let least = typed.or(found.value.least).unwrap_or_default();
    let (version, name) = (found.version, found.value.material_name);
    page(status, &ThresholdPage { frame, id, version, name, least, cure })
}

async fn threshold(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: MaterialId = id.parse().map_err(|_| Trouble::NoPage)?;
    let version = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let request = NewThreshold { least: form.given("least") };
    let sent = stock::threshold_change(visitor.clinic(), visitor.credentials(), id, version, &request);
    let typed = Some(form.text("least"));
    match sent.await {
        Ok(_) => Ok(to("/shelf?show=low")),
        Err(clinic::Error::Invalid(errors)) => {
            let cure = errors.into_iter().map(|error| error.detail).collect::<Vec<_>>().join(" ");
            threshold_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, typed, cure).await
        }
        // Somebody else set it meanwhile: their value stands beside what was typed.
        Err(clinic::Error::PreconditionFailed) => {
            let now = stock::threshold(visitor.clinic(), visitor.credentials(), id).await?.value.least;
            let cure = t1("threshold-changed", now.unwrap_or_else(|| t("threshold-none")));
            threshold_shown(&visitor, id, StatusCode::CONFLICT, typed, cure).await
        }
        Err(other) => Err(other.into()),
    }
}
