//! Taking lots out of use for a recall, in the transaction that recalls.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use schema::{lot, lot_decision};
use store::{NewEvent, Result, Tx};
use wire::ids::LotId;
use wire::stock::{LotDecisionKind, LotState};

use crate::kept::{DECISION, LOT};
use crate::lots::{Stored, stored};
use crate::{reservations, states};

/// Takes a lot out of use; what batches hold of it is freed. One that was discarded or recalled before stays as it is. The
/// lot is locked by the caller.
///
/// # Errors
/// Returns the errors of the database.
pub async fn recall(tx: &mut Tx<'_>, id: LotId, reason: &str) -> Result<()> {
    let Stored { row, .. } = stored(tx, id).await?;
    if matches!(row.state()?, LotState::Discarded | LotState::Recalled) {
        return Ok(());
    }
    let decision = LotDecisionKind::Recalled;
    let state = states::after(row.state()?, decision)?;
    let number = row.last_decision + 1;
    let decided = tx.new_id();
    diesel::insert_into(lot_decision::table)
        .values((
            lot_decision::id.eq(decided),
            lot_decision::lot_id.eq(id.0),
            lot_decision::number.eq(number),
            lot_decision::decision.eq(decision.as_str()),
            lot_decision::reason.eq(reason),
            lot_decision::by_id.eq(tx.person()?.id.0),
            lot_decision::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    diesel::update(lot::table.find(id.0))
        .set((
            lot::state.eq(state.as_str()),
            lot::last_decision.eq(number),
            lot::version.eq(lot::version + 1),
        ))
        .execute(tx.conn())
        .await?;
    reservations::fit(tx, id, Decimal::ZERO).await?;
    tx.record(NewEvent::new("lot", id.0, decision.as_str()).keeps(&LOT, [id.0]).keeps(&DECISION, [decided]));
    Ok(())
}
