//! Accounting for what was recalled, and closing a recall.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, lock};
use schema::{recall, recall_item, recall_outcome};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use uuid::Uuid;
use wire::ids::RecallId;
use wire::problem::FieldError;
use wire::recalls::{CloseRecall, NewRecallOutcome, Recall, RecallOutcome, RecallState};

use crate::kept::{OUTCOME, RECALL};
use crate::read;

/// Notes what came of a lot or batch that was recalled. What was noted before stays; the last counts.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, [`Error::NotFound`] if there is no such recall,
/// [`Error::State`] once it is closed, and [`Error::Invalid`] for refused fields.
pub async fn account(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: RecallId,
    request: &NewRecallOutcome,
) -> Result<Recall> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.staff()?;
                let last = open(tx, id).await?;
                let note = request.note.as_deref().map(str::trim).filter(|note| !note.is_empty());
                let item = acceptable(tx, id, request, note).await?;
                let noted = tx.new_id();
                diesel::insert_into(recall_outcome::table)
                    .values((
                        recall_outcome::id.eq(noted),
                        recall_outcome::recall_id.eq(id.0),
                        recall_outcome::item.eq(item),
                        recall_outcome::number.eq(last + 1),
                        recall_outcome::outcome.eq(request.outcome.as_str()),
                        recall_outcome::note.eq(note),
                        recall_outcome::by_id.eq(tx.person()?.id.0),
                        recall_outcome::at.eq(tx.now()),
                    ))
                    .execute(tx.conn())
                    .await?;
                diesel::update(recall::table.find(id.0))
                    .set((recall::last_outcome.eq(last + 1), recall::version.eq(recall::version + 1)))
                    .execute(tx.conn())
                    .await?;
                let event = NewEvent::new("recall", id.0, "accounted");
                tx.record(event.keeps(&RECALL, [id.0]).keeps(&OUTCOME, [noted]));
                Ok(noted)
            },
            async |tx, _| read::seen(tx, id).await,
        )
        .await
}

/// Closes a recall. It stays closed, and what it reached stays out of use.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless an instructor is calling, [`Error::NotFound`] if there is no such recall,
/// [`Error::State`] if it is closed, and [`Error::Invalid`] where something is not accounted for and no reason is given.
pub async fn close(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: RecallId,
    request: &CloseRecall,
) -> Result<Recall> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.instructor()?;
                open(tx, id).await?;
                let reason = request.reason.as_deref().map(str::trim).filter(|reason| !reason.is_empty());
                if reason.is_some_and(|reason| reason.chars().count() > 1000) {
                    return Err(Error::field("/reason", "Enter the reason in 1 to 1000 characters."));
                }
                let unaccounted = read::seen(tx, id).await?.summary.unaccounted;
                if unaccounted > 0 && reason.is_none() {
                    let said = match unaccounted {
                        1 => "One lot, batch or jar is not accounted for. Account for it, or enter the reason.".into(),
                        some => format!(
                            "{some} lots, batches and jars are not accounted for. Account for them, or enter the reason."
                        ),
                    };
                    return Err(Error::field("/reason", said));
                }
                diesel::update(recall::table.find(id.0))
                    .set((
                        recall::state.eq(RecallState::Closed.as_str()),
                        recall::closed_by.eq(Some(tx.person()?.id.0)),
                        recall::closed_at.eq(Some(tx.now())),
                        recall::closed_because.eq(reason.filter(|_| unaccounted > 0)),
                        recall::version.eq(recall::version + 1),
                    ))
                    .execute(tx.conn())
                    .await?;
                tx.record(NewEvent::new("recall", id.0, "closed").keeps(&RECALL, [id.0]));
                Ok(id.0)
            },
            async |tx, _| read::seen(tx, id).await,
        )
        .await
}

/// Locks a recall that is open; answers the number of what was noted last.
pub(crate) async fn open(tx: &mut Tx<'_>, id: RecallId) -> Result<i32> {
    lock(tx, Locks::new().recall(id)).await?;
    let found: Option<(String, i32)> = recall::table
        .find(id.0)
        .select((recall::state, recall::last_outcome))
        .first(tx.conn())
        .await
        .optional()?;
    let (state, last) = found.ok_or(Error::NotFound("recall"))?;
    let state: RecallState = word(&state)?;
    match state {
        RecallState::Open => Ok(last),
        RecallState::Closed => Err(Error::state(state, "This recall is closed. Start another one.")),
    }
}

/// Refuses what cannot be noted; answers the item.
async fn acceptable(
    tx: &mut Tx<'_>,
    id: RecallId,
    request: &NewRecallOutcome,
    note: Option<&str>,
) -> Result<i32> {
    let mut errors = Vec::new();
    let item = i32::try_from(request.item).unwrap_or(i32::MAX);
    let there: Option<Uuid> = recall_item::table
        .find((id.0, item))
        .select(recall_item::recall_id)
        .first(tx.conn())
        .await
        .optional()?;
    if there.is_none() {
        errors.push(FieldError::new(
            "/item",
            "The recall has no such item. Send the `item` of what it reached.",
        ));
    }
    if note.is_some_and(|note| note.chars().count() > 1000) {
        errors.push(FieldError::new("/note", "Enter 1 to 1000 characters, or omit the field."));
    }
    if request.outcome == RecallOutcome::NotFound && note.is_none() {
        errors.push(FieldError::new("/note", "Enter who was asked, and where it was looked for."));
    }
    if errors.is_empty() { Ok(item) } else { Err(Error::Invalid(errors)) }
}
