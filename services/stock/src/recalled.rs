//! Taking lots out of use for a recall, in the transaction that recalls.

use galenics::Decimal;
use store::{NewEvent, Result, Tx};
use wire::ids::LotId;
use wire::stock::{LotDecisionKind, LotState};

use crate::kept::{DECISION, LOT};
use crate::lots::{Stored, stored};
use crate::{decisions, reservations, states};

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
    let decided = decisions::written(tx, id, row.last_decision + 1, (decision, state), reason).await?;
    reservations::fit(tx, id, Decimal::ZERO).await?;
    tx.record(NewEvent::new("lot", id.0, decision.as_str()).keeps(&LOT, [id.0]).keeps(&DECISION, [decided]));
    Ok(())
}
