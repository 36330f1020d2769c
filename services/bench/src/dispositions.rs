//! What is decided about what a batch made. Only [`decide`] changes how it stands.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{batch, batch_decision, batch_decision_caution};
use store::known_as;
use store::sql::batch_made_by;
use store::{Error, NewEvent, Result, Tx, violates, word};
use uuid::Uuid;
use wire::bench::Disposition;
use wire::ids::{BatchId, PersonId};
use wire::jars::{BatchDecision, BatchDecisionKind};
use wire::safety::Caution;

use crate::kept::{BATCH, DECISION};

/// The permitted transitions. What was made for practice is never released; what was recalled is thrown away or stays so.
fn may_become(from: Disposition, to: BatchDecisionKind) -> bool {
    use BatchDecisionKind as To;
    use Disposition as D;
    matches!(
        (from, to),
        (D::Quarantine, To::Released | To::Recalled | To::Discarded)
            | (D::PracticeOnly | D::Released, To::Recalled | To::Discarded)
            | (D::Recalled, To::Discarded)
    )
}

/// Checks a transition before any work for it.
///
/// # Errors
/// Returns [`Error::State`] that says how it stands.
pub(crate) fn check(from: Disposition, to: BatchDecisionKind) -> Result<()> {
    if may_become(from, to) {
        return Ok(());
    }
    let detail = match (from, to) {
        (Disposition::PracticeOnly, _) => {
            "This batch was made for practice. It is never released.".to_owned()
        }
        (Disposition::Recalled, _) => {
            "This batch was recalled. It stays recalled until it is discarded.".to_owned()
        }
        (from, _) => format!("This batch is {from} already."),
    };
    Err(Error::state(from, detail))
}

/// A decision to be written.
pub(crate) struct Decided<'d> {
    pub(crate) decision: BatchDecisionKind,
    pub(crate) reason: Option<&'d str>,
    /// The cautions that were confirmed, of a release.
    pub(crate) confirmed: &'d [Caution],
}

/// Decides about what a locked batch made.
///
/// # Errors
/// As [`check`]; returns [`Error::Conflict`] where the database holds that it cannot be released.
pub(crate) async fn decide(tx: &mut Tx<'_>, id: BatchId, decided: &Decided<'_>) -> Result<Uuid> {
    let by = tx.person()?.id.0;
    let (maker, before, made): (Uuid, String, bool) = batch::table
        .find(id.0)
        .select((batch::maker_id, batch::disposition, batch_made_by(batch::id, by)))
        .first(tx.conn())
        .await?;
    check(word(&before)?, decided.decision)?;
    let (decision, name) = (tx.new_id(), decided.decision.as_str());
    let own = decided.decision == BatchDecisionKind::Released && made;
    let refused = |error: diesel::result::Error| {
        if violates(&error, "batch_released_checked") {
            let cure = "The record is not accepted, a hold waits, or no use-by date is known.";
            return Error::Conflict(cure.into());
        }
        error.into()
    };
    let last: Option<i32> = batch_decision::table
        .filter(batch_decision::batch_id.eq(id.0))
        .select(diesel::dsl::max(batch_decision::number))
        .first(tx.conn())
        .await?;
    diesel::insert_into(batch_decision::table)
        .values((
            batch_decision::id.eq(decision),
            batch_decision::batch_id.eq(id.0),
            batch_decision::maker_id.eq(maker),
            batch_decision::number.eq(last.unwrap_or(0) + 1),
            batch_decision::decision.eq(name),
            batch_decision::reason.eq(decided.reason),
            batch_decision::own_decision.eq(own),
            batch_decision::by_id.eq(by),
            batch_decision::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await
        .map_err(refused)?;
    let confirmed = (1..).zip(decided.confirmed).map(|(number, caution): (i32, &Caution)| {
        (
            batch_decision_caution::decision_id.eq(decision),
            batch_decision_caution::number.eq(number),
            batch_decision_caution::caution.eq(&caution.key),
            batch_decision_caution::text_version.eq(i32::try_from(caution.text_version).unwrap_or(i32::MAX)),
            batch_decision_caution::level.eq(caution.level.as_str()),
            batch_decision_caution::text.eq(&caution.text),
        )
    });
    let confirmed: Vec<_> = confirmed.collect();
    if !confirmed.is_empty() {
        diesel::insert_into(batch_decision_caution::table).values(confirmed).execute(tx.conn()).await?;
    }
    diesel::update(batch::table.find(id.0))
        .set((batch::disposition.eq(name), batch::version.eq(batch::version + 1)))
        .execute(tx.conn())
        .await?;
    let mut event = NewEvent::new("batch", id.0, name);
    if own {
        event = event.detail(serde_json::json!({ "note": OWN }));
    }
    tx.record(event.keeps(&BATCH, [id.0]).keeps(&DECISION, [decision]));
    Ok(decision)
}

/// What a release by its maker says wherever it is shown.
const OWN: &str = "released by its maker";

#[derive(Queryable, Selectable)]
#[diesel(table_name = batch_decision, check_for_backend(diesel::pg::Pg))]
struct Row {
    decision: String,
    reason: Option<String>,
    own_decision: bool,
    by_id: Uuid,
    at: chrono::DateTime<chrono::Utc>,
}

/// The decisions about a batch, the first one first.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_batch(tx: &mut Tx<'_>, id: BatchId) -> Result<Vec<BatchDecision>> {
    let rows: Vec<Row> = batch_decision::table
        .filter(batch_decision::batch_id.eq(id.0))
        .order(batch_decision::number)
        .select(Row::as_select())
        .load(tx.conn())
        .await?;
    let names = known_as::people(tx, rows.iter().map(|row| row.by_id)).await?;
    rows.into_iter()
        .map(|row| {
            Ok(BatchDecision {
                decision: word(&row.decision)?,
                reason: row.reason,
                by: PersonId(row.by_id),
                by_name: names.of(row.by_id),
                at: row.at,
                note: row.own_decision.then(|| OWN.to_owned()),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_made_for_practice_or_recalled_is_never_released() {
        use BatchDecisionKind::{Discarded, Recalled, Released};
        let from = |to| Disposition::ALL.iter().filter(move |from| may_become(**from, to)).count();
        assert_eq!((from(Released), from(Recalled), from(Discarded)), (1, 3, 4));
        for stays in [Disposition::PracticeOnly, Disposition::Recalled, Disposition::Discarded] {
            assert!(check(stays, Released).is_err());
        }
    }
}
