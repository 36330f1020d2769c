//! Calling back what a batch made, in the transaction that recalls.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::batch;
use store::{NewEvent, Result, Tx, word};
use wire::bench::Disposition;
use wire::ids::BatchId;

use crate::kept::BATCH;

/// Calls back what a batch made or is making, whatever the state of its record. What was discarded or recalled before stays
/// as it is. The batch is locked by the caller.
///
/// # Errors
/// Returns the errors of the database.
pub async fn recall(tx: &mut Tx<'_>, id: BatchId) -> Result<()> {
    let before: String = batch::table.find(id.0).select(batch::disposition).first(tx.conn()).await?;
    if matches!(word(&before)?, Disposition::Discarded | Disposition::Recalled) {
        return Ok(());
    }
    let recalled = Disposition::Recalled.as_str();
    diesel::update(batch::table.find(id.0))
        .set((batch::disposition.eq(recalled), batch::version.eq(batch::version + 1)))
        .execute(tx.conn())
        .await?;
    tx.record(NewEvent::new("batch", id.0, recalled).keeps(&BATCH, [id.0]));
    Ok(())
}
