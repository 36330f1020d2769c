//! Reads of acknowledgements, for their holder, the person who gave them, and instructors who countersign.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Text as SqlText, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::{acknowledgement, countersignature, release_grant};
use store::{Credentials, Error, Result, Store, Tx, page::PageRequest, word};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, HolderId, PersonId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::safety::Acknowledgement;

use crate::sets;

/// An acknowledgement as it is stored.
#[derive(Debug, Queryable, Selectable)]
#[diesel(table_name = acknowledgement, check_for_backend(diesel::pg::Pg))]
pub(crate) struct AcknowledgementRow {
    /// The acknowledgement.
    pub(crate) id: Uuid,
    /// For whom it is.
    pub(crate) holder_id: Uuid,
    /// The person who answers for it.
    pub(crate) given_by: Uuid,
    /// The revision.
    pub(crate) revision_id: Uuid,
    /// The revision's digest.
    pub(crate) revision_digest: Vec<u8>,
    /// Which of the revision's caution sets was acknowledged.
    pub(crate) set_number: i32,
    /// The contraindications that were acknowledged each on its own.
    pub(crate) contraindications: serde_json::Value,
    /// What it is for.
    pub(crate) purpose: String,
    /// When it was given.
    pub(crate) at: DateTime<Utc>,
    /// When it ends.
    pub(crate) valid_until: DateTime<Utc>,
    /// For whom the preparation is meant.
    pub(crate) meant_for: serde_json::Value,
    /// Whether it waits for an instructor's countersignature before it grants anything.
    pub(crate) countersign: bool,
}

/// The instructor who countersigned an acknowledgement, if any.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn by(tx: &mut Tx<'_>, id: Uuid) -> Result<Option<PersonId>> {
    let by: Option<Uuid> =
        countersignature::table.find(id).select(countersignature::by_id).first(tx.conn()).await.optional()?;
    Ok(by.map(PersonId))
}

/// An acknowledgement with its caution set, in the types of `wire`.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn render(tx: &mut Tx<'_>, row: AcknowledgementRow) -> Result<Acknowledgement> {
    let now = tx.now();
    let open: Option<Uuid> = release_grant::table
        .filter(release_grant::acknowledgement_id.eq(row.id))
        .filter(release_grant::valid_until.gt(now))
        .select(release_grant::acknowledgement_id)
        .first(tx.conn())
        .await
        .optional()?;
    let countersigned_by = by(tx, row.id).await?;
    let called: Called = diesel::sql_query(
        "SELECT r.title, COALESCE(p.name, c.name, '') AS holder_name FROM revision r
         LEFT JOIN person p ON p.id = $2 LEFT JOIN api_client c ON c.id = $2 WHERE r.id = $1",
    )
    .bind::<SqlUuid, _>(row.revision_id)
    .bind::<SqlUuid, _>(row.holder_id)
    .get_result(tx.conn())
    .await?;
    Ok(Acknowledgement {
        id: AcknowledgementId(row.id),
        holder: HolderId(row.holder_id),
        holder_name: called.holder_name,
        given_by: PersonId(row.given_by),
        revision: RevisionId(row.revision_id),
        title: called.title,
        revision_digest: hex::encode(&row.revision_digest),
        purpose: word(&row.purpose)?,
        caution_set: sets::numbered(tx, RevisionId(row.revision_id), row.set_number).await?,
        contraindications: serde_json::from_value(row.contraindications)?,
        at: row.at,
        valid_until: row.valid_until,
        meant_for: serde_json::from_value(row.meant_for)?,
        needs_countersignature: row.countersign,
        countersigned_by,
        open: open.is_some(),
    })
}

/// Display names of a revision and a holder.
#[derive(QueryableByName)]
struct Called {
    #[diesel(sql_type = SqlText)]
    title: String,
    #[diesel(sql_type = SqlText)]
    holder_name: String,
}

/// An acknowledgement that the caller holds or gave.
///
/// # Errors
/// Returns [`Error::NotFound`] otherwise.
pub(crate) async fn show(tx: &mut Tx<'_>, id: AcknowledgementId) -> Result<Acknowledgement> {
    let row = found(tx, id.0).await?;
    let me = tx.actor()?.holder().0;
    if row.holder_id != me && row.given_by != me {
        return Err(Error::NotFound("acknowledgement"));
    }
    render(tx, row).await
}

/// The row of an acknowledgement, without a check of the caller.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is none.
pub(crate) async fn found(tx: &mut Tx<'_>, id: Uuid) -> Result<AcknowledgementRow> {
    let row = acknowledgement::table.find(id).select(AcknowledgementRow::as_select());
    row.first(tx.conn()).await.optional()?.ok_or(Error::NotFound("acknowledgement"))
}

/// One of the caller's acknowledgements, with the cautions as they were acknowledged.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller neither holds nor gave it.
pub async fn acknowledgement(
    store: &Store,
    credentials: &Credentials,
    id: AcknowledgementId,
) -> Result<Acknowledgement> {
    store.read(credentials, async |tx| show(tx, id).await).await
}

/// The caller's acknowledgements, the oldest first.
///
/// # Errors
/// Returns [`Error::Invalid`] for a refused cursor, and the errors of verifying `claim`.
pub async fn acknowledgements(
    store: &Store,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<Acknowledgement>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.actor()?.holder();
            let rows: Vec<AcknowledgementRow> = acknowledgement::table
                .filter(acknowledgement::holder_id.eq(me.0))
                .filter(acknowledgement::id.gt(slice.after.unwrap_or_default()))
                .order(acknowledgement::id)
                .limit(slice.fetch())
                .select(AcknowledgementRow::as_select())
                .load(tx.conn())
                .await?;
            slice.rendered(rows, |row| row.id, async |row| render(tx, row).await).await
        })
        .await
}
