//! What could correct a batch of which too much of a line was weighed, and proposing it.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::{Detail, bench};
use wire::adjustments::{Adjustment, NewAdjustment};
use wire::bench::{BatchRecord, EntryKind};
use wire::ids::BatchId;

use crate::answer::{page, to};
use crate::figures::shown as figure;
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/adjustment", adjustment_page);
    mount.post("/batches/{id}/adjustment", propose);
}

/// A line as it would be.
struct Line {
    name: String,
    asked: String,
    adjusted: String,
    weighed: String,
    to_add: String,
}

#[derive(Template)]
#[template(path = "adjustment.html")]
struct AdjustmentPage {
    frame: Frame,
    id: BatchId,
    number: String,
    title: String,
    /// Why nothing can be corrected; empty where something can.
    none: String,
    /// The material of which too much was weighed.
    of: String,
    lines: Vec<Line>,
    before: String,
    after: String,
    /// A proposal that nobody has authorised.
    waits: String,
    may_propose: bool,
    may_authorise: bool,
    once: String,
    reason: String,
    reason_cure: String,
}

async fn adjustment_shown(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: &[(String, String)],
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let record: BatchRecord = match bench::batch(clinic, credentials, id, Detail::Brief).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/adjustment")).await;
        }
        other => shown(&other?)?,
    };
    let (found, none): (Option<Adjustment>, String) = match bench::adjustment(clinic, credentials, id).await {
        Ok(found) => (Some(shown(&found)?), String::new()),
        Err(clinic::Error::State { detail, .. }) => (None, detail),
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/adjustment")).await;
        }
        Err(other) => return Err(other.into()),
    };
    let own = record.summary.maker == visitor.person().id;
    let of_kind = record.entries.iter().rfind(|entry| entry.kind == EntryKind::Adjustment);
    let waits = of_kind.filter(|entry| entry.authorised.is_none());
    let whole = |of: &wire::figure::Figure| figure(of).whole();
    let lines = found.iter().flat_map(|found| &found.lines).map(|line| Line {
        name: line.name.clone(),
        asked: whole(&line.asked),
        adjusted: whole(&line.adjusted),
        weighed: line.weighed.as_ref().map(whole).unwrap_or_default(),
        to_add: line.to_add.as_ref().map(whole).unwrap_or_default(),
    });
    let page_of = AdjustmentPage {
        frame: visitor.frame(t("adjust-title")).with("forms.js"),
        id,
        number: record.summary.number.clone(),
        title: record.summary.title.clone(),
        none,
        of: found.as_ref().map(|found| found.name.clone()).unwrap_or_default(),
        lines: lines.collect(),
        before: found.as_ref().map(|found| whole(&found.total)).unwrap_or_default(),
        after: found.as_ref().map(|found| whole(&found.recipe.total)).unwrap_or_default(),
        waits: waits.map(|entry| t1("adjust-waits", entry.number.to_string())).unwrap_or_default(),
        may_propose: own && found.is_some(),
        may_authorise: !own && waits.is_some(),
        once: visitor.pages().once(),
        reason: form.text("reason"),
        reason_cure: cures.iter().map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" "),
    };
    page(status, &page_of)
}

async fn adjustment_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    adjustment_shown(&visitor, id, StatusCode::OK, &Form::default(), &[]).await
}

async fn propose(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/adjustment"))?;
    let request = NewAdjustment { reason: form.text("reason") };
    match bench::adjust(visitor.clinic(), visitor.credentials(), &once, id, &request).await {
        // Where it can no longer be proposed, the page says why.
        Ok(_) | Err(clinic::Error::KeyReused | clinic::Error::State { .. }) => {
            Ok(to(&format!("/batches/{id}/adjustment")))
        }
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}/adjustment")).await
        }
        Err(error) => {
            let cures = form::faults(error)?;
            adjustment_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures).await
        }
    }
}
