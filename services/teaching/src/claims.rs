//! Claims: one marker at a time marks work that was handed in.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel::sql_types::Uuid as SqlUuid;
use diesel_async::RunQueryDsl;
use locks::{Locks, lock};
use schema::work_claim;
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, known_as};
use uuid::Uuid;
use wire::ids::{PersonId, WorkSubmissionId};
use wire::teaching::{SubmissionState, WorkClaim};

use crate::handed::{self, Handed};
use crate::kept::CLAIM;
use crate::{cohorts, local};

/// How long a claim lasts after the marker's last act: common practice, no source.
const LASTS: Duration = Duration::minutes(30);

type Row = (Uuid, DateTime<Utc>, DateTime<Utc>);

const COLUMNS: (work_claim::marker_id, work_claim::claimed_at, work_claim::ends_at) =
    (work_claim::marker_id, work_claim::claimed_at, work_claim::ends_at);

/// Claims work that was handed in, or prolongs the caller's own claim.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is an instructor or marker of the cohort, [`Error::Forbidden`] for the
/// student's own work and that of a declared relation, and [`Error::State`] while another marker holds it or its maker
/// mends it.
pub async fn claim_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: WorkSubmissionId,
) -> Result<WorkClaim> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let handed = handed::held_by_marker(tx, id).await?;
                if handed.state()? == SubmissionState::Returned {
                    let detail = "This work was returned, and its maker mends it. Mark its next version.";
                    return Err(Error::state(SubmissionState::Returned, detail));
                }
                put(tx, &handed).await?;
                Ok(id.0)
            },
            async |tx, _| {
                let handed = handed::for_marker(tx, id).await?;
                of(tx, &handed).await?.ok_or(Error::NotFound("claim"))
            },
        )
        .await
}

/// Gives the caller's own claim up.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller holds a claim on it.
pub async fn claim_end(store: &Store, credentials: &Credentials, id: WorkSubmissionId) -> Result<()> {
    store
        .write(credentials, async |tx| {
            let handed = handed::held_by_marker(tx, id).await?;
            let (me, now) = (tx.person()?.id, tx.now());
            match found(tx, handed.id).await? {
                Some((marker, _, ends)) if marker == me.0 && ends > now => end(tx, &handed).await,
                _ => Err(Error::NotFound("claim")),
            }
        })
        .await
}

async fn found(tx: &mut Tx<'_>, handed: Uuid) -> Result<Option<Row>> {
    Ok(work_claim::table.find(handed).select(COLUMNS).first(tx.conn()).await.optional()?)
}

/// Claims work that the caller holds locked, or prolongs the caller's own claim.
///
/// # Errors
/// Returns [`Error::State`] while another marker holds it.
pub(crate) async fn put(tx: &mut Tx<'_>, handed: &Handed) -> Result<()> {
    let (me, now) = (tx.person()?.id, tx.now());
    let since = match found(tx, handed.id).await? {
        Some((marker, _, ends)) if ends > now && marker != me.0 => {
            return Err(taken(tx, handed, marker, ends).await?);
        }
        Some((_, since, ends)) if ends > now => since,
        _ => now,
    };
    let claim = (
        work_claim::marker_id.eq(me.0),
        work_claim::claimed_at.eq(since),
        work_claim::ends_at.eq(now + LASTS),
    );
    diesel::insert_into(work_claim::table)
        .values((work_claim::handed_id.eq(handed.id), claim))
        .on_conflict(work_claim::handed_id)
        .do_update()
        .set(claim)
        .execute(tx.conn())
        .await?;
    tx.record(event((handed.id, handed.work), "claimed"));
    Ok(())
}

fn event((handed, work): (Uuid, Uuid), action: &'static str) -> NewEvent {
    NewEvent::new("assignment_work", work, action).detail(json!({ "handed": handed })).keeps(&CLAIM, [handed])
}

/// Ends the claim on work that the caller holds locked.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn end(tx: &mut Tx<'_>, handed: &Handed) -> Result<()> {
    diesel::delete(work_claim::table.find(handed.id)).execute(tx.conn()).await?;
    tx.record(event((handed.id, handed.work), "claim_ended"));
    Ok(())
}

/// Refuses whoever does not hold the work.
///
/// # Errors
/// Returns [`Error::State`].
pub(crate) async fn require(tx: &mut Tx<'_>, handed: &Handed) -> Result<()> {
    let (me, now) = (tx.person()?.id, tx.now());
    match found(tx, handed.id).await? {
        Some((marker, _, ends)) if ends > now && marker == me.0 => Ok(()),
        Some((marker, _, ends)) if ends > now => Err(taken(tx, handed, marker, ends).await?),
        _ => {
            let detail = "You do not hold this work. Claim the work first, then mark it.";
            Err(Error::state("not_claimed", detail))
        }
    }
}

async fn taken(tx: &mut Tx<'_>, handed: &Handed, by: Uuid, until: DateTime<Utc>) -> Result<Error> {
    let names = known_as::people(tx, [by]).await?;
    let name = names.of(by).unwrap_or_else(|| "Another marker".into());
    let zone = cohorts::class(tx, handed.cohort()).await?.zone;
    let until = local::shown(until, zone).local;
    let detail = format!("{name} holds this work until {until}. Mark another, or come back then.");
    Ok(Error::state("claimed", detail))
}

/// The claim that holds work, if one does.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of(tx: &mut Tx<'_>, handed: &Handed) -> Result<Option<WorkClaim>> {
    let now = tx.now();
    let Some((marker, claimed_at, ends)) = found(tx, handed.id).await?.filter(|row| row.2 > now) else {
        return Ok(None);
    };
    let names = known_as::people(tx, [marker]).await?;
    let zone = cohorts::class(tx, handed.cohort()).await?.zone;
    Ok(Some(WorkClaim {
        submission: WorkSubmissionId(handed.id),
        marker: PersonId(marker),
        marker_name: names.of(marker),
        claimed_at,
        until: local::shown(ends, zone),
    }))
}

#[derive(QueryableByName)]
struct Held {
    #[diesel(sql_type = SqlUuid)]
    handed: Uuid,
    #[diesel(sql_type = SqlUuid)]
    work: Uuid,
}

/// Ends every claim of the caller on work of a student.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn end_all_of(tx: &mut Tx<'_>, student: PersonId) -> Result<()> {
    let me = tx.person()?.id;
    let held: Vec<Held> = diesel::sql_query(
        "SELECT c.handed_id AS handed, h.work_id AS work FROM work_claim c JOIN handed_work h ON h.id = c.handed_id
         JOIN assignment_work w ON w.id = h.work_id WHERE c.marker_id = $1 AND w.person_id = $2",
    )
    .bind::<SqlUuid, _>(me.0)
    .bind::<SqlUuid, _>(student.0)
    .load(tx.conn())
    .await?;
    let locks = held.iter().fold(Locks::new(), |locks, held| locks.work(held.work));
    lock(tx, locks).await?;
    for Held { handed, work } in held {
        let own = work_claim::table.find(handed).filter(work_claim::marker_id.eq(me.0));
        if diesel::delete(own).execute(tx.conn()).await? == 1 {
            tx.record(event((handed, work), "claim_ended"));
        }
    }
    Ok(())
}
