//! A lot, and what is decided of it.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{IdempotencyKey, stock};
use serde::Deserialize;
use wire::ids::LotId;
use wire::page::PageQuery;
use wire::people::Role;
use wire::stock::{
    Lot, LotDecision, LotLookAlike, LotMovement, LotReason, LotState, NewCount, NewIdentityCheck,
};

use super::fields::{Field, fields, others};
use super::standing::{keeps, stands, until};
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/shelf/lots/{id}", lot_page);
    mount.post("/shelf/lots/{id}", decide);
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

    /// Where a look-alike is written, and how far that was checked, said once.
    fn source(&self, of: &LotLookAlike) -> String {
        match of.source.text.starts_with(&of.source.status) {
            true => of.source.text.clone(),
            false => format!("{} ({})", of.source.text, of.source.status),
        }
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
            ("identity-why", &of.reason),
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
// word("let-in")
const LET_IN: [&str; 2] = ["organoleptic*", "reason"];
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
        names.push(match lot.made {
            Some(_) => ("let-in", &LET_IN),
            None => ("identity", &IDENTITY),
        });
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
            open: mine || matches!(name, "identity" | "let-in"),
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
    let bought = |words: &String| Some(words.clone()).filter(|_| lot.made.is_none());
    let facts = [
        ("receive-supplier", bought(&lot.summary.supplier)),
        ("receive-supplier-lot", bought(&lot.summary.supplier_lot)),
        ("receive-amount", lot.converted_by.clone().or_else(|| lot.amount.clone())),
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
        received: match &lot.made {
            Some(made) => {
                t2("made-by", made.maker_name.clone().unwrap_or_default(), frame.day(&lot.received))
            }
            None => {
                t2("received-by", frame.day(&lot.received), lot.received_by_name.clone().unwrap_or_default())
            }
        },
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
        "identity" | "let-in" => {
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
            let version = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
            stock::count(clinic, credentials, once, id, version, &count).await?;
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
        // Something was drawn since the page was read: it says what the ledger says now, and keeps what was typed.
        Err(Trouble::Clinic(
            clinic::Error::Conflict(detail)
            | clinic::Error::Moved(detail)
            | clinic::Error::State { detail, .. },
        )) => vec![(String::new(), detail)],
        Err(other) => return Err(other),
    };
    let typed = Typed { act: form.text("act"), form, cures: refused };
    lot_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, typed, false).await
}
