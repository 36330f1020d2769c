//! The demo's shelf: lots of invented suppliers, one of them in quarantine, one past its date, one nearly empty, one called back.

use chrono::{Duration, NaiveDate};
use clinic::{Clinic, Credentials, bench, recalls, stock};
use wire::ids::{BatchId, LotId};
use wire::recalls::{CloseRecall, NewRecall, NewRecallOutcome, RecallCause, RecallOutcome};
use wire::stock::{NewIdentityCheck, NewLot, NewMadeLot, NewThreshold};

use super::requests::once;
use crate::error::StartError;

/// Receives the lots and confirms all but one; sets two thresholds.
pub(super) async fn load(
    clinic: &Clinic,
    keeper: &Credentials,
    instructor: &Credentials,
) -> Result<(), StartError> {
    let today = clinic.clock().now().date_naive();
    let lot = |material: &str, amount: &str, supplier: &str, supplier_lot: &str| {
        lot(today, material, amount, (supplier, supplier_lot))
    };
    let until = |days: i64| Some((today + Duration::days(days)).to_string());
    let bees = ("Quillbrook apiary", "Marrowby oils");
    let wax = NewLot { expires: until(45), ..lot("yellow beeswax", "12 g", bees.0, "QB-25-301") };
    let more_wax = NewLot {
        expires: until(700),
        price: Some("18.40 per kg".into()),
        ..lot("yellow beeswax", "2 kg", bees.0, "QB-26-117")
    };
    let oil = NewLot { price: Some("9.80 per L".into()), ..lot("olive oil", "5 L", bees.1, "MO-26-0042") };
    let butter = NewLot {
        received: Some(today - Duration::days(400)),
        ..lot("shea butter", "1 kg", bees.1, "MO-25-0007")
    };
    let lavender = NewLot {
        expires: until(500),
        price: Some("14.50 per 10 g".into()),
        certificate: Some("Composition by gas chromatography, folder 4.".into()),
        ..lot("lavender oil", "100 g", bees.1, "MO-26-0311")
    };
    for lot in [wax, more_wax, oil, butter] {
        let id = received(clinic, keeper, &lot).await?;
        let check = identity("Colour, smell and feel as they should be.");
        stock::identity_check(clinic, instructor, &once(clinic), id, &check).await?;
    }
    let id = received(clinic, keeper, &lavender).await?;
    let check = NewIdentityCheck {
        species: Some("Lavandula angustifolia".into()),
        ..identity("Clear, fresh and floral, no trace of camphor.")
    };
    stock::identity_check(clinic, instructor, &once(clinic), id, &check).await?;
    let flower = NewLot {
        collector: Some("The second-year class".into()),
        site: Some("Clinic garden, bed 3".into()),
        collected: Some(collected(today)),
        ..lot("dried calendula flower", "600 g", "own garden", "bed 3, first picking")
    };
    received(clinic, keeper, &flower).await?;
    for (material, least) in [("yellow beeswax", "500 g"), ("lavender oil", "200 g")] {
        let query = wire::stock::LotQuery { material: Some(material.into()), ..Default::default() };
        let found = stock::lots(clinic, keeper, &query).await?;
        if let Some(material) = found.items.first().and_then(|lot| lot.material) {
            let request = NewThreshold { least: Some(least.into()) };
            stock::threshold_change(clinic, keeper, material, 0, &request).await?;
        }
    }
    Ok(())
}

/// Receives a lot that its supplier then withdraws, and calls it back: nothing was made of it yet.
pub(super) async fn call_one_back(
    clinic: &Clinic,
    keeper: &Credentials,
    instructor: &Credentials,
) -> Result<(), StartError> {
    let today = clinic.clock().now().date_naive();
    let lot =
        received(clinic, keeper, &lot(today, "almond oil", "2 L", ("Marrowby oils", "MO-26-0198"))).await?;
    let reason = "The supplier withdrew it: the drum that it was filled from had no label.".into();
    let request = NewRecall { cause: RecallCause::Lot, id: lot.0, reason };
    let recall = recalls::start(clinic, instructor, &once(clinic), &request).await?.summary.id;
    let note = Some("Sent back to the supplier unopened.".into());
    let request = NewRecallOutcome { item: 1, outcome: RecallOutcome::Returned, note };
    recalls::account(clinic, instructor, &once(clinic), recall, &request).await?;
    recalls::close(clinic, instructor, &once(clinic), recall, &CloseRecall::default()).await?;
    Ok(())
}

/// A lot as it was received some weeks ago, of which nothing more is known.
fn lot(today: NaiveDate, material: &str, amount: &str, (supplier, supplier_lot): (&str, &str)) -> NewLot {
    NewLot {
        material: material.into(),
        supplier: supplier.into(),
        supplier_lot: supplier_lot.into(),
        amount: amount.into(),
        received: Some(today - Duration::days(40)),
        expires: None,
        opened: None,
        price: None,
        assay: None,
        certificate: None,
        collector: None,
        site: None,
        collected: None,
    }
}

/// Puts what a batch made on the shelf, and has it let in; then a second part of it, which waits.
pub(super) async fn shelve(
    clinic: &Clinic,
    maker: &Credentials,
    instructor: &Credentials,
    batch: BatchId,
) -> Result<(), StartError> {
    for (amount, let_in) in [("550 g", true), ("100 g", false)] {
        let request = NewMadeLot { amount: amount.into(), use_by: None };
        let lot = bench::shelve(clinic, maker, &once(clinic), batch, &request).await?.value;
        if let_in {
            let check = identity("Clear, deep yellow, smells of the flower and not rancid.");
            stock::identity_check(clinic, instructor, &once(clinic), lot.summary.id, &check).await?;
        }
    }
    Ok(())
}

/// Some weeks before it was received.
fn collected(today: NaiveDate) -> NaiveDate {
    today - Duration::days(60)
}

async fn received(clinic: &Clinic, keeper: &Credentials, lot: &NewLot) -> Result<LotId, StartError> {
    Ok(stock::receive(clinic, keeper, &once(clinic), lot).await?.value.summary.id)
}

fn identity(organoleptic: &str) -> NewIdentityCheck {
    NewIdentityCheck {
        confirmed: true,
        species: None,
        part: None,
        condition: None,
        organoleptic: organoleptic.into(),
        look_alikes: None,
        foreign_matter: None,
        loss_on_drying: None,
        reason: None,
    }
}
