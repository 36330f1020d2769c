//! Putting what a batch made on the shelf.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use chrono::NaiveDate;
use clinic::{Detail, bench, stock};
use wire::bench::{BatchRecord, BatchState, Disposition, EntryKind};
use wire::ids::BatchId;
use wire::stock::{LotQuery, LotSummary, NewMadeLot};

use super::fields::{self, Field, others};
use super::standing::{stands, until};
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/shelf", shelve_page);
    mount.post("/batches/{id}/shelf", shelve);
}

/// Whether what a batch made can be put on the shelf by somebody who reads its record. The use case proves it anew.
pub(crate) fn can_be_shelved(record: &BatchRecord) -> bool {
    record.summary.state == BatchState::Accepted
        && matches!(record.summary.disposition, Disposition::Quarantine | Disposition::Released)
}

#[derive(Template)]
#[template(path = "shelve.html")]
struct ShelvePage {
    frame: Frame,
    id: BatchId,
    title: String,
    number: String,
    yielded: String,
    may: bool,
    lots: Vec<(LotSummary, String, String)>,
    fields: Vec<Field>,
    faults: Vec<String>,
    once: String,
}

// word("shelve")
const SHELVE: [&str; 2] = ["amount*", "use_by"];

async fn shelve_shown(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: &[(String, String)],
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let record: BatchRecord = match bench::batch(clinic, credentials, id, Detail::Brief).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/shelf")).await;
        }
        other => shown(&other?)?,
    };
    let query = LotQuery { batch: Some(id), limit: Some(100), ..LotQuery::default() };
    let lots = stock::lots(clinic, credentials, &query).await?.items;
    let yields =
        record.entries.iter().filter(|one| one.kind == EntryKind::Yield && one.corrected_by.is_none());
    let yielded = yields.filter_map(|one| one.quantity.clone()).next_back();
    let frame = visitor.frame(t("shelve-act")).with("forms.js");
    let fields = fields::fields("shelve", &SHELVE, form, cures);
    let page_of = ShelvePage {
        id,
        title: record.summary.title.clone(),
        number: record.summary.number.clone(),
        yielded: yielded.map(|yielded| t1("shelve-yield", yielded)).unwrap_or_default(),
        may: can_be_shelved(&record),
        lots: lots
            .into_iter()
            .map(|lot| {
                let (until, stands) = (until(&frame, &lot.keeps_until), stands(&frame, &lot));
                (lot, until, stands)
            })
            .collect(),
        faults: others(&fields, cures),
        fields,
        once: visitor.pages().once(),
        frame,
    };
    page(status, &page_of)
}

async fn shelve_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    shelve_shown(&visitor, id, StatusCode::OK, &Form::default(), &[]).await
}

async fn shelve(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/shelf"))?;
    let day = form.given("use_by").map(|typed| typed.parse::<NaiveDate>()).transpose();
    let Ok(use_by) = day else {
        let cures = [("use_by".to_owned(), t("day-cure"))];
        return shelve_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures).await;
    };
    let request = NewMadeLot { amount: form.text("amount"), use_by };
    let cures = match bench::shelve(visitor.clinic(), visitor.credentials(), &once, id, &request).await {
        Ok(lot) => return Ok(to(&format!("/shelf/lots/{}?new=1", lot.value.summary.id))),
        Err(clinic::Error::Invalid(errors)) => form::cures(errors),
        Err(clinic::Error::Conflict(detail) | clinic::Error::State { detail, .. }) => {
            vec![(String::new(), detail)]
        }
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(&visitor, &outstanding, format!("/batches/{id}/shelf")).await;
        }
        Err(other) => return Err(other.into()),
    };
    shelve_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures).await
}
