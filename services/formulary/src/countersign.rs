//! Countersigning: for some audiences a recipe is released only when an instructor has signed too.

use diesel::prelude::*;
use diesel::sql_types::{BigInt, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use release::acknowledgements::{self as gate_rows, AcknowledgementRow};
use release::{CurrentSet, lock_current_set};
use schema::{acknowledgement, library_member};
use store::{Claim, Error, Once, Result, Store, Tx, page::Slice};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::safety::{Acknowledgement, Purpose};

use crate::acknowledgement::{by, found, render};
use crate::facts::{lock_shared, visible};
use crate::gate::{self, Passed};
use crate::members::lock_membership;

/// Countersigns an acknowledgement, which creates its grant.
///
/// # Errors
/// When the caller is not an instructor of the library who holds a grant for the revision, gave or holds the
/// acknowledgement, or it needs no countersignature, has one, or has ended.
pub async fn countersign(
    store: &Store,
    claim: &Claim,
    once: &Once,
    id: AcknowledgementId,
) -> Result<Acknowledgement> {
    store
        .create(
            claim,
            once,
            async |tx| {
                let row = found(tx, id.0).await?;
                let revision = RevisionId(row.revision_id);
                lock_shared(tx, revision).await?;
                let hidden = |error| match error {
                    Error::NotFound(_) => Error::NotFound("acknowledgement"),
                    other => other,
                };
                visible(tx, revision, false).await.map_err(hidden)?;
                let me = tx.instructor()?;
                if row.holder_id == me.id().0 || row.given_by == me.id().0 {
                    return Err(Error::Forbidden(
                        "nobody countersigns their own acknowledgement: ask another instructor".into(),
                    ));
                }
                // Whoever signs has been shown the same cautions, and they stay the current ones meanwhile.
                let current = lock_current_set(tx, revision).await?;
                let mine = gate::open(tx, revision).await?;
                lock_membership(tx, mine.facts.library).await?;
                still_holds(tx, &row, &mine, &current).await?;
                gate::may_be_made(tx, &mine.facts).await?;
                gate_rows::countersign(tx, me, &current, id).await?;
                Ok(row.id)
            },
            async |tx, id| {
                let row = found(tx, id).await?;
                render(tx, row).await
            },
        )
        .await
}

/// Refuses what needs no signature, has one, or is no longer what was acknowledged.
async fn still_holds(
    tx: &mut Tx<'_>,
    row: &AcknowledgementRow,
    mine: &Passed<'_>,
    current: &CurrentSet<'_>,
) -> Result<()> {
    if !row.countersign {
        return Err(Error::state("open", "this acknowledgement needs no countersignature"));
    }
    if by(tx, row.id).await?.is_some() {
        return Err(gate_rows::countersigned());
    }
    let newer: Option<Uuid> = acknowledgement::table
        .filter(acknowledgement::holder_id.eq(row.holder_id))
        .filter(acknowledgement::revision_id.eq(row.revision_id))
        .filter(acknowledgement::id.gt(row.id))
        .select(acknowledgement::id)
        .first(tx.conn())
        .await
        .optional()?;
    // Whoever left the library and came back acknowledges anew.
    let member: Option<Uuid> = library_member::table
        .find((mine.facts.library.0, row.holder_id))
        .filter(library_member::added_at.le(row.at))
        .select(library_member::holder_id)
        .first(tx.conn())
        .await
        .optional()?;
    let same = row.revision_digest == mine.grant.digest()
        && row.set_number == current.number()
        && row.purpose == Purpose::Make.as_str();
    if newer.is_some() || member.is_none() || !same || row.valid_until <= tx.now {
        return Err(Error::state(
            "ended",
            "this acknowledgement has ended: its cautions, its membership or its time are no longer what they were",
        ));
    }
    Ok(())
}

/// Acknowledgements that wait for an instructor's countersignature in the libraries shared with the caller, oldest
/// first.
///
/// # Errors
/// When the caller is not an instructor.
pub async fn awaited(store: &Store, claim: &Claim, query: &PageQuery) -> Result<Page<Acknowledgement>> {
    let slice = Slice::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(claim, async |tx| {
            let me = tx.instructor()?.id();
            let now = tx.now;
            let waiting: Vec<Waiting> = diesel::sql_query(
                "SELECT a.id FROM acknowledgement a
                 JOIN gate g ON g.revision_id = a.revision_id AND g.set_number = a.set_number
                 JOIN revision r ON r.id = a.revision_id JOIN formula f ON f.id = r.formula_id
                 JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
                 WHERE a.countersign AND a.valid_until > $2 AND a.id > $3
                   AND NOT EXISTS (SELECT FROM countersignature c WHERE c.acknowledgement_id = a.id)
                   AND NOT EXISTS (SELECT FROM acknowledgement later WHERE later.holder_id = a.holder_id
                     AND later.revision_id = a.revision_id AND later.purpose = a.purpose AND later.id > a.id)
                 ORDER BY a.id LIMIT $4",
            )
            .bind::<SqlUuid, _>(me.0)
            .bind::<Timestamptz, _>(now)
            .bind::<SqlUuid, _>(slice.after.unwrap_or_default())
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let ids: Vec<Uuid> = waiting.iter().map(|row| row.id).collect();
            let rows: Vec<AcknowledgementRow> = acknowledgement::table
                .filter(acknowledgement::id.eq_any(ids))
                .order(acknowledgement::id)
                .select(AcknowledgementRow::as_select())
                .load(tx.conn())
                .await?;
            slice.rendered(rows, |row| row.id, async |row| render(tx, row).await).await
        })
        .await
}

#[derive(QueryableByName)]
struct Waiting {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}
