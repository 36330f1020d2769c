//! Counting what is left of a lot.

use locks::{Locks, lock};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Versioned};
use wire::ids::LotId;
use wire::stock::{Lot, LotState, NewCount};

use crate::amounts::{self, plain};
use crate::decisions::reason;
use crate::ledger::{self, Moves};
use crate::lots::{Stored, seen, stored};
use crate::reservations;

/// Adjusts the balance of a lot to what was counted, by a movement.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, [`Error::NotFound`] if there is no such lot,
/// [`Error::Moved`] with the balance of now if `version` is not the current one: something was drawn, and the count may be of
/// before or after it. Returns [`Error::Conflict`] if the count is what the ledger says, [`Error::State`] for a discarded lot
/// with something left, and [`Error::Invalid`] for refused fields.
pub async fn count(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: LotId,
    version: i64,
    request: &NewCount,
) -> Result<Versioned<Lot>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.staff()?;
                lock(tx, Locks::new().lots([id.0])).await?;
                let Stored { row, on_hand, last_movement } = stored(tx, id).await?;
                if row.version != version {
                    let (number, left) = (&row.number, plain(on_hand));
                    return Err(Error::Moved(format!(
                        "{number} changed after you read it. The ledger says {left} g now. Weigh what is left, and count again."
                    )));
                }
                let rules = policy::rules(tx).await?;
                let of = amounts::what(tx, row.material_id).await?;
                let reason = reason(&request.reason)?;
                let counted = amounts::read(&request.counted, &of, rules.customary, true)
                    .map_err(|cure| Error::field("/counted", cure))?;
                if row.state()? == LotState::Discarded && !counted.grams.is_zero() {
                    return Err(Error::state(
                        LotState::Discarded,
                        "This lot is discarded. Enter 0 g, or receive what you found as a new lot.",
                    ));
                }
                let moved = counted.grams - on_hand;
                if moved.is_zero() {
                    return Err(Error::Conflict(
                        "The ledger says the same as your count. No adjustment is needed.".into(),
                    ));
                }
                // What was found counts: who reserved more than that last holds nothing any more.
                reservations::fit(tx, id, counted.grams).await?;
                let event = NewEvent::new("lot", id.0, "adjusted");
                let moves = Moves::Adjusted(moved, request.counted.trim(), reason);
                ledger::write(tx, id, last_movement + 1, moves, event).await?;
                Ok(id.0)
            },
            async |tx, _| seen(tx, id).await,
        )
        .await
}
