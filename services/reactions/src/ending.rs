//! How a case ends: with a conclusion, or joined to another.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, lock};
use schema::{reaction_case, reaction_report};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::ReactionCaseId;
use wire::reactions::{NewConclusion, NewJoining, ReactionCase, ReactionCaseState};

use crate::kept::{CASE, REPORT};
use crate::read;
use crate::work::{open, raised, text};

/// Closes a case with a conclusion. It never opens again. For instructors of its libraries.
///
/// # Errors
/// As [`note`](crate::note).
pub async fn conclude(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ReactionCaseId,
    request: &NewConclusion,
) -> Result<ReactionCase> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.instructor()?;
                open(tx, &[id]).await?;
                let conclusion = text("/conclusion", &request.conclusion)?;
                diesel::update(reaction_case::table.find(id.0))
                    .set((
                        reaction_case::state.eq(ReactionCaseState::Closed.as_str()),
                        reaction_case::causality.eq(Some(request.causality.as_str())),
                        reaction_case::conclusion.eq(Some(conclusion)),
                        reaction_case::ended_by.eq(Some(tx.person()?.id.0)),
                        reaction_case::ended_at.eq(Some(tx.now())),
                        reaction_case::version.eq(reaction_case::version + 1),
                    ))
                    .execute(tx.conn())
                    .await?;
                tx.record(NewEvent::new("reaction_case", id.0, "concluded").keeps(&CASE, [id.0]));
                Ok(id.0)
            },
            async |tx, _| read::seen(tx, id).await,
        )
        .await
}

/// Joins a case to another open one, in which its reports stand from then on. What was joined to it goes along. For instructors
/// of the libraries of both. Answers the other case.
///
/// # Errors
/// As [`note`](crate::note); returns [`Error::Invalid`] for the case itself, one that is not there, and one that has ended.
pub async fn join(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ReactionCaseId,
    request: &NewJoining,
) -> Result<ReactionCase> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.instructor()?;
                joined(tx, id, request.case).await?;
                Ok(request.case.0)
            },
            async |tx, into| read::seen(tx, ReactionCaseId(into)).await,
        )
        .await
}

async fn joined(tx: &mut Tx<'_>, id: ReactionCaseId, into: ReactionCaseId) -> Result<()> {
    let refuse = |cure: &str| Error::field("/case", cure);
    if id == into {
        return Err(refuse("Choose another case than this one."));
    }
    let before: Vec<Uuid> = reaction_case::table
        .filter(reaction_case::joined_id.eq(id.0))
        .select(reaction_case::id)
        .load(tx.conn())
        .await?;
    let all = before.iter().copied().map(ReactionCaseId).chain([id, into]);
    lock(tx, Locks::new().reactions(all)).await?;
    open(tx, &[id]).await?;
    open(tx, &[into]).await.map_err(|error| match error {
        Error::NotFound(_) | Error::State { .. } => {
            refuse("This is no open case. Send the `id` of one that is open.")
        }
        other => other,
    })?;
    let (by, now) = (tx.person()?.id.0, tx.now());
    diesel::update(reaction_case::table.find(id.0))
        .set((
            reaction_case::state.eq(ReactionCaseState::Joined.as_str()),
            reaction_case::joined_id.eq(Some(into.0)),
            reaction_case::ended_by.eq(Some(by)),
            reaction_case::ended_at.eq(Some(now)),
            reaction_case::version.eq(reaction_case::version + 1),
        ))
        .execute(tx.conn())
        .await?;
    let along: Vec<Uuid> = diesel::update(reaction_case::table)
        .filter(reaction_case::joined_id.eq(id.0))
        .set((
            reaction_case::joined_id.eq(Some(into.0)),
            reaction_case::version.eq(reaction_case::version + 1),
        ))
        .returning(reaction_case::id)
        .get_results(tx.conn())
        .await?;
    let reports: Vec<Uuid> = diesel::update(reaction_report::table)
        .filter(reaction_report::case_id.eq(id.0))
        .set(reaction_report::case_id.eq(into.0))
        .returning(reaction_report::id)
        .get_results(tx.conn())
        .await?;
    raised(tx, into).await?;
    let event = NewEvent::new("reaction_case", id.0, "joined").keeps(&CASE, [id.0]);
    let event = along.iter().fold(event, |event, case| event.keeps(&CASE, [*case]));
    tx.record(reports.iter().fold(event, |event, report| event.keeps(&REPORT, [*report])));
    tx.record(NewEvent::new("reaction_case", into.0, "taken_in").keeps(&CASE, [into.0]));
    Ok(())
}
