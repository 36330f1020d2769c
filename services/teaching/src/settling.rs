//! Settling two marks: those that are alike at once, others by whoever gives way or by an instructor who gave neither.
//!
//! Of the two markers neither carries their own mark through. A trigger holds it too.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::moderation_settlement;
use store::{Credentials, Error, IdempotencyKey, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{ModerationId, PersonId};
use wire::problem::FieldError;
use wire::teaching::{CohortRole, CriterionLevel, MarkReason, Moderation, NewSettlement, SettlementOutcome};

use crate::handed::{self, Handed};
use crate::kept::SETTLEMENT;
use crate::pair::{self, Difference, Pair};
use crate::{claims, marks, moderated, seat};

/// Keeps what came of two marks. The caller holds the work.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn put(
    tx: &mut Tx<'_>,
    handed: &Handed,
    pair: &Pair,
    (outcome, mark): (SettlementOutcome, Option<Uuid>),
) -> Result<()> {
    let (id, me, now) = (pair.id(), tx.person()?.id, tx.now());
    diesel::insert_into(moderation_settlement::table)
        .values((
            moderation_settlement::moderation_id.eq(id.0),
            moderation_settlement::outcome.eq(outcome.as_str()),
            moderation_settlement::settled_by.eq(me.0),
            moderation_settlement::mark_id.eq(mark),
            moderation_settlement::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    tx.record(pair::event(handed, id.0, "moderation_settled").keeps(&SETTLEMENT, [id.0]));
    Ok(())
}

/// Settles two marks that differ. Where levels change, another mark counts; both of before stay.
///
/// # Errors
/// As [`moderation`](crate::moderation()); returns [`Error::Forbidden`] for an outcome that the caller cannot choose, [`Error::State`]
/// before the second mark, where they are settled and while another marker holds the work, and [`Error::Invalid`] for refused
/// levels.
pub async fn settle(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ModerationId,
    request: &NewSettlement,
) -> Result<Moderation> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let (pair, handed) = pair::held(tx, id).await?;
                handed::may_mark(tx, &handed).await?;
                decide_between(tx, &pair, &handed, request).await?;
                Ok(id.0)
            },
            async |tx, _| moderated::compared(tx, id).await,
        )
        .await
}

async fn decide_between(
    tx: &mut Tx<'_>,
    pair: &Pair,
    handed: &Handed,
    request: &NewSettlement,
) -> Result<()> {
    if !pair.has_second() {
        return Err(Error::state("waiting", "The second mark is missing. Settle the two when it is given."));
    }
    if pair.is_settled() {
        return Err(Error::state("settled", "These marks are settled already. Read what came of them."));
    }
    let differ = pair::differences(tx, pair.id()).await?;
    let me = tx.person()?.id;
    let role = seat::member(tx, handed.cohort()).await?;
    let permitted = pair.outcomes(me, role, differ.iter().any(|one| one.levels().is_some()));
    if !permitted.contains(&request.outcome) {
        return Err(not_permitted(pair, me, role, request.outcome));
    }
    if request.outcome != SettlementOutcome::Decided && !request.criteria.is_empty() {
        let cure = "Levels are chosen only where an instructor decides between the marks. Omit the field.";
        return Err(Error::field("/criteria", cure));
    }
    let levels = match request.outcome {
        SettlementOutcome::SecondTaken => differ.iter().filter_map(Difference::second).collect(),
        SettlementOutcome::Decided => between(&differ, &request.criteria).map_err(Error::Invalid)?,
        SettlementOutcome::FirstStands | SettlementOutcome::Agreed => Vec::new(),
    };
    let changed = marks::other_than_now(tx, handed, &levels).await?;
    let mark = match changed.is_empty() {
        true => None,
        false => {
            claims::put(tx, handed).await?;
            let mark = marks::change_held(tx, handed, (MarkReason::SecondMarker, &changed)).await?;
            claims::end(tx, handed).await?;
            Some(mark)
        }
    };
    put(tx, handed, pair, (request.outcome, mark)).await
}

fn not_permitted(pair: &Pair, who: PersonId, role: CohortRole, outcome: SettlementOutcome) -> Error {
    let why = if outcome == SettlementOutcome::Agreed {
        let cure = "Marks that are alike settle themselves. Choose first_stands, second_taken or decided.";
        return Error::field("/outcome", cure);
    } else if pair.is_first(who) {
        "You gave the first mark, so you can only take the levels of the second. Ask another instructor to decide."
    } else if pair.is_second(who) {
        "You gave the second mark, so you can only let the first stand. Ask another instructor to decide."
    } else if role == CohortRole::Instructor {
        let detail = "The marks differ only on must-pass criteria, which the verdict decides. Let the first mark stand.";
        return Error::state("verdict_stands", detail);
    } else {
        "Only the two markers and the cohort's instructors settle marks. Ask one of them."
    };
    Error::Forbidden(why.into())
}

/// A level for each criterion whose levels differ, from the lower of the two to the higher; or every fault.
fn between(differ: &[Difference], chosen: &[CriterionLevel]) -> Result<Vec<CriterionLevel>, Vec<FieldError>> {
    let mut errors = Vec::new();
    let open: Vec<(u32, (u32, u32))> =
        differ.iter().filter_map(|one| Some((one.criterion(), one.levels()?))).collect();
    for (i, one) in chosen.iter().enumerate() {
        let at = format!("/criteria/{i}");
        if chosen.iter().take(i).any(|before| before.criterion == one.criterion) {
            errors.push(FieldError::new(
                format!("{at}/criterion"),
                "This criterion is decided already. Send it once.",
            ));
            continue;
        }
        match open.iter().find(|(criterion, _)| *criterion == one.criterion) {
            None => errors.push(FieldError::new(
                format!("{at}/criterion"),
                "The two marks have the same level here. Send only criteria whose levels differ.",
            )),
            Some((_, (first, second))) => {
                let (low, high) = (first.min(second), first.max(second));
                if !(low..=high).contains(&&one.level) {
                    let cure =
                        format!("Choose a level from {low} to {high}: the two marks and what lies between.");
                    errors.push(FieldError::new(format!("{at}/level"), cure));
                }
            }
        }
    }
    let missing: Vec<String> = open
        .iter()
        .filter(|(criterion, _)| !chosen.iter().any(|one| one.criterion == *criterion))
        .map(|(criterion, _)| criterion.to_string())
        .collect();
    if !missing.is_empty() {
        let cure = format!("Decide every criterion whose levels differ. Missing: {}.", missing.join(", "));
        errors.push(FieldError::new("/criteria", cure));
    }
    if errors.is_empty() { Ok(chosen.to_vec()) } else { Err(errors) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_decided_lies_between_the_two_marks() {
        let differ = [Difference::of(1, 3, 1), Difference::must_pass(2)];
        let pointers = |chosen: &[(u32, u32)]| {
            let chosen: Vec<_> = chosen
                .iter()
                .map(|(criterion, level)| CriterionLevel { criterion: *criterion, level: *level })
                .collect();
            between(&differ, &chosen)
                .map(|_| ())
                .map_err(|errors| errors.into_iter().map(|error| error.pointer).collect::<Vec<_>>())
        };
        for level in 1..=3 {
            assert_eq!(pointers(&[(1, level)]), Ok(()));
        }
        assert_eq!(pointers(&[(1, 4)]), Err(vec!["/criteria/0/level".to_owned()]));
        assert_eq!(pointers(&[]), Err(vec!["/criteria".to_owned()]));
        assert_eq!(pointers(&[(1, 2), (1, 2)]), Err(vec!["/criteria/1/criterion".to_owned()]));
        assert_eq!(pointers(&[(1, 2), (2, 1)]), Err(vec!["/criteria/1/criterion".to_owned()]));
    }
}
