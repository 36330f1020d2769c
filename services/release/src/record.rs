//! The door of record: what a batch asked for, for its maker and for those who review it.

use store::{Result, Tx};
use wire::bench::BatchRecord;
use wire::ids::{BatchId, RevisionId};
use wire::recipe::Recipe;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{acknowledgement, gate as gates};

use super::{Released, set, store};

/// Keeps the recipe that a batch is opened with, as it was released to the maker.
pub(crate) async fn keep(tx: &mut Tx<'_>, id: BatchId, recipe: &Released<Recipe>) -> Result<()> {
    store::asked_for_insert(tx, id, &serde_json::to_string(recipe.content())?).await
}

/// The recipe a batch was opened with, for the clinic's own rules (findings, conversions).
pub(crate) async fn recipe_of(tx: &mut Tx<'_>, id: BatchId) -> Result<Released<Recipe>> {
    Ok(Released::new(serde_json::from_str(&store::asked_for(tx, id).await?)?))
}

/// Releases a batch record. `shown` says that the caller is its maker, or somebody whose door to its revision is open.
pub(crate) fn release(record: BatchRecord, _shown: &crate::bench::MayRead) -> Released<BatchRecord> {
    Released::new(record)
}

/// Whether the cautions have changed since the batch was opened and its maker has not acknowledged them since.
pub(crate) async fn change_outstanding(
    tx: &mut Tx<'_>,
    revision: RevisionId,
    opened_under: &[u8],
) -> Result<bool> {
    if set::is_current(tx, revision, opened_under).await? {
        return Ok(false);
    }
    let me = tx.actor()?.holder();
    let now = tx.now;
    let acknowledged = acknowledgement::table
        .inner_join(
            gates::table.on(gates::revision_id
                .eq(acknowledgement::revision_id)
                .and(gates::caution_digest.eq(acknowledgement::caution_digest))),
        )
        .filter(acknowledgement::holder_id.eq(me.0))
        .filter(acknowledgement::revision_id.eq(revision.0))
        .filter(acknowledgement::valid_until.gt(now));
    Ok(!diesel::select(diesel::dsl::exists(acknowledged)).get_result::<bool>(tx.conn()).await?)
}
