//! Reserving lots for a batch.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::{Detail, bench};
use wire::bench::{BatchRecord, BatchState};
use wire::ids::BatchId;
use wire::stock::NewReservations;

use super::standing::until;
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
    mount.get("/batches/{id}/reservations", reserve_page);
    mount.post("/batches/{id}/reservations", reserve);
}

/// Whether lots can be reserved for a batch. The use case proves it anew.
pub(crate) const fn can_reserve(state: BatchState, own: bool) -> bool {
    own && matches!(state, BatchState::Planned | BatchState::Making)
}

/// A line for which something is reserved, or nothing.
struct Line {
    place: String,
    name: String,
    lots: Vec<(String, String, String)>,
    enough: bool,
}

#[derive(Template)]
#[template(path = "reserve.html")]
struct ReservePage {
    frame: Frame,
    id: BatchId,
    title: String,
    number: String,
    until: String,
    lines: Vec<Line>,
    may: bool,
    days: String,
    cure: String,
    once: String,
}

async fn reserve_shown(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    days: String,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let record: BatchRecord = match bench::batch(clinic, credentials, id, Detail::Brief).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/reservations")).await;
        }
        other => shown(&other?)?,
    };
    let reserved = bench::reserved(clinic, credentials, id).await?;
    let frame = visitor.frame(t("reserve-act")).with("forms.js");
    let lines = record.recipe.phases.iter().flat_map(|phase| &phase.lines);
    let lines = lines.map(|line| {
        let held = reserved.lines.iter().find(|held| held.line == line.line);
        let lots = held.iter().flat_map(|held| &held.lots);
        Line {
            place: line.line.clone(),
            name: line.name.clone(),
            lots: lots
                .map(|lot| (lot.id.to_string(), lot.number.clone(), until(&frame, &lot.keeps_until)))
                .collect(),
            enough: held.is_some_and(|held| held.enough),
        }
    });
    let page_of = ReservePage {
        id,
        title: record.summary.title.clone(),
        number: record.summary.number.clone(),
        until: reserved.until.map(|at| t1("reserved-until", frame.when(&at))).unwrap_or_default(),
        lines: lines.collect(),
        may: can_reserve(record.summary.state, record.summary.maker == visitor.person().id),
        days,
        cure,
        once: visitor.pages().once(),
        frame,
    };
    page(status, &page_of)
}

async fn reserve_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    reserve_shown(&visitor, id, StatusCode::OK, "3".to_owned(), String::new()).await
}

async fn reserve(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/reservations"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let back = || to(&format!("/batches/{id}/reservations"));
    if form.text("do") == "free" {
        bench::free(clinic, credentials, id).await?;
        return Ok(back());
    }
    let typed = form.text("days");
    // What is no number of days is refused by the use case as one that is too large.
    let days = Some(typed.trim().parse().unwrap_or(u8::MAX));
    let cure = match bench::reserve(clinic, credentials, &once, id, &NewReservations { days }).await {
        Ok(_) => return Ok(back()),
        Err(clinic::Error::Invalid(errors)) => {
            form::cures(errors).into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" ")
        }
        Err(clinic::Error::State { detail, .. }) => detail,
        Err(other) => return Err(other.into()),
    };
    reserve_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, typed, cure).await
}
