//! The bench: one act at a time, with wet hands. What is typed is written as it is typed.

use actix_web::http::{StatusCode, header};
use actix_web::web::{Path, Query};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use serde::Deserialize;
use wire::bench::{AtBench, LineAid};
use wire::ids::{BatchId, EntryId, LotId};

use crate::acts::{self, Act};
use crate::answer::{json, page, to};
use crate::effects;
use crate::form::{Form, ONCE};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::reading;
use crate::routes::formula;
use crate::routes::shelf::at_bench::{Choice, choices, chosen};
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;
use list::{list, write_all};
use offline::{device_key, worker};
use record::{read, writable};
use written::{entries, meant, write_entries};

mod adjusting;
mod checks;
mod deviations;
pub(in crate::routes) mod handovers;
mod list;
pub(in crate::routes) mod long_work;
mod offline;
mod outcome;
mod record;
pub(super) mod written;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/bench", at_bench);
    mount.get("/batches/{id}/bench/list", list);
    checks::routes(mount);
    deviations::routes(mount);
    adjusting::routes(mount);
    long_work::routes(mount);
    handovers::routes(mount);
    outcome::routes(mount);
    mount.post("/batches/{id}/entries", write);
    mount.post("/batches/{id}/entries/list", write_all);
    mount.get("/account/device-key", device_key);
    mount.get("/offline", offline::offline);
    mount.get("/offline-worker.js", worker);
}

/// Which act, as the address says.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    act: String,
    correct: String,
    written: String,
    again: String,
}

/// What was typed and not accepted.
#[derive(Default)]
struct Typed {
    quantity: String,
    lot: String,
    lot_expires: String,
    /// The lot of the shelf that was chosen, or that the corrected entry was weighed from, with its words.
    lot_id: Option<(LotId, String)>,
    note: String,
    reason: String,
    deviation: String,
    /// Field and cure.
    cures: Vec<(String, String)>,
    /// What was meant by the quantity, in the unit of its field.
    instead: Vec<String>,
}

impl Typed {
    fn cure(&self, field: &str) -> String {
        let of = self.cures.iter().filter(|(name, _)| name == field);
        of.map(|(_, cure)| cure.clone()).collect::<Vec<_>>().join(" ")
    }

    /// Cures of fields that the page does not show.
    fn others(&self) -> Vec<String> {
        let here = ["quantity", "lot", "lot_id", "lot_expires", "reason", "deviation"];
        self.cures
            .iter()
            .filter(|(name, _)| !here.contains(&name.as_str()))
            .map(|(_, cure)| cure.clone())
            .collect()
    }
}

#[derive(Template)]
#[template(path = "bench.html")]
struct BenchPage {
    frame: Frame,
    batch: BatchId,
    number: String,
    title: String,
    person: String,
    done: usize,
    all: usize,
    acts: Vec<Act>,
    /// The act on the page, by its place.
    at: usize,
    measures_first: bool,
    /// What was written just now.
    just: Option<(String, String)>,
    correcting: Option<(EntryId, String)>,
    typed: Typed,
    onces: Vec<String>,
    changed: String,
    /// What the evaporation raises beside the acknowledged cautions.
    by_loss: Vec<String>,
    again: String,
    /// What is found of the checks before the start.
    checks: Vec<String>,
    /// That too much was weighed, where something could correct it; or that such a correction waits.
    too_much: String,
}

impl BenchPage {
    fn now(&self) -> &Act {
        &self.acts[self.at]
    }

    fn once(&self, i: &usize) -> &str {
        self.onces.get(*i).map_or("", String::as_str)
    }

    /// The lots of the shelf for an act, each with its words and whether it is chosen. `current` is whether the act is the
    /// one on the page.
    fn lots(&self, act: &Act, current: &bool) -> Vec<Choice> {
        let kept = self.typed.lot_id.as_ref().filter(|_| *current);
        choices(&self.frame, &act.aid.lots, kept, *current && self.correcting.is_some())
    }

    /// The chosen lot of the shelf in words; empty where none is chosen.
    fn chosen(&self, act: &Act, current: &bool) -> String {
        let chosen = self.lots(act, current).into_iter().find(|(.., chosen)| *chosen);
        chosen.map(|(_, words, _)| words).unwrap_or_default()
    }

    /// What stands in the field for a typed lot: nothing where one of the shelf is chosen.
    fn typed_lot(&self, act: &Act, current: &bool) -> String {
        if *current && !self.typed.lot.is_empty() {
            return self.typed.lot.clone();
        }
        let chosen = self.lots(act, current).iter().any(|(.., chosen)| *chosen);
        if chosen { String::new() } else { act.aid.lot.clone().unwrap_or_default() }
    }

    /// Acts that may be done while there is no network: they stand on the page, and in no store.
    fn later(&self) -> Vec<(usize, &Act)> {
        let waits = |(i, act): &(usize, &Act)| *i != self.at && !act.is_written();
        self.acts.iter().enumerate().filter(waits).collect()
    }
}

async fn at_bench(visitor: Visitor, id: Path<String>, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    at(&visitor, id, StatusCode::OK, asked.into_inner(), Typed::default()).await
}

async fn at(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    asked: Asked,
    typed: Typed,
) -> Result<HttpResponse, Trouble> {
    let AtBench { record, aids, adjustable } = match read(visitor, id).await {
        Err(Trouble::Clinic(clinic::Error::GateClosed(outstanding))) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/bench")).await;
        }
        other => other?,
    };
    let maker = record.summary.maker == visitor.person().id;
    if !maker || !writable(record.summary.state) {
        return Ok(to(&format!("/batches/{id}")));
    }
    // While it is paused nothing goes on here; what was written before is corrected all the same.
    if asked.correct.is_empty() && !long_work::paused(&visitor.frame(String::new()), &record).is_empty() {
        return Ok(to(&format!("/batches/{id}/long-work")));
    }
    let frame = visitor.frame(record.summary.title.clone()).with("forms.js").with("bench.js");
    let mut acts = acts::acts(&frame, &record, &aids);
    effects::told(visitor, &record, &mut acts).await?;
    acts::rest(&record, &mut acts, asked.correct.is_empty());
    let here = acts.iter().position(|act| act.id == asked.act);
    let open = acts::next(&acts).and_then(|next| acts.iter().position(|act| act.id == next.id));
    let Some(at) = here.or(open) else { return Ok(to(&format!("/batches/{id}"))) };
    let just = just(&acts, &asked.written);
    let correcting = acts[at]
        .written
        .iter()
        .find(|written| written.id.to_string() == asked.correct)
        .map(|written| (written.id, written.words.clone()));
    let mut typed = typed;
    if let Some((_, was)) = &correcting
        && typed.cures.is_empty()
    {
        typed.quantity = was.replace('\u{a0}', " ");
    }
    // A correction keeps the lot, its date, assay and price of what it corrects, until its maker writes others.
    if let Some((id, _)) = &correcting
        && let Some(old) = record.entries.iter().find(|entry| entry.id == *id)
    {
        let (lot, lot_expires) = (old.lot.clone(), old.lot_expires.clone());
        let (assay, price) = (old.assay.clone(), old.price.clone());
        if typed.cures.is_empty() {
            typed.deviation = old.deviation.clone().unwrap_or_default();
            typed.lot_id = old.lot_id.map(|id| (id, old.lot.clone().unwrap_or_default()));
        }
        acts[at].aid = LineAid { lot, lot_expires, assay, price, ..acts[at].aid.clone() };
    }
    let onces = acts.iter().map(|_| visitor.pages().once()).collect();
    let page_of = BenchPage {
        batch: id,
        number: record.summary.number.clone(),
        title: record.summary.title.clone(),
        person: visitor.person().id.to_string(),
        done: acts.iter().filter(|act| act.is_written()).count(),
        all: acts.iter().filter(|act| act.is_written() || !act.is_offered()).count(),
        at,
        measures_first: visitor.measures_first(),
        just,
        correcting,
        typed,
        onces,
        changed: record.caution_change.clone().unwrap_or_default(),
        by_loss: reading::by_loss(&record.recipe.caution_set, record.as_made.as_deref()),
        checks: acts::checks(&record),
        too_much: acts::too_much(&record, adjustable),
        again: if asked.again.is_empty() { String::new() } else { t("bench-again") },
        acts,
        frame,
    };
    page(status, &page_of)
}

/// What the last act wrote, in words, with the way to correct it.
fn just(acts: &[Act], number: &str) -> Option<(String, String)> {
    let number: u32 = number.parse().ok()?;
    let act = acts.iter().find(|act| act.written.iter().any(|written| written.number == number))?;
    let written = act.written.iter().find(|written| written.number == number)?;
    let words = if act.is_step() {
        format!("{} {}", act.title, written.words)
    } else {
        format!("{} {}", written.words, act.title)
    };
    let mut said = t1("written-now", words.trim().to_owned());
    if !act.deviation.is_empty() {
        said = format!("{said} {}. {}", act.deviation, t("within-says"));
    }
    for finding in &act.findings {
        said = format!("{said} {finding}");
    }
    said = format!("{said} {}", act.effect).trim_end().to_owned();
    Some((said, format!("?act={}&correct={}", act.id, written.id)))
}

/// Whether a script asks, which goes on by itself.
fn by_script(request: &HttpRequest) -> bool {
    request
        .headers()
        .get(header::ACCEPT)
        .is_some_and(|accept| accept.as_bytes().starts_with(b"application/json"))
}

async fn write(
    request: HttpRequest,
    visitor: Visitor,
    id: Path<String>,
    form: Form,
) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let entries = entries(&form)?;
    let (once, act) = (form.text(ONCE), form.text("act"));
    let script = by_script(&request);
    match write_entries(&visitor, id, &once, &entries).await {
        Ok(written) => {
            let number = written.as_ref().map_or(0, |written| written.entry.number);
            let next = format!("/batches/{id}/bench?written={number}");
            if script {
                return Ok(json(StatusCode::OK, &serde_json::json!({ "next": next, "number": number })));
            }
            Ok(to(&next))
        }
        Err(clinic::Error::Invalid(errors)) => {
            let instead = meant(&errors, &form.text("quantity"));
            let reason = errors.iter().any(|error| error.pointer == "/deviation");
            let cures = crate::form::cures(errors);
            if script {
                let cure = cures.iter().map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ");
                let told = serde_json::json!({ "cure": cure, "instead": instead, "reason": reason });
                return Ok(json(StatusCode::UNPROCESSABLE_ENTITY, &told));
            }
            let typed = Typed {
                quantity: form.text("quantity"),
                lot: form.text("lot"),
                lot_expires: form.text("lot_expires"),
                lot_id: chosen(&form, "lot_id")?.map(|id| (id, String::new())),
                note: form.text("note"),
                reason: form.text("reason_other"),
                deviation: form.text("deviation"),
                cures,
                instead,
            };
            let asked = Asked { act, correct: form.text("corrects"), ..Asked::default() };
            at(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, asked, typed).await
        }
        // The form did its work before, with other words: what it led to is shown.
        Err(clinic::Error::KeyReused) => {
            if script {
                return Ok(json(StatusCode::CONFLICT, &serde_json::json!({ "cure": t("bench-again") })));
            }
            Ok(to(&format!("/batches/{id}/bench?act={act}&again=1")))
        }
        Err(clinic::Error::State { detail, .. }) => {
            if script {
                return Ok(json(StatusCode::CONFLICT, &serde_json::json!({ "cure": detail })));
            }
            Ok(to(&format!("/batches/{id}")))
        }
        Err(clinic::Error::GateClosed(outstanding)) => {
            if script {
                let next = format!("/batches/{id}/bench?act={act}");
                return Ok(json(
                    StatusCode::FORBIDDEN,
                    &serde_json::json!({ "cure": outstanding.reason, "next": next }),
                ));
            }
            formula::gate(&visitor, &outstanding, format!("/batches/{id}/bench?act={act}")).await
        }
        Err(other) => Err(other.into()),
    }
}
