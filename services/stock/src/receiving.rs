//! Receiving a lot.

use std::sync::Arc;

use chrono::{Datelike, NaiveDate};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use judgement::lot as typed;
use materia::{Materia, Material};
use policy::Rules;
use schema::{lot, lot_counter};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, Versioned, names};
use uuid::Uuid;
use wire::ids::LotId;
use wire::problem::FieldError;
use wire::stock::{Lot, LotState, NewLot};

use crate::amounts::{self, Grams, Of, facts};
use crate::keeping::{self, Keeping};
use crate::kept::LOT;
use crate::ledger::{self, Moves};
use crate::lots::seen;

/// Receives a lot. It waits in quarantine until an instructor has confirmed its identity.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, and [`Error::Invalid`] for refused fields.
pub async fn receive(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewLot,
) -> Result<Versioned<Lot>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.staff()?;
                let (id, by, now) = (tx.new_id(), tx.person()?.id, tx.now());
                let rules = policy::rules(tx).await?;
                let found = material(tx, &request.material, "/material").await;
                let (material, of) = match found {
                    Ok(material) => (material, facts(tx, material).await?),
                    Err(Error::Invalid(refused)) => {
                        return Err(Error::Invalid([refused, texts(request)].concat()));
                    }
                    Err(other) => return Err(other),
                };
                let checked = check(tx.reference, request, &of, &rules, rules.date(now))?;
                let number = next_number(tx, rules.date(now).year()).await?;
                let Checked { received, keeping, amount, price_per_gram } = checked;
                let price = request.price.as_deref().map(str::trim);
                diesel::insert_into(lot::table)
                    .values((
                        (
                            lot::id.eq(id),
                            lot::number.eq(number),
                            lot::material_id.eq(Some(material)),
                            lot::state.eq(LotState::Quarantine.as_str()),
                            lot::supplier.eq(request.supplier.trim()),
                            lot::supplier_lot.eq(request.supplier_lot.trim()),
                            lot::received_on.eq(received),
                            lot::expires.eq(request.expires.as_deref().map(str::trim)),
                            lot::opened_on.eq(request.opened),
                            lot::keeps_until.eq(keeping.until),
                            lot::keeps_rule.eq(keeping.rule),
                            lot::amount.eq(request.amount.trim()),
                            lot::converted_by.eq(amount.converted_by),
                        ),
                        lot::price.eq(price),
                        lot::currency.eq(price.map(|_| rules.currency.as_str())),
                        lot::price_per_gram.eq(price_per_gram),
                        lot::assay.eq(request.assay.as_deref().map(str::trim)),
                        lot::certificate.eq(request.certificate.as_deref().map(str::trim)),
                        lot::collector.eq(request.collector.as_deref().map(str::trim)),
                        lot::site.eq(request.site.as_deref().map(str::trim)),
                        lot::collected_on.eq(request.collected),
                        lot::version.eq(0_i64),
                        lot::last_decision.eq(0),
                        lot::received_by.eq(by.0),
                        lot::received_at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await?;
                let event = NewEvent::new("lot", id, "received").keeps(&LOT, [id]);
                ledger::write(tx, LotId(id), 1, Moves::Received(amount.grams), event).await?;
                Ok(id)
            },
            async |tx, id| seen(tx, LotId(id)).await,
        )
        .await
}

/// The material that a name or an id means.
///
/// # Errors
/// Returns [`Error::Invalid`] at `pointer` with similar names.
pub(crate) async fn material(tx: &mut Tx<'_>, called: &str, pointer: &str) -> Result<Uuid> {
    if let Some(Some(found)) = materials::resolve(tx, &[called]).await?.pop() {
        return Ok(found.id.0);
    }
    let unnamed = materials::nowhere(tx, &[called]).await?.pop().unwrap_or_default();
    Err(Error::Invalid(vec![FieldError::new(pointer, unnamed.said).or(unnamed.near)]))
}

/// The next lot number of the year, such as `L2026-0042`. The row lock of the counter keeps numbers unique and gapless.
pub(crate) async fn next_number(tx: &mut Tx<'_>, year: i32) -> Result<String> {
    let last: i32 = diesel::insert_into(lot_counter::table)
        .values((lot_counter::year.eq(year), lot_counter::last.eq(1)))
        .on_conflict(lot_counter::year)
        .do_update()
        .set(lot_counter::last.eq(lot_counter::last + 1))
        .returning(lot_counter::last)
        .get_result(tx.conn())
        .await?;
    Ok(format!("L{year}-{last:04}"))
}

/// What was read out of a request.
struct Checked {
    received: NaiveDate,
    keeping: Keeping,
    amount: Grams,
    price_per_gram: Option<Decimal>,
}

/// Refusals of the free texts of a request.
fn texts(request: &NewLot) -> Vec<FieldError> {
    let mut errors = Vec::new();
    for (field, text) in [("supplier", &request.supplier), ("supplier_lot", &request.supplier_lot)] {
        if !(1..=100).contains(&text.trim().chars().count()) {
            errors.push(FieldError::new(format!("/{field}"), "Enter 1 to 100 characters."));
        }
        errors.extend(names::refusal(format!("/{field}"), text.trim()));
    }
    for (field, text, most) in [
        ("certificate", &request.certificate, 1000),
        ("collector", &request.collector, 200),
        ("site", &request.site, 200),
    ] {
        if text.as_ref().is_some_and(|text| !(1..=most).contains(&text.trim().chars().count())) {
            let detail = format!("Enter 1 to {most} characters, or omit the field.");
            errors.push(FieldError::new(format!("/{field}"), detail));
        }
    }
    errors
}

fn check(
    reference: &Materia,
    request: &NewLot,
    material: &Arc<Material>,
    rules: &Rules,
    today: NaiveDate,
) -> Result<Checked> {
    let mut errors = texts(request);
    let mut refuse = |field: &str, detail: String| errors.push(FieldError::new(format!("/{field}"), detail));
    let received = request.received.unwrap_or(today);
    if received > today {
        refuse("received", format!("This day is still to come. Enter {today} or an earlier day."));
    }
    if request.opened.is_some_and(|day| day < received || day > today) {
        refuse("opened", format!("Enter a day from its receipt, {received}, to today, {today}."));
    }
    if request.collected.is_some_and(|day| day > received) {
        refuse("collected", format!("It was received on {received}. Enter that day or an earlier one."));
    }
    let mut printed = None;
    match request.expires.as_deref().map(|text| (text, typed::expiry(text))) {
        None => {}
        Some((_, Err(cure))) => refuse("expires", cure.to_owned()),
        Some((text, Ok(expiry))) => match expiry.last_day() {
            Some(last) if last < received => refuse(
                "expires",
                format!("The lot expired on {last}, before its receipt. Send it back, or correct the date."),
            ),
            last => printed = last.map(|last| (text.trim(), last)),
        },
    }
    let of = Of::Material(Arc::clone(material));
    let amount = amounts::read(&request.amount, &of, rules.customary, false);
    let amount = amount.map_err(|cure| refuse("amount", cure)).ok();
    let price = request.price.as_deref();
    let price = price.map(|text| amounts::price_per_gram(text, material, &rules.currency, rules.customary));
    let price_per_gram = match price {
        Some(Err(cure)) => {
            refuse("price", cure);
            None
        }
        Some(Ok(per_gram)) => per_gram,
        None => None,
    };
    if let Some(Err(cure)) = request.assay.as_deref().map(|text| typed::assay(reference, text)) {
        refuse("assay", cure);
    }
    let keeping = keeping::unopened(material, received, printed);
    if keeping.is_none() {
        refuse("received", "This day is out of range. Enter a day such as 2026-03-31.".into());
    }
    match (errors.is_empty(), keeping, amount) {
        (true, Some(keeping), Some(amount)) => {
            let keeping = match request.opened {
                Some(on) => keeping::opened(material, keeping, on),
                None => keeping,
            };
            Ok(Checked { received, keeping, amount, price_per_gram })
        }
        _ => Err(Error::Invalid(errors)),
    }
}
