//! The bench: one act at a time, with wet hands. What is typed is written as it is typed.

use actix_web::http::{StatusCode, header};
use actix_web::web::{Path, Query};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use clinic::{IdempotencyKey, bench};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use wire::bench::{AtBench, BatchRecord, BatchState, EntryKind, EntryWritten, LineAid, NewEntry};
use wire::ids::{BatchId, EntryId, LotId};
use wire::stock::LotChoice;

use crate::acts::{self, Act};
use crate::answer::{page, to};
use crate::effects;
use crate::form::{Form, ONCE};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::reading;
use crate::routes::formula;
use crate::routes::shelf::at_bench::{Choice, choices, chosen, of_shelf};
use crate::seal::{self, For};
use crate::shown::shown;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/bench", at_bench);
    mount.get("/batches/{id}/bench/list", list);
    mount.post("/batches/{id}/entries", write);
    mount.post("/batches/{id}/entries/list", write_all);
    mount.get("/account/device-key", device_key);
    mount.get("/offline", offline);
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
    /// Field and cure.
    cures: Vec<(String, String)>,
}

impl Typed {
    fn cure(&self, field: &str) -> String {
        let of = self.cures.iter().filter(|(name, _)| name == field);
        of.map(|(_, cure)| cure.clone()).collect::<Vec<_>>().join(" ")
    }

    /// Cures of fields that the page does not show.
    fn others(&self) -> Vec<String> {
        let here = ["quantity", "lot", "lot_id", "lot_expires", "reason"];
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

/// A record with what helps to weigh.
async fn read(visitor: &Visitor, id: BatchId) -> Result<(BatchRecord, Vec<LineAid>), Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let AtBench { record, aids } = shown(&bench::at_bench(clinic, credentials, id).await?)?;
    Ok((record, aids))
}

const fn writable(state: BatchState) -> bool {
    matches!(state, BatchState::Planned | BatchState::Making | BatchState::Returned)
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
    let (record, aids) = match read(visitor, id).await {
        Err(Trouble::Clinic(clinic::Error::GateClosed(outstanding))) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/bench")).await;
        }
        other => other?,
    };
    let maker = record.summary.maker == visitor.person().id;
    if !maker || !writable(record.summary.state) {
        return Ok(to(&format!("/batches/{id}")));
    }
    let frame = visitor.frame(record.summary.title.clone()).with("forms.js").with("bench.js");
    let mut acts = acts::acts(&frame, &record, &aids);
    effects::told(visitor, &record, &mut acts).await?;
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

/// A quantity as it was typed, with the unit of its well where none was typed.
fn with_unit(text: &str, unit: &str) -> String {
    let bare = text.ends_with(|c: char| c.is_ascii_digit());
    if bare && !unit.is_empty() { format!("{text} {unit}") } else { text.to_owned() }
}

/// The entries that one form writes, in order.
fn entries(form: &Form) -> Result<Vec<NewEntry>, Trouble> {
    let kind: EntryKind = form.text("kind").parse().map_err(|_| Trouble::Malformed)?;
    let base = |kind| NewEntry {
        kind,
        line: None,
        step: None,
        quantity: None,
        lot: None,
        lot_id: None,
        lot_expires: None,
        assay: None,
        price: None,
        note: None,
        corrects: None,
        reason: None,
    };
    let corrects = form.given("corrects").map(|id| id.parse()).transpose().map_err(|_| Trouble::Malformed)?;
    let reason = form.given("reason_other").or_else(|| form.given("reason"));
    let step = form.text("step").parse().ok();
    let quantity = |unit| form.given("quantity").map(|text| with_unit(&text, unit));
    Ok(match kind {
        EntryKind::Weighing => vec![NewEntry {
            line: form.given("line"),
            quantity: Some(quantity("g").unwrap_or_default()),
            lot: form.given("lot"),
            lot_id: chosen(form, "lot_id")?,
            lot_expires: form.given("lot_expires"),
            assay: form.given("assay"),
            price: form.given("price"),
            note: form.given("note"),
            corrects,
            reason,
            ..base(kind)
        }],
        EntryKind::Yield => {
            vec![NewEntry {
                quantity: Some(quantity("g").unwrap_or_default()),
                corrects,
                reason,
                note: form.given("note"),
                ..base(kind)
            }]
        }
        EntryKind::Ph | EntryKind::WaterActivity => {
            vec![NewEntry {
                quantity: Some(quantity("").unwrap_or_default()),
                corrects,
                reason,
                note: form.given("note"),
                ..base(kind)
            }]
        }
        EntryKind::Temperature => {
            vec![NewEntry {
                step,
                quantity: Some(quantity("C").unwrap_or_default()),
                corrects,
                reason,
                ..base(kind)
            }]
        }
        EntryKind::Observation => {
            vec![NewEntry { step, note: form.given("note"), corrects, reason, ..base(kind) }]
        }
        EntryKind::StepDone => {
            let heat = quantity("C").map(|text| NewEntry {
                step,
                quantity: Some(text.replace("°C", "C")),
                ..base(EntryKind::Temperature)
            });
            let seen = form.given("note").map(|note| NewEntry {
                step,
                note: Some(note),
                ..base(EntryKind::Observation)
            });
            let done = NewEntry { step, corrects, reason, ..base(kind) };
            heat.into_iter().chain(seen).chain([done]).collect()
        }
    })
}

/// The key of one entry of a form: the same entry again does nothing twice.
fn key(once: &str, part: &str, id: BatchId, entry: &NewEntry) -> Result<IdempotencyKey, Trouble> {
    if once.is_empty() || once.len() > 100 || !once.bytes().all(|byte| byte.is_ascii_graphic()) {
        return Err(Trouble::Malformed);
    }
    let body = serde_json::to_vec(entry).map_err(clinic::Error::from)?;
    Ok(IdempotencyKey {
        key: format!("{once}.{part}"),
        route: format!("POST /batches/{id}/entries"),
        digest: Sha256::digest(&body).into(),
    })
}

/// Writes the entries of a form, in order; the last one that was written.
async fn write_entries(
    visitor: &Visitor,
    id: BatchId,
    once: &str,
    entries: &[NewEntry],
) -> Result<Option<EntryWritten>, clinic::Error> {
    let mut last = None;
    for (i, entry) in entries.iter().enumerate() {
        let entry = &of_shelf(visitor, entry.clone()).await?;
        let Ok(key) = key(once, &format!("{i}{}", entry.kind.as_str()), id, entry) else {
            return Err(clinic::Error::field("", t("form-without-key")));
        };
        let written = bench::entry_create(visitor.clinic(), visitor.credentials(), &key, id, entry).await?;
        last = shown(&written).ok();
    }
    Ok(last)
}

/// Whether a script asks, which goes on by itself.
fn by_script(request: &HttpRequest) -> bool {
    request
        .headers()
        .get(header::ACCEPT)
        .is_some_and(|accept| accept.as_bytes().starts_with(b"application/json"))
}

fn json(status: StatusCode, value: &serde_json::Value) -> HttpResponse {
    HttpResponse::build(status).content_type("application/json").body(value.to_string())
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
            let cures = crate::form::cures(errors);
            if script {
                let cure = cures.iter().map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ");
                return Ok(json(StatusCode::UNPROCESSABLE_ENTITY, &serde_json::json!({ "cure": cure })));
            }
            let typed = Typed {
                quantity: form.text("quantity"),
                lot: form.text("lot"),
                lot_expires: form.text("lot_expires"),
                lot_id: chosen(&form, "lot_id")?.map(|id| (id, String::new())),
                note: form.text("note"),
                reason: form.text("reason_other"),
                cures,
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

/// One line of the list, as it came back.
struct ListLine {
    act: Act,
    once: String,
    typed: String,
    cure: String,
}

impl ListLine {
    /// The lot of the shelf that it is weighed from: of those that hold enough, the one that expires first.
    fn shelf(&self) -> Option<&LotChoice> {
        self.act.aid.lots.iter().find(|lot| lot.enough)
    }
}

#[derive(Template)]
#[template(path = "bench_list.html")]
struct ListPage {
    frame: Frame,
    batch: BatchId,
    title: String,
    made_for: String,
    lines: Vec<ListLine>,
    done: usize,
    all: usize,
}

async fn list(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    list_page(&visitor, id, StatusCode::OK, &Form::default(), &[]).await
}

async fn list_page(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: &[(String, String)],
) -> Result<HttpResponse, Trouble> {
    let (record, aids) = read(visitor, id).await?;
    if record.summary.maker != visitor.person().id || !writable(record.summary.state) {
        return Ok(to(&format!("/batches/{id}")));
    }
    let frame = visitor.frame(t("list-title")).with("forms.js");
    let acts = acts::acts(&frame, &record, &aids);
    let weighings: Vec<&Act> = acts.iter().filter(|act| act.is_weigh()).collect();
    let all = weighings.len();
    let open: Vec<Act> = weighings.into_iter().filter(|act| !act.is_written()).cloned().collect();
    let lines: Vec<ListLine> = open
        .into_iter()
        .map(|act| ListLine {
            once: form.given(&format!("once-{}", act.line)).unwrap_or_else(|| visitor.pages().once()),
            typed: form.text(&format!("q-{}", act.line)),
            cure: cures.iter().filter(|(line, _)| *line == act.line).map(|(_, cure)| cure.clone()).collect(),
            act,
        })
        .collect();
    let (title, made_for) = (record.summary.title.clone(), record.recipe.made_for.clone());
    let page_of = ListPage { frame, batch: id, title, made_for, done: all - lines.len(), all, lines };
    page(status, &page_of)
}

/// Each line is an entry with a key of its own; one that is refused stays with its cure while the others are written.
async fn write_all(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let mut cures = Vec::new();
    let lines =
        form.fields().iter().filter_map(|(name, value)| Some((name.strip_prefix("q-")?, value.trim())));
    for (line, typed) in lines.filter(|(_, typed)| !typed.is_empty()) {
        let entry = NewEntry {
            kind: EntryKind::Weighing,
            line: Some(line.to_owned()),
            quantity: Some(with_unit(typed, "g")),
            lot: form.given(&format!("lot-{line}")),
            lot_id: chosen(&form, &format!("lot_id-{line}"))?,
            lot_expires: form.given(&format!("until-{line}")),
            price: form.given(&format!("price-{line}")),
            assay: form.given(&format!("assay-{line}")),
            step: None,
            note: None,
            corrects: None,
            reason: None,
        };
        match write_entries(&visitor, id, &form.text(&format!("once-{line}")), &[entry]).await {
            Ok(_) | Err(clinic::Error::KeyReused) => {}
            Err(clinic::Error::Invalid(errors)) => {
                cures.extend(errors.into_iter().map(|error| (line.to_owned(), error.detail)));
            }
            Err(other) => return Err(other.into()),
        }
    }
    if cures.is_empty() {
        return Ok(to(&format!("/batches/{id}/bench")));
    }
    list_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures).await
}

/// The key that this person's device seals unsent entries with. A script hands it to the browser's own cryptography, which
/// gives it to no script again.
async fn device_key(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    let person = visitor.person().id;
    let key = seal::derived(&visitor.pages().settings.secret, For::Unsent(person));
    let body = serde_json::json!({ "person": person, "key": hex::encode(key) });
    Ok(json(StatusCode::OK, &body))
}

#[derive(Template)]
#[template(path = "offline.html")]
struct OfflinePage {
    frame: Frame,
}

/// What a phone shows when the bench is opened again without a network. It holds nothing of anybody.
async fn offline(pages: actix_web::web::Data<crate::state::Pages>) -> Result<HttpResponse, Trouble> {
    let frame = Frame::anybody(t("kept-here"), pages.clinic.clock().now()).with("offline.js");
    page(StatusCode::OK, &OfflinePage { frame })
}

/// The service worker keeps files and the page above, and no other page.
async fn worker() -> Result<HttpResponse, Trouble> {
    let files = ["stillroom.css", "hyperlegible.woff2", "mark.svg", "offline.js", "unsent.js", "balance.js"];
    let addresses: Vec<String> = files.iter().map(|file| crate::assets::address(file)).collect();
    let script = include_str!("../../assets/worker.js")
        .replace("\"FILES\"", &serde_json::to_string(&addresses).map_err(clinic::Error::from)?)
        .replace("EDITION", crate::assets::edition());
    Ok(HttpResponse::Ok()
        .content_type("text/javascript; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "no-cache"))
        .body(script))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_writes_its_temperature_what_was_seen_and_that_it_was_done() {
        let form = Form::parse(b"kind=step_done&step=2&quantity=58&note=clear").unwrap();
        let written = entries(&form).unwrap();
        let kinds: Vec<_> = written.iter().map(|entry| entry.kind.as_str()).collect();
        assert_eq!(kinds, ["temperature", "observation", "step_done"]);
        assert_eq!(written[0].quantity.as_deref(), Some("58 C"));
        let form = Form::parse(b"kind=weighing&line=1.2&quantity=62,7&lot=").unwrap();
        let written = entries(&form).unwrap();
        assert_eq!((written[0].quantity.as_deref(), written[0].lot.as_deref()), (Some("62,7 g"), None));
    }
}
