//! Who made what stands in a lot.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::batch;
use store::sql::batch_made_by;
use store::{Error, Result, Tx};
use uuid::Uuid;

/// Batch and maker of a lot that the clinic made.
pub(crate) struct MadeBy {
    pub(crate) batch: Uuid,
    pub(crate) maker: Uuid,
}

/// Who made what stands in a lot, by its batch; `None` of a material.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of(tx: &mut Tx<'_>, batch: Option<Uuid>) -> Result<Option<MadeBy>> {
    let Some(batch) = batch else { return Ok(None) };
    let maker = batch::table.find(batch).select(batch::maker_id).first(tx.conn()).await?;
    Ok(Some(MadeBy { batch, maker }))
}

/// Whether the caller made what stands in a lot, or a part of it, and lets it in themselves.
///
/// # Errors
/// Returns [`Error::Forbidden`] if they did and the policy demands a second person.
pub(crate) async fn own(tx: &mut Tx<'_>, batch: Option<Uuid>) -> Result<bool> {
    let me = tx.person()?.id.0;
    let own = match batch {
        Some(batch) => diesel::select(batch_made_by(batch, me)).get_result(tx.conn()).await?,
        None => false,
    };
    if own && policy::rules(tx).await?.second_person {
        return Err(Error::Forbidden("You made this. Another instructor lets it in.".into()));
    }
    Ok(own)
}
