//! The ledger: movements of lots. Writing one is the only way in which a balance changes.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Integer, Nullable, Numeric, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use schema::{lot, lot_movement};
use store::known_as;
use store::{Credentials, Error, NewEvent, Result, Store, Tx, page::PageRequest, word};
use uuid::Uuid;
use wire::ids::{BatchId, EntryId, LotId, LotMovementId, PersonId};
use wire::page::{Page, PageQuery};
use wire::stock::{LotMovement, MovementKind};

use crate::amounts::plain;
use crate::kept::{BALANCE, LOT, MOVEMENT};

/// What moves a lot.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Moves<'m> {
    /// It comes in.
    Received(Decimal),
    /// An entry of a batch weighs it out; the amount is the entry's.
    Used(BatchId, EntryId),
    /// A corrected entry gives back what it had weighed.
    Returned(BatchId, EntryId),
    /// A count found more or less: by how much, what was typed, why.
    Adjusted(Decimal, &'m str, &'m str),
    /// All that was left is thrown away, and why.
    Discarded(Decimal, &'m str),
}

impl Moves<'_> {
    const fn kind(&self) -> MovementKind {
        match self {
            Self::Received(_) => MovementKind::Received,
            Self::Used(..) => MovementKind::Used,
            Self::Returned(..) => MovementKind::Returned,
            Self::Adjusted(..) => MovementKind::Adjusted,
            Self::Discarded(..) => MovementKind::Discarded,
        }
    }

    const fn grams(&self) -> Option<Decimal> {
        match self {
            Self::Received(grams) | Self::Adjusted(grams, ..) | Self::Discarded(grams, _) => Some(*grams),
            Self::Used(..) | Self::Returned(..) => None,
        }
    }

    const fn entry(&self) -> Option<(BatchId, EntryId)> {
        match self {
            Self::Used(batch, entry) | Self::Returned(batch, entry) => Some((*batch, *entry)),
            _ => None,
        }
    }
}

/// Writes a movement of a lot that is locked, as number `number` of it, and vouches for it and for the balance that it
/// leaves. Raises the version of the lot.
///
/// # Errors
/// Returns [`Error::Internal`] if the number does not follow the last one, or the balance would be negative: both are
/// checked before, under the lock.
pub(crate) async fn write(
    tx: &mut Tx<'_>,
    of: LotId,
    number: i32,
    moves: Moves<'_>,
    event: NewEvent,
) -> Result<()> {
    let (id, by, now) = (tx.new_id(), tx.person()?.id, tx.now());
    let entry = moves.entry();
    let (counted, reason) = match moves {
        Moves::Adjusted(_, counted, reason) => (Some(counted), Some(reason)),
        Moves::Discarded(_, reason) => (None, Some(reason)),
        _ => (None, None),
    };
    diesel::insert_into(lot_movement::table)
        .values((
            lot_movement::id.eq(id),
            lot_movement::lot_id.eq(of.0),
            lot_movement::number.eq(number),
            lot_movement::kind.eq(moves.kind().as_str()),
            lot_movement::grams.eq(moves.grams()),
            lot_movement::counted.eq(counted),
            lot_movement::batch_id.eq(entry.map(|(batch, _)| batch.0)),
            lot_movement::entry_id.eq(entry.map(|(_, entry)| entry.0)),
            lot_movement::reason.eq(reason),
            lot_movement::by_id.eq(by.0),
            lot_movement::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    diesel::update(lot::table.find(of.0)).set(lot::version.eq(lot::version + 1)).execute(tx.conn()).await?;
    tx.record(event.keeps(&LOT, [of.0]).keeps(&MOVEMENT, [id]).keeps(&BALANCE, [of.0]));
    Ok(())
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = Nullable<Numeric>)]
    grams: Option<Decimal>,
    #[diesel(sql_type = Nullable<Text>)]
    counted: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    batch: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    batch_number: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    entry: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    reason: Option<String>,
    #[diesel(sql_type = SqlUuid)]
    by_id: Uuid,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
    /// Whether it was for a record that is marked blind: neither the batch nor who drew it is told then.
    #[diesel(sql_type = Bool)]
    unnamed: bool,
}

/// The movements of a lot, the newest first, for who keeps the stock. The batch behind a movement is named to members of
/// its library, and what it weighed stands in its record.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, [`Error::NotFound`] if there is no such lot, and
/// [`Error::Invalid`] for a refused cursor.
pub async fn movements(
    store: &Store,
    credentials: &Credentials,
    id: LotId,
    query: &PageQuery,
) -> Result<Page<LotMovement>> {
    let slice = PageRequest::<i32>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            tx.staff()?;
            let me = tx.person()?.id;
            let there: Option<Uuid> =
                lot::table.find(id.0).select(lot::id).first(tx.conn()).await.optional()?;
            there.ok_or(Error::NotFound("lot"))?;
            let rows: Vec<Row> = diesel::sql_query(
                "SELECT m.id, m.number, m.kind, m.grams, m.counted, b.id AS batch, b.number AS batch_number,
                     CASE WHEN b.id IS NOT NULL THEN m.entry_id END AS entry, m.reason, m.by_id, m.at,
                     unnamed_batch(m.batch_id, $2) AS unnamed
                 FROM lot_movement m
                 LEFT JOIN LATERAL (
                     SELECT b.id, b.number FROM batch b JOIN revision r ON r.id = b.revision_id
                     JOIN formula f ON f.id = r.formula_id
                     JOIN library_member l ON l.library_id = f.library_id AND l.holder_id = $2
                     WHERE b.id = m.batch_id AND NOT unnamed_batch(b.id, $2)) b ON true
                 WHERE m.lot_id = $1 AND ($3 IS NULL OR m.number < $3) ORDER BY m.number DESC LIMIT $4",
            )
            .bind::<SqlUuid, _>(id.0)
            .bind::<SqlUuid, _>(me.0)
            .bind::<Nullable<Integer>, _>(slice.after)
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| row.number)?;
            let names = known_as::people(tx, page.items.iter().map(|row| row.by_id)).await?;
            let items = page.items.into_iter().map(|row| {
                Ok(LotMovement {
                    id: LotMovementId(row.id),
                    number: row.number.unsigned_abs(),
                    kind: word(&row.kind)?,
                    grams: row.grams.map(plain),
                    counted: row.counted,
                    batch: row.batch.map(BatchId),
                    batch_number: row.batch_number,
                    entry: row.entry.map(EntryId),
                    reason: row.reason,
                    by: if row.unnamed { PersonId(Uuid::nil()) } else { PersonId(row.by_id) },
                    by_name: names.of(row.by_id).filter(|_| !row.unnamed),
                    at: row.at,
                })
            });
            Ok(Page { items: items.collect::<Result<_>>()?, next: page.next })
        })
        .await
}
