//! The second person's word on an amendment, and an instructor's on what was withheld because of one.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::amendment;
use store::{Claim, Error, NewEvent, Result, Versioned, word};
use uuid::Uuid;
use wire::amendments::{Amendment, AmendmentDecision, AmendmentState, DecideAmendment, Reinstate};
use wire::formulary::{Revision, RevisionState};
use wire::ids::{AmendmentId, PersonId, RevisionId};

use ::formulary::change::StoredChange;

use super::kept::AMENDMENT;
use super::{apply, show};
use crate::Clinic;

/// Confirms an amendment, which comes into force then, or refuses it. Its author may refuse it, to take it back, and
/// never confirms it.
///
/// # Errors
/// When the caller is not an instructor, is its author and confirms, or it was decided already; when what it changes has
/// changed meanwhile.
pub async fn decide(
    clinic: &Clinic,
    claim: &Claim,
    id: AmendmentId,
    request: &DecideAmendment,
) -> Result<Amendment> {
    clinic
        .store
        .write(claim, async |tx| {
            let me = tx.instructor()?.id();
            let row: Option<(String, serde_json::Value, Option<Uuid>)> = amendment::table
                .find(id.0)
                .select((amendment::state, amendment::change, amendment::created_by))
                .for_update()
                .first(tx.conn())
                .await
                .optional()?;
            let (state, change, made_by) = row.ok_or(Error::NotFound("amendment"))?;
            let state: AmendmentState = word(&state)?;
            if state != AmendmentState::AwaitingSecondPerson {
                return Err(Error::state(
                    state,
                    format!("this amendment is {state}; only one that is awaiting_second_person is decided"),
                ));
            }
            let author = made_by.map(PersonId).ok_or_else(|| Error::internal("an amendment of nobody"))?;
            if author == me && request.decision == AmendmentDecision::Confirm {
                return Err(Error::Forbidden(
                    "nobody confirms their own amendment: ask another instructor".into(),
                ));
            }
            let to = match request.decision {
                AmendmentDecision::Confirm => AmendmentState::InForce,
                AmendmentDecision::Refuse => AmendmentState::Refused,
            };
            let now = tx.now;
            diesel::update(amendment::table.find(id.0))
                .set((
                    amendment::state.eq(to.as_str()),
                    amendment::decided_by.eq(me.0),
                    amendment::decided_at.eq(now),
                    // Only taking back: the author's refusal makes nothing less cautious.
                    amendment::own_decision.eq(author == me),
                ))
                .execute(tx.conn())
                .await?;
            match request.decision {
                AmendmentDecision::Confirm => {
                    let stored: StoredChange = serde_json::from_value(change)?;
                    apply::apply(tx, id.0, &stored.change, author).await?;
                }
                AmendmentDecision::Refuse => {
                    tx.record(NewEvent::new("amendment", id.0, "refused").keeps(&AMENDMENT, [id.0]));
                }
            }
            show::one(tx, id.0).await
        })
        .await
}

/// Lets a withheld revision be made again.
///
/// # Errors
/// When the caller is not an instructor of its library, it is not withheld, or a stop still stands.
pub async fn reinstate(
    clinic: &Clinic,
    claim: &Claim,
    id: RevisionId,
    request: &Reinstate,
) -> Result<Versioned<Revision>> {
    clinic
        .store
        .write(claim, async |tx| {
            let facts = ::formulary::visible(tx, id, true).await?;
            let me = tx.instructor()?;
            if facts.state != RevisionState::Approved {
                return Err(Error::state(facts.state, "only what is approved is ever withheld"));
            }
            let reason = request.reason.trim();
            if !(1..=2000).contains(&reason.chars().count()) {
                return Err(Error::field("/reason", "say why: 1 to 2000 characters"));
            }
            ::formulary::reinstate(tx, id, me, reason).await?;
            ::formulary::shown(tx, id).await
        })
        .await
}
