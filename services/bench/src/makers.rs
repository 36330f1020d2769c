//! Who made a batch, where it was handed over.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use schema::{batch_handover, batch_handover_answer};
use store::{Result, Tx};
use uuid::Uuid;
use wire::handovers::HandoverAnswer;

/// Everybody who made a batch, in the order in which they had it first.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_record<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<Uuid>> {
    let rows: Vec<(Uuid, Uuid)> = batch_handover::table
        .inner_join(
            batch_handover_answer::table.on(batch_handover_answer::handover_id.eq(batch_handover::id)),
        )
        .filter(batch_handover::batch_id.eq(record.batch().0))
        .filter(batch_handover_answer::answer.eq(HandoverAnswer::Accepted.as_str()))
        .order(batch_handover::number)
        .select((batch_handover::from_id, batch_handover::to_id))
        .load(tx.conn())
        .await?;
    let mut makers: Vec<Uuid> = Vec::new();
    for person in rows.into_iter().flat_map(|(from, to)| [from, to]).chain([record.row().maker_id]) {
        if !makers.contains(&person) {
            makers.push(person);
        }
    }
    Ok(makers)
}
