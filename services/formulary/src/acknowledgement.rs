//! Reads of acknowledgements, for their holder, the person who gave them, and instructors who countersign.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, Bool, Nullable, Text as SqlText, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::{acknowledgement, countersignature};
use store::{Actor, Credentials, Error, Result, Store, Tx, page::PageRequest, word};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, HolderId, PersonId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::safety::{Acknowledgement, CautionSet};

use crate::sets::{self, SetKey};

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

/// What is shown of an acknowledgement beside its row.
#[derive(QueryableByName)]
struct Beside {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = SqlText)]
    title: String,
    #[diesel(sql_type = SqlText)]
    holder_name: String,
    #[diesel(sql_type = SqlText)]
    given_by_name: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    countersigned_by: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlText>)]
    countersigned_by_name: Option<String>,
    #[diesel(sql_type = Bool)]
    open: bool,
}

/// Acknowledgements with their caution sets, in the types of `wire`. Four statements, however many there are.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn render_all(
    tx: &mut Tx<'_>,
    rows: Vec<AcknowledgementRow>,
) -> Result<Vec<Acknowledgement>> {
    let now = tx.now();
    let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
    let beside: Vec<Beside> = diesel::sql_query(
        "SELECT a.id, r.title, COALESCE(p.name, c.name, '') AS holder_name, b.name AS given_by_name,
             s.by_id AS countersigned_by, w.name AS countersigned_by_name,
             EXISTS (SELECT FROM release_grant g WHERE g.acknowledgement_id = a.id AND g.valid_until > $2) AS open
         FROM acknowledgement a JOIN revision r ON r.id = a.revision_id
         LEFT JOIN person p ON p.id = a.holder_id LEFT JOIN api_client c ON c.id = a.holder_id
         JOIN person b ON b.id = a.given_by
         LEFT JOIN countersignature s ON s.acknowledgement_id = a.id LEFT JOIN person w ON w.id = s.by_id
         WHERE a.id = ANY($1)",
    )
    .bind::<Array<SqlUuid>, _>(ids)
    .bind::<Timestamptz, _>(now)
    .load(tx.conn())
    .await?;
    let mut beside: HashMap<Uuid, Beside> = beside.into_iter().map(|it| (it.id, it)).collect();
    // API clients are told ids only: they need no names of people.
    let names_people = !matches!(tx.actor()?, Actor::Client { .. });
    let keys: Vec<SetKey> = rows.iter().map(|row| (RevisionId(row.revision_id), row.set_number)).collect();
    let sets = sets::all_numbered(tx, &keys).await?;
    rows.into_iter()
        .zip(keys)
        .map(|(row, key)| {
            let gone = || Error::internal("an acknowledgement without its revision or caution set");
            let of = beside.remove(&row.id).ok_or_else(gone)?;
            let caution_set = sets.get(&key).cloned().ok_or_else(gone)?;
            rendered(row, of, caution_set, names_people)
        })
        .collect()
}

fn rendered(
    row: AcknowledgementRow,
    of: Beside,
    caution_set: CautionSet,
    names_people: bool,
) -> Result<Acknowledgement> {
    Ok(Acknowledgement {
        id: AcknowledgementId(row.id),
        holder: HolderId(row.holder_id),
        holder_name: of.holder_name,
        given_by: PersonId(row.given_by),
        given_by_name: names_people.then_some(of.given_by_name),
        revision: RevisionId(row.revision_id),
        title: of.title,
        revision_digest: hex::encode(&row.revision_digest),
        purpose: word(&row.purpose)?,
        caution_set,
        contraindications: serde_json::from_value(row.contraindications)?,
        at: row.at,
        valid_until: row.valid_until,
        meant_for: serde_json::from_value(row.meant_for)?,
        needs_countersignature: row.countersign,
        countersigned_by: of.countersigned_by.map(PersonId),
        countersigned_by_name: of.countersigned_by_name.filter(|_| names_people),
        open: of.open,
    })
}

/// As [`render_all`], for one.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn render(tx: &mut Tx<'_>, row: AcknowledgementRow) -> Result<Acknowledgement> {
    let one = render_all(tx, vec![row]).await?.pop();
    one.ok_or_else(|| Error::internal("an acknowledgement that was not rendered"))
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
            let page = slice.page(rows, |row| row.id)?;
            Ok(Page { items: render_all(tx, page.items).await?, next: page.next })
        })
        .await
}
