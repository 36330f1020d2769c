//! The shelf: which lots there are, receiving one, and what was decided of it.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use chrono::NaiveDate;
use clinic::{IdempotencyKey, stock};
use serde::Deserialize;
use wire::ids::{LotId, MaterialId};
use wire::page::PageQuery;
use wire::people::Role;
use wire::stock::{
    Lot, LotDecision, LotMovement, LotQuery, LotReason, LotState, LotSummary, MaterialStock, NewCount,
    NewIdentityCheck, NewLot, NewThreshold, StockQuery,
};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/shelf", shelf);
    mount.get("/shelf/receive", receive_page);
    mount.post("/shelf/receive", receive);
    mount.get("/shelf/lots/{id}", lot_page);
    mount.post("/shelf/lots/{id}", decide);
    mount.get("/shelf/thresholds/{id}", threshold_page);
    mount.post("/shelf/thresholds/{id}", threshold);
}

/// In how many days a lot counts as expiring soon.
const SOON: u16 = 60;

/// What of the shelf is shown.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Usable,
    Quarantine,
    Expiring,
    Low,
}

impl Part {
    const fn word(self) -> &'static str {
        // word("shelf")
        match self {
            Self::Usable => "usable",
            Self::Quarantine => "quarantine",
            Self::Expiring => "expiring",
            Self::Low => "low",
        }
    }
}

/// What was asked for, as the address says.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    show: String,
    number: String,
    after: String,
}

#[derive(Template)]
#[template(path = "shelf.html")]
struct ShelfPage {
    frame: Frame,
    /// The parts of the shelf: address, words, whether it is shown.
    parts: Vec<(String, String, bool)>,
    lots: Vec<LotSummary>,
    stocks: Vec<MaterialStock>,
    low: bool,
    none: String,
    number: String,
    not_found: bool,
    next: String,
    keeper: bool,
}

/// A day with its year, such as "30 Jun 2028", for the left pan.
fn until(frame: &Frame, day: &NaiveDate) -> String {
    t2("date-with-year", frame.short_day(day), day.format("%Y").to_string())
}

impl ShelfPage {
    fn until(&self, lot: &LotSummary) -> String {
        until(&self.frame, &lot.keeps_until)
    }

    fn stands(&self, lot: &LotSummary) -> String {
        stands(&self.frame, lot)
    }

    fn cost(&self, stock: &MaterialStock) -> String {
        let sums = stock.cost.iter().map(|cost| format!("{} {}", cost.amount, cost.currency));
        let mut said = sums.collect::<Vec<_>>().join(", ");
        if !said.is_empty() {
            said = t1("stock-cost", said);
        }
        if stock.lots_without_cost > 0 {
            said = format!("{said} {}", self.frame.count("stock-without-cost", stock.lots_without_cost));
        }
        said.trim_start().to_owned()
    }
}

/// How a lot stands, in words.
fn stands(frame: &Frame, lot: &LotSummary) -> String {
    let mut said = vec![match (lot.state, lot.expired) {
        (LotState::Usable, true) => t("lot-expired"),
        // word("lot-state")
        (state, _) => t(&format!("lot-state-{state}")),
    }];
    if let Some(day) = &lot.opened {
        said.push(t1("lot-opened", frame.day(day)));
    }
    match &lot.on_hand_grams {
        _ if lot.used_up => said.push(t("lot-used-up")),
        Some(grams) => said.push(t1("lot-left", grams.clone())),
        None => {}
    }
    said.join(" ")
}

const fn keeps(role: Role) -> bool {
    matches!(role, Role::Instructor | Role::Administrator)
}

async fn shelf(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let asked = asked.into_inner();
    let keeper = keeps(visitor.role());
    let number = asked.number.trim().to_owned();
    if !number.is_empty()
        && let Some(lot) = numbered(&visitor, &number).await?
    {
        return Ok(to(&format!("/shelf/lots/{lot}")));
    }
    let mut offered = vec![Part::Usable, Part::Quarantine, Part::Expiring];
    if keeper {
        offered.push(Part::Low);
    }
    let part = offered.iter().find(|part| part.word() == asked.show).copied().unwrap_or(Part::Usable);
    let after = Some(asked.after.clone()).filter(|after| !after.is_empty());
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let (mut lots, mut stocks) = (Vec::new(), Vec::new());
    let next = if part == Part::Low {
        // Every material stands here, those that run low before the others.
        let query = StockQuery { low: None, limit: Some(50), after };
        let found = stock::stocks(clinic, credentials, &query).await?;
        stocks = found.items;
        stocks.sort_by_key(|stock| !stock.low);
        found.next
    } else {
        let mut query = LotQuery { limit: Some(50), after, ..LotQuery::default() };
        match part {
            Part::Quarantine => query.state = Some(LotState::Quarantine),
            Part::Expiring => query.expiring_within_days = Some(SOON),
            Part::Usable | Part::Low => query.state = Some(LotState::Usable),
        }
        let found = stock::lots(clinic, credentials, &query).await?;
        lots = found.items;
        found.next
    };
    let next = next.map(|next| {
        let query = [("show", part.word()), ("after", &next)];
        format!("/shelf?{}", serde_urlencoded::to_string(query).unwrap_or_default())
    });
    let words = |part: Part| t(&format!("shelf-{}", part.word()));
    let page_of = ShelfPage {
        frame: visitor.frame(t("shelf-title")),
        parts: offered
            .iter()
            .map(|one| (format!("/shelf?show={}", one.word()), words(*one), *one == part))
            .collect(),
        lots,
        stocks,
        low: part == Part::Low,
        // word("shelf-none")
        none: t(&format!("shelf-none-{}", part.word())),
        not_found: !number.is_empty(),
        number,
        next: next.unwrap_or_default(),
        keeper,
    };
    page(StatusCode::OK, &page_of)
}

/// The lot with a number that was typed or read from a container.
pub(super) async fn numbered(visitor: &Visitor, number: &str) -> Result<Option<LotId>, clinic::Error> {
    let query = LotQuery { number: Some(number.to_owned()), ..LotQuery::default() };
    let found = stock::lots(visitor.clinic(), visitor.credentials(), &query).await?;
    Ok(found.items.first().map(|lot| lot.id))
}

/// A field of a form: its name, what is typed, and what was not accepted.
pub(super) struct Field {
    name: &'static str,
    label: String,
    value: String,
    hint: String,
    cure: String,
    /// More than one line.
    lines: bool,
    required: bool,
    kind: &'static str,
}

/// Fields with what was typed; `of` is the form that they belong to, by which their texts are named.
fn fields(of: &str, names: &[&'static str], form: &Form, cures: &[(String, String)]) -> Vec<Field> {
    let one = |name: &&'static str| {
        let (name, required) = match name.strip_suffix('*') {
            Some(name) => (name, true),
            None => (*name, false),
        };
        let key = name.replace('_', "-");
        let hint = t(&format!("{of}-{key}-hint"));
        Field {
            name,
            label: t(&format!("{of}-{key}")),
            value: form.text(name),
            // A field without a hint has no text of that name.
            hint: if hint.ends_with("-hint") { String::new() } else { hint },
            cure: cures.iter().filter(|(field, _)| field == name).map(|(_, cure)| cure.as_str()).collect(),
            lines: matches!(name, "certificate" | "organoleptic" | "look_alikes" | "reason"),
            required,
            kind: if matches!(name, "received" | "opened" | "collected") { "date" } else { "text" },
        }
    };
    names.iter().map(one).collect()
}

/// Cures of fields that the page does not show.
fn others(fields: &[Field], cures: &[(String, String)]) -> Vec<String> {
    let hidden = |name: &String| !fields.iter().any(|field| field.name == name);
    cures.iter().filter(|(name, _)| hidden(name)).map(|(_, cure)| cure.clone()).collect()
}

#[derive(Template)]
#[template(path = "receive.html")]
struct ReceivePage {
    frame: Frame,
    once: String,
    fields: Vec<Field>,
    more: Vec<Field>,
    faults: Vec<String>,
}

// word("receive")
const RECEIVE: [&str; 5] = ["material*", "amount*", "supplier*", "supplier_lot*", "expires"];
const MORE: [&str; 8] =
    ["received", "opened", "price", "assay", "certificate", "collector", "site", "collected"];

fn receive_shown(
    visitor: &Visitor,
    status: StatusCode,
    form: &Form,
    cures: &[(String, String)],
) -> Result<HttpResponse, Trouble> {
    let frame = visitor.frame(t("receive-title")).with("forms.js");
    let (fields, more) =
        (self::fields("receive", &RECEIVE, form, cures), self::fields("receive", &MORE, form, cures));
    let shown: Vec<(String, String)> =
        cures.iter().filter(|(name, _)| !more.iter().any(|field| field.name == name)).cloned().collect();
    let faults = others(&fields, &shown);
    page(status, &ReceivePage { frame, once: visitor.pages().once(), fields, more, faults })
}

/// Only who keeps the stock receives lots; the use case proves it anew.
fn only_keepers(visitor: &Visitor) -> Result<(), Trouble> {
    match keeps(visitor.role()) {
        true => Ok(()),
        false => Err(clinic::Error::Forbidden(t("only-keepers")).into()),
    }
}

async fn receive_page(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    only_keepers(&visitor)?;
    receive_shown(&visitor, StatusCode::OK, &Form::default(), &[])
}

async fn receive(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let once = form.once("POST /shelf/receive")?;
    let mut cures = Vec::new();
    let mut day = |name: &str| {
        let typed = form.given(name)?;
        let day = typed.parse::<NaiveDate>();
        if day.is_err() {
            cures.push((name.to_owned(), t("day-cure")));
        }
        day.ok()
    };
    let (received, opened, collected) = (day("received"), day("opened"), day("collected"));
    let request = NewLot {
        material: form.text("material"),
        supplier: form.text("supplier"),
        supplier_lot: form.text("supplier_lot"),
        amount: form.text("amount"),
        received,
        expires: form.given("expires"),
        opened,
        price: form.given("price"),
        assay: form.given("assay"),
        certificate: form.given("certificate"),
        collector: form.given("collector"),
        site: form.given("site"),
        collected,
    };
    if !cures.is_empty() {
        return receive_shown(&visitor, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures);
    }
    match stock::receive(visitor.clinic(), visitor.credentials(), &once, &request).await {
        Ok(lot) => Ok(to(&format!("/shelf/lots/{}?new=1", lot.value.summary.id))),
        Err(clinic::Error::Invalid(errors)) => {
            receive_shown(&visitor, StatusCode::UNPROCESSABLE_ENTITY, &form, &form::cures(errors))
        }
        Err(other) => Err(other.into()),
    }
}

/// What was typed on the page of a lot and not accepted, and in which of its forms.
#[derive(Default)]
struct Typed {
    act: String,
    form: Form,
    cures: Vec<(String, String)>,
}

/// One form on the page of a lot.
struct Act {
    name: &'static str,
    title: String,
    says: String,
    fields: Vec<Field>,
    faults: Vec<String>,
    once: String,
    open: bool,
}

#[derive(Template)]
#[template(path = "lot.html")]
struct LotPage {
    frame: Frame,
    lot: Lot,
    received: String,
    until: String,
    stands: String,
    just: String,
    facts: Vec<(String, String)>,
    acts: Vec<Act>,
    movements: Vec<LotMovement>,
    keeper: bool,
}

impl LotPage {
    fn decision(&self, of: &LotDecision) -> String {
        // word("decision")
        let what = t(&format!("decision-{}", of.decision));
        let by = of.by_name.clone().unwrap_or_default();
        t2("by-when", format!("{what} {by}").trim_end().to_owned(), self.frame.when(&of.at))
    }

    /// What was looked at, as name and words.
    fn looked_at(&self, of: &LotDecision) -> Vec<(String, String)> {
        let all = [
            ("identity-species", &of.species),
            ("identity-part", &of.part),
            ("identity-condition", &of.condition),
            ("identity-organoleptic", &of.organoleptic),
            ("identity-look-alikes", &of.look_alikes),
            ("identity-foreign-matter", &of.foreign_matter),
            ("identity-loss-on-drying", &of.loss_on_drying),
            ("why-word", &of.reason),
        ];
        all.into_iter().filter_map(|(name, words)| Some((t(name), words.clone()?))).collect()
    }

    fn moved(&self, of: &LotMovement) -> String {
        // word("movement")
        t(&format!("movement-{}", of.kind))
    }

    fn grams(&self, of: &LotMovement) -> String {
        of.grams.as_deref().map(|grams| format!("{} g", grams.replace('-', "−"))).unwrap_or_default()
    }

    fn when(&self, of: &LotMovement) -> String {
        self.frame.when(&of.at)
    }
}

// word("identity")
const IDENTITY: [&str; 8] = [
    "species",
    "part",
    "condition",
    "organoleptic*",
    "look_alikes",
    "foreign_matter",
    "loss_on_drying",
    "reason",
];
// word("count")
const COUNT: [&str; 2] = ["counted*", "reason*"];
// word("quarantine")
// word("discard")
const WHY: [&str; 1] = ["reason*"];

/// The forms that a lot in this state has for a role.
fn acts(visitor: &Visitor, lot: &Lot, typed: &Typed) -> Vec<Act> {
    let state = lot.summary.state;
    let mut names: Vec<(&'static str, &[&'static str])> = Vec::new();
    if visitor.role() == Role::Instructor && state == LotState::Quarantine {
        names.push(("identity", &IDENTITY));
    }
    if keeps(visitor.role()) {
        if state != LotState::Discarded {
            names.push(("count", &COUNT));
        }
        if state == LotState::Usable {
            names.push(("quarantine", &WHY));
        }
        if state != LotState::Discarded {
            names.push(("discard", &WHY));
        }
    }
    let none = Form::default();
    let act = |(name, of): (&'static str, &[&'static str])| {
        let mine = typed.act == name;
        let form = if mine { &typed.form } else { &none };
        let cures: &[(String, String)] = if mine { &typed.cures } else { &[] };
        let fields = fields(name, of, form, cures);
        Act {
            name,
            title: t(&format!("{name}-act")),
            says: t(&format!("{name}-says")),
            faults: others(&fields, cures),
            fields,
            once: visitor.pages().once(),
            open: mine || name == "identity",
        }
    };
    names.into_iter().map(act).collect()
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Just {
    new: String,
}

async fn lot_page(visitor: Visitor, id: Path<String>, just: Query<Just>) -> Result<HttpResponse, Trouble> {
    let id: LotId = id.parse().map_err(|_| Trouble::NoPage)?;
    let new = !just.new.is_empty();
    lot_shown(&visitor, id, StatusCode::OK, Typed::default(), new).await
}

async fn lot_shown(
    visitor: &Visitor,
    id: LotId,
    status: StatusCode,
    typed: Typed,
    new: bool,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let lot = stock::lot(clinic, credentials, id).await?.value;
    let keeper = keeps(visitor.role());
    let movements = match keeper {
        true => {
            let all = PageQuery { limit: Some(100), after: None };
            stock::movements(clinic, credentials, id, &all).await?.items
        }
        false => Vec::new(),
    };
    let title = format!("{} {}", lot.summary.material_name, lot.summary.number);
    let frame = visitor.frame(title).with("forms.js");
    let facts = [
        ("receive-supplier", Some(lot.summary.supplier.clone())),
        ("receive-supplier-lot", Some(lot.summary.supplier_lot.clone())),
        ("receive-amount", Some(lot.converted_by.clone().unwrap_or_else(|| lot.amount.clone()))),
        ("receive-expires", lot.expires.clone()),
        (
            "receive-price",
            lot.price.as_ref().map(|price| format!("{price} {}", lot.currency.clone().unwrap_or_default())),
        ),
        ("receive-assay", lot.assay.clone()),
        ("receive-certificate", lot.certificate.clone()),
        ("receive-collector", lot.collector.clone()),
        ("receive-site", lot.site.clone()),
        ("receive-collected", lot.collected.map(|day| frame.day(&day))),
    ];
    let page_of = LotPage {
        received: t2(
            "received-by",
            frame.day(&lot.received),
            lot.received_by_name.clone().unwrap_or_default(),
        ),
        until: until(&frame, &lot.summary.keeps_until),
        stands: stands(&frame, &lot.summary),
        just: if new { t1("lot-write-number", lot.summary.number.clone()) } else { String::new() },
        facts: facts.into_iter().filter_map(|(name, words)| Some((t(name), words?))).collect(),
        acts: acts(visitor, &lot, &typed),
        movements,
        keeper,
        lot,
        frame,
    };
    page(status, &page_of)
}

/// Sends one of the forms of a lot.
async fn send(visitor: &Visitor, id: LotId, form: &Form, once: &IdempotencyKey) -> Result<(), Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let reason = || LotReason { reason: form.text("reason") };
    match form.text("act").as_str() {
        "identity" => {
            let check = NewIdentityCheck {
                confirmed: form.text("confirmed") == "yes",
                species: form.given("species"),
                part: form.given("part"),
                condition: form.given("condition"),
                organoleptic: form.text("organoleptic"),
                look_alikes: form.given("look_alikes"),
                foreign_matter: form.given("foreign_matter"),
                loss_on_drying: form.given("loss_on_drying"),
                reason: form.given("reason"),
            };
            stock::identity_check(clinic, credentials, once, id, &check).await?;
        }
        "count" => {
            let count = NewCount { counted: form.text("counted"), reason: form.text("reason") };
            stock::count(clinic, credentials, once, id, &count).await?;
        }
        "quarantine" => {
            stock::quarantine(clinic, credentials, once, id, &reason()).await?;
        }
        "discard" => {
            stock::discard(clinic, credentials, once, id, &reason()).await?;
        }
        _ => return Err(Trouble::Malformed),
    }
    Ok(())
}

async fn decide(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: LotId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /shelf/lots/{id}"))?;
    let refused = match send(&visitor, id, &form, &once).await {
        Ok(()) => return Ok(to(&format!("/shelf/lots/{id}"))),
        Err(Trouble::Clinic(clinic::Error::Invalid(errors))) => form::cures(errors),
        Err(Trouble::Clinic(clinic::Error::Conflict(detail) | clinic::Error::State { detail, .. })) => {
            vec![(String::new(), detail)]
        }
        Err(other) => return Err(other),
    };
    let typed = Typed { act: form.text("act"), form, cures: refused };
    lot_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, typed, false).await
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
