//! Who made a batch, where it was handed over; and that an offer ends with the making.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use schema::{batch_handover, batch_handover_answer};
use serde_json::json;
use store::{NewEvent, Result, Tx};
use uuid::Uuid;
use wire::filed::{AcceptedOffer, Tenure};
use wire::handovers::HandoverAnswer;
use wire::ids::PersonId;

use crate::kept::HANDOVER_ANSWER;

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

/// Who had a batch, and from when to when, without names: who opened it first.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn tenures<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<Tenure>> {
    type Row = (Uuid, Uuid, Uuid, Option<String>, DateTime<Utc>, DateTime<Utc>);
    let rows: Vec<Row> = batch_handover::table
        .inner_join(
            batch_handover_answer::table.on(batch_handover_answer::handover_id.eq(batch_handover::id)),
        )
        .filter(batch_handover::batch_id.eq(record.batch().0))
        .filter(batch_handover_answer::answer.eq(HandoverAnswer::Accepted.as_str()))
        .order(batch_handover::number)
        .select((
            batch_handover::from_id,
            batch_handover::to_id,
            batch_handover::by_id,
            batch_handover::reason,
            batch_handover::at,
            batch_handover_answer::at,
        ))
        .load(tx.conn())
        .await?;
    let opened_by = match rows.as_slice() {
        [(from, ..), ..] => *from,
        [] => record.row().maker_id,
    };
    let had = |maker: Uuid, from, offer| Tenure {
        maker: PersonId(maker),
        maker_name: None,
        from,
        until: None,
        offer,
    };
    let mut tenures = vec![had(opened_by, record.row().opened_at, None)];
    for (_, to, by, reason, at, accepted) in rows {
        if let Some(before) = tenures.last_mut() {
            before.until = Some(accepted);
        }
        let offer = AcceptedOffer { by: PersonId(by), by_name: None, at, reason };
        tenures.push(had(to, accepted, Some(offer)));
    }
    Ok(tenures)
}

/// Withdraws the offer that waits, where one does: its maker hands the record in or abandons it, so nobody could take it over.
/// The batch is locked, and the caller is its maker.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn offer_withdraw<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<()> {
    let id = record.batch();
    let open: Option<Uuid> = batch_handover::table
        .left_join(batch_handover_answer::table.on(batch_handover_answer::handover_id.eq(batch_handover::id)))
        .filter(batch_handover::batch_id.eq(id.0))
        .filter(batch_handover_answer::handover_id.is_null())
        .select(batch_handover::id)
        .first(tx.conn())
        .await
        .optional()?;
    let Some(open) = open else { return Ok(()) };
    diesel::insert_into(batch_handover_answer::table)
        .values((
            batch_handover_answer::handover_id.eq(open),
            batch_handover_answer::batch_id.eq(id.0),
            batch_handover_answer::answer.eq(HandoverAnswer::Withdrawn.as_str()),
            batch_handover_answer::by_id.eq(tx.person()?.id.0),
            batch_handover_answer::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    let event = NewEvent::new("batch", id.0, "handover_withdrawn").detail(json!({ "handover": open }));
    tx.record(event.keeps(&HANDOVER_ANSWER, [open]));
    Ok(())
}
