//! What a batch of the clinic made, as a lot: an infused oil, a tincture.
//!
//! The crate that holds batches proves the record, its state and its date; here the lot is written. That all lots of a batch
//! hold no more than it yielded is held by a trigger too, which reads the yield behind the gate.

use chrono::{Datelike, NaiveDate};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use locks::{Locks, lock};
use policy::Rules;
use rust_decimal::Decimal as Grams;
use schema::{lot, lot_movement};
use store::{Error, NewEvent, Result, Tx};
use uuid::Uuid;
use wire::ids::{BatchId, LotId, RevisionId};
use wire::stock::{LotState, MovementKind};

use crate::amounts::{self, Of, plain};
use crate::kept::LOT;
use crate::ledger::{self, Moves};
use crate::receiving::next_number;

/// Who supplied what the clinic made.
const MADE_HERE: &str = "made here";

/// What a batch made, as it goes on the shelf. The batch is locked and its record accepted.
#[derive(Clone, Debug)]
pub struct Made<'m> {
    /// The batch.
    pub batch: BatchId,
    /// Its number.
    pub number: &'m str,
    /// The revision that it was made by.
    pub revision: RevisionId,
    /// The day of making.
    pub made_on: NaiveDate,
    /// The last day on which it may be used, by the batch's own date.
    pub use_by: NaiveDate,
    /// Whether that date holds in a refrigerator only.
    pub refrigerate: bool,
    /// An earlier last day, if somebody chose one.
    pub sooner: Option<NaiveDate>,
    /// The recorded yield, in g.
    pub yielded: Decimal,
    /// How much of it is elsewhere, in g: in jars, or lost or kept as a sample since.
    pub elsewhere: Decimal,
    /// How much goes on the shelf, as typed.
    pub amount: &'m str,
}

/// Puts what a batch made on the shelf. It waits in quarantine until an instructor who did not make it lets it in.
///
/// # Errors
/// Returns [`Error::Invalid`] if the amount cannot be read or is more than is left of the yield, or for a date that is later
/// than the batch's own.
pub async fn shelve(tx: &mut Tx<'_>, rules: &Rules, made: &Made<'_>) -> Result<LotId> {
    let (id, by, now) = (tx.new_id(), tx.person()?.id, tx.now());
    let today = rules.date(now);
    let amount = amounts::read(made.amount, &Of::Made, rules.customary, false);
    let amount = amount.map_err(|cure| Error::field("/amount", cure))?.grams;
    let before = shelved(tx, made.batch).await?;
    if before + made.elsewhere + amount > made.yielded {
        let left = plain((made.yielded - before - made.elsewhere).max(Decimal::ZERO));
        let said = match (before.is_zero(), made.elsewhere.is_zero()) {
            (true, true) => format!("The recorded yield is {left} g. Enter that much or less."),
            (false, true) => {
                format!("Of the recorded yield, {left} g is not on the shelf yet. Enter that much or less.")
            }
            (_, false) => format!(
                "Of the recorded yield, {left} g is not on the shelf, in jars, lost or kept as a sample. Enter that much or \
                 less."
            ),
        };
        return Err(Error::field("/amount", said));
    }
    let until = made.sooner.unwrap_or(made.use_by);
    if until > made.use_by || until < today {
        let said =
            format!("Enter a day from today, {today}, to the use-by date of the batch, {}.", made.use_by);
        return Err(Error::field("/use_by", said));
    }
    let mut rule = match made.sooner {
        Some(_) => {
            format!("{until} was chosen; the use-by date of batch {} is {}.", made.number, made.use_by)
        }
        None => format!("It is the use-by date of batch {}.", made.number),
    };
    if made.refrigerate {
        rule.push_str(" Keep it in a refrigerator.");
    }
    let number = next_number(tx, today.year()).await?;
    diesel::insert_into(lot::table)
        .values((
            (
                lot::id.eq(id),
                lot::number.eq(number),
                lot::batch_id.eq(Some(made.batch.0)),
                lot::revision_id.eq(Some(made.revision.0)),
                lot::state.eq(LotState::Quarantine.as_str()),
                lot::supplier.eq(MADE_HERE),
                lot::supplier_lot.eq(made.number),
                lot::received_on.eq(made.made_on),
                lot::keeps_until.eq(until),
                lot::keeps_rule.eq(rule),
                lot::amount.eq(made.amount.trim()),
            ),
            lot::version.eq(0_i64),
            lot::last_decision.eq(0),
            lot::received_by.eq(by.0),
            lot::received_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    let event = NewEvent::new("lot", id, "made").keeps(&LOT, [id]);
    ledger::write(tx, LotId(id), 1, Moves::Received(amount), event).await?;
    Ok(LotId(id))
}

/// Shortens the lots of a batch whose last day was brought forward: none of them keeps longer. The batch is locked.
///
/// # Errors
/// Returns the errors of the database.
pub async fn keep_no_later(tx: &mut Tx<'_>, of: BatchId, until: NaiveDate, batch_number: &str) -> Result<()> {
    let ids: Vec<Uuid> = lot::table
        .filter(lot::batch_id.eq(of.0))
        .filter(lot::keeps_until.gt(until))
        .order(lot::id)
        .select(lot::id)
        .load(tx.conn())
        .await?;
    if ids.is_empty() {
        return Ok(());
    }
    lock(tx, Locks::new().lots(ids.iter().copied())).await?;
    for id in ids {
        // Opening a lot may have shortened it meanwhile.
        let shortened = diesel::update(lot::table.find(id).filter(lot::keeps_until.gt(until)))
            .set((
                lot::keeps_until.eq(until),
                lot::keeps_rule.eq(format!("The last day of batch {batch_number} was brought forward.")),
                lot::version.eq(lot::version + 1),
            ))
            .execute(tx.conn())
            .await?;
        if shortened == 1 {
            tx.record(NewEvent::new("lot", id, "shortened").keeps(&LOT, [id]));
        }
    }
    Ok(())
}

/// What the lots of a batch came in with, in g, discarded ones too: what was thrown away is not there twice.
///
/// # Errors
/// Returns the errors of the database.
pub async fn shelved(tx: &mut Tx<'_>, of: BatchId) -> Result<Decimal> {
    let came: Vec<Option<Grams>> = lot::table
        .inner_join(lot_movement::table.on(lot_movement::lot_id.eq(lot::id)))
        .filter(lot::batch_id.eq(of.0))
        .filter(lot_movement::kind.eq(MovementKind::Received.as_str()))
        .select(lot_movement::grams)
        .load(tx.conn())
        .await?;
    Ok(came.into_iter().flatten().sum())
}
