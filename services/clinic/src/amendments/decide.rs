//! Decisions of a second person on amendments, and of instructors on withheld revisions.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::amendment;
use store::{Credentials, Error, NewEvent, Result, Versioned, word};
use uuid::Uuid;
use wire::amendments::{Amendment, AmendmentDecision, AmendmentState, DecideAmendment, Reinstate};
use wire::formulary::{Revision, RevisionState};
use wire::ids::{AmendmentId, PersonId, RevisionId};

use ::formulary::change::StoredChange;

use super::kept::AMENDMENT;
use super::{apply, show};
use crate::Clinic;

/// Confirms an amendment, which then comes into force, or refuses it. The author may withdraw it by refusing, but may
/// not confirm it.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, and if the author confirms. Returns
/// [`Error::NotFound`] if there is no such amendment, [`Error::State`] if it was decided, and [`Error::Conflict`] if
/// its subject has changed since.
pub async fn decide(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AmendmentId,
    request: &DecideAmendment,
) -> Result<Amendment> {
    clinic
        .store
        .write(credentials, async |tx| {
            let me = tx.instructor()?.id();
            let confirmed = request.decision == AmendmentDecision::Confirm;
            let settled =
                if confirmed { Locks::new().settling(Mode::Exclusive) } else { Locks::new() };
            lock(tx, settled.amendment(id)).await?;
            let row: Option<(String, serde_json::Value, Option<Uuid>)> = amendment::table
                .find(id.0)
                .select((amendment::state, amendment::change, amendment::created_by))
                .first(tx.conn())
                .await
                .optional()?;
            let (state, change, made_by) = row.ok_or(Error::NotFound("amendment"))?;
            let state: AmendmentState = word(&state)?;
            if state != AmendmentState::AwaitingSecondPerson {
                return Err(Error::state(
                    state,
                    format!("This amendment is {state}. Only an amendment that is awaiting_second_person can be decided."),
                ));
            }
            let author = made_by.map(PersonId).ok_or_else(|| Error::internal("an amendment without its maker"))?;
            if author == me && request.decision == AmendmentDecision::Confirm {
                return Err(Error::Forbidden(
                    "You may not confirm your own amendment. Ask another instructor.".into(),
                ));
            }
            let to = match request.decision {
                AmendmentDecision::Confirm => AmendmentState::InForce,
                AmendmentDecision::Refuse => AmendmentState::Refused,
            };
            let now = tx.now();
            diesel::update(amendment::table.find(id.0))
                .set((
                    amendment::state.eq(to.as_str()),
                    amendment::decided_by.eq(me.0),
                    amendment::decided_at.eq(now),
                    // The author may decide only by refusing, which lowers no caution.
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

/// Reinstates a withheld revision, so that it may be made again.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, [`Error::Forbidden`] unless the caller is an
/// instructor, [`Error::State`] if the revision is not withheld or a stop still applies, and [`Error::Invalid`] for a
/// refused reason.
pub async fn reinstate(
    clinic: &Clinic,
    credentials: &Credentials,
    id: RevisionId,
    request: &Reinstate,
) -> Result<Versioned<Revision>> {
    clinic
        .store
        .write(credentials, async |tx| {
            lock(tx, Locks::new().revision(id, Mode::Exclusive)).await?;
            let facts = ::formulary::visible(tx, id).await?;
            let me = tx.instructor()?;
            if facts.state != RevisionState::Approved {
                return Err(Error::state(
                    facts.state,
                    "This revision is not approved, so it cannot be withheld or reinstated.",
                ));
            }
            let reason = request.reason.trim();
            if !(1..=2000).contains(&reason.chars().count()) {
                return Err(Error::field("/reason", "State the reason, in 1 to 2000 characters."));
            }
            ::formulary::reinstate(tx, id, me, reason).await?;
            ::formulary::shown(tx, id).await
        })
        .await
}
