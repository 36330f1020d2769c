//! Calling back what a batch made, in the transaction that recalls.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::batch;
use store::{Result, Tx, word};
use wire::bench::Disposition;
use wire::ids::BatchId;
use wire::jars::BatchDecisionKind;

use crate::dispositions::{Decided, decide};

/// Calls back what a batch made or is making, whatever the state of its record. What was discarded or recalled before stays
/// as it is. The batch is locked by the caller.
///
/// # Errors
/// Returns the errors of the database.
pub async fn recall(tx: &mut Tx<'_>, id: BatchId, reason: &str) -> Result<()> {
    let before: String = batch::table.find(id.0).select(batch::disposition).first(tx.conn()).await?;
    if matches!(word(&before)?, Disposition::Discarded | Disposition::Recalled) {
        return Ok(());
    }
    let recalled = Decided { decision: BatchDecisionKind::Recalled, reason: Some(reason), confirmed: &[] };
    decide(tx, id, &recalled).await?;
    Ok(())
}
