//! Receiving a lot.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use chrono::NaiveDate;
use clinic::stock;
use wire::stock::NewLot;

use super::fields::{self, Field, others};
use super::standing::keeps;
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/shelf/receive", receive_page);
    mount.post("/shelf/receive", receive);
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
        (fields::fields("receive", &RECEIVE, form, cures), fields::fields("receive", &MORE, form, cures));
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
