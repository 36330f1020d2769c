//! Countersignatures. For some audiences a recipe is released only after an instructor has countersigned the
//! acknowledgement.

use diesel::prelude::*;
use diesel::sql_types::{BigInt, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use release::acknowledgements as gate_rows;
use release::{CurrentSet, lock_current_set};
use schema::{acknowledgement, library_member};
use store::{Credentials, Error, IdempotencyKey, Result, Store, Tx, page::PageRequest};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, HolderId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::safety::{Acknowledgement, Purpose};

use crate::acknowledgement::{AcknowledgementRow, by, found, render, render_all};
use crate::facts::visible;
use crate::gate::{self, Passed};
use crate::held;
use crate::members::membership;

/// Countersigns an acknowledgement, which creates its grant. The caller must be an instructor of the library who holds
/// a grant for the revision.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the acknowledgement, [`Error::Forbidden`] unless the caller is
/// an instructor who neither gave nor holds it, [`Error::GateClosed`] without a grant, and [`Error::State`] if it needs
/// no countersignature, has one or is no longer valid.
pub async fn countersign(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AcknowledgementId,
) -> Result<Acknowledgement> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let row = found(tx, id.0).await?;
                let revision = RevisionId(row.revision_id);
                let hidden = |error| match error {
                    Error::NotFound(_) => Error::NotFound("acknowledgement"),
                    other => other,
                };
                let before = visible(tx, revision).await.map_err(hidden)?;
                gate::lock_to_make(tx, &before).await?;
                let me = tx.instructor()?;
                if row.holder_id == me.id().0 || row.given_by == me.id().0 {
                    return Err(Error::Forbidden(
                        "You may not countersign your own acknowledgement. Ask another instructor.".into(),
                    ));
                }
                // The lock keeps this set current, and the caller's grant proves that they acknowledged the same set.
                let current = lock_current_set(tx, revision).await?;
                let mine = gate::open(tx, revision).await?;
                membership(tx, mine.facts.library).await?;
                still_holds(tx, &row, &mine, &current).await?;
                gate::may_be_made(tx, &mine.facts).await?;
                held::let_go(tx, HolderId(row.holder_id), revision).await?;
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

/// Checks that an acknowledgement still needs a countersignature and is still valid.
///
/// # Errors
/// Returns [`Error::State`] with the reason.
async fn still_holds(
    tx: &mut Tx<'_>,
    row: &AcknowledgementRow,
    mine: &Passed<'_>,
    current: &CurrentSet<'_>,
) -> Result<()> {
    if !row.countersign {
        return Err(Error::state("open", "This acknowledgement needs no countersignature."));
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
    // A member who was removed and added again must acknowledge again.
    let member: Option<Uuid> = library_member::table
        .find((mine.facts.library.0, row.holder_id))
        .filter(library_member::added_at.le(row.at))
        .select(library_member::holder_id)
        .first(tx.conn())
        .await
        .optional()?;
    let same = row.revision_digest == mine.grant.digest()
        && row.set_number == current.number()
        && row.purpose != Purpose::Record.as_str();
    if newer.is_some() || member.is_none() || !same || row.valid_until <= tx.now() {
        return Err(Error::state(
            "ended",
            "This acknowledgement is no longer valid: the cautions or the membership changed, or it expired. A new acknowledgement is required.",
        ));
    }
    Ok(())
}

/// Acknowledgements of approved revisions in the caller's libraries that await a countersignature, the oldest first.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, and [`Error::Invalid`] for a refused cursor.
pub async fn awaited(
    store: &Store,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<Acknowledgement>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.instructor()?.id();
            let now = tx.now();
            let waiting: Vec<Waiting> = diesel::sql_query(
                "SELECT a.id FROM acknowledgement a
                 JOIN gate g ON g.revision_id = a.revision_id AND g.set_number = a.set_number
                 JOIN revision r ON r.id = a.revision_id JOIN formula f ON f.id = r.formula_id
                 JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
                 WHERE a.countersign AND a.valid_until > $2 AND a.id > $3 AND r.state = 'approved'
                   AND NOT EXISTS (SELECT FROM countersignature c WHERE c.acknowledgement_id = a.id)
                   AND NOT EXISTS (SELECT FROM acknowledgement later WHERE later.holder_id = a.holder_id
                     AND later.revision_id = a.revision_id AND later.id > a.id)
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
            let page = slice.page(rows, |row| row.id)?;
            Ok(Page { items: render_all(tx, page.items).await?, next: page.next })
        })
        .await
}

#[derive(QueryableByName)]
struct Waiting {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}
