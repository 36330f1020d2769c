//! Importing a table of materials, all rows or none.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use clinic::amendments;
use wire::amendments::{Change, ImportMaterials, NewAmendment};
use wire::problem::FieldError;

use crate::answer::{page, to};
use crate::form::Form;
use crate::frame::Frame;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

#[derive(Template)]
#[template(path = "import.html")]
struct ImportPage {
    frame: Frame,
    csv: String,
    reason: String,
    /// The field, and what is wrong there.
    faults: Vec<(&'static str, String)>,
    once: String,
}

pub(super) async fn form(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    import_show(&visitor, StatusCode::OK, String::new(), String::new(), Vec::new())
}

fn import_show(
    visitor: &Visitor,
    status: StatusCode,
    csv: String,
    reason: String,
    faults: Vec<(&'static str, String)>,
) -> Result<HttpResponse, Trouble> {
    let frame = visitor.frame(t("import-title")).with("forms.js");
    page(status, &ImportPage { frame, csv, reason, faults, once: visitor.pages().once() })
}

pub(super) async fn import(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let (csv, reason) = (form.exact("csv").replace("\r\n", "\n"), form.text("reason"));
    let once = form.once("POST /materials/import")?;
    let change = Change::ImportMaterials(ImportMaterials { csv: csv.clone(), read_at: None });
    let request = NewAmendment { reason: reason.clone(), change };
    match amendments::make(visitor.clinic(), visitor.credentials(), &once, &request).await {
        Ok(made) => Ok(to(&format!("/amendments/{}", made.id))),
        Err(clinic::Error::Invalid(errors)) => {
            let field = |error: &FieldError| if error.pointer.ends_with("reason") { "reason" } else { "csv" };
            let faults = errors.iter().map(|error| (field(error), error.detail.clone())).collect();
            import_show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, csv, reason, faults)
        }
        Err(other) => Err(other.into()),
    }
}
