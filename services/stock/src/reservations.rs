//! What a batch holds of lots, until a day.
//!
//! How much it holds is an amount of its recipe. The service writes it and cannot read it; the database adds it up, takes it
//! off with what the batch draws, and says what is free. Locks: the batch is held already, lots come after it.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Date, Numeric, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use locks::{Locks, lock};
use store::{NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{BatchId, LotId, RevisionId};
use wire::stock::{LineReserved, LotReserved, Reservations};

use crate::usable::{self, For};

/// What a line of a batch still asks for.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// The line, such as `1.2`.
    pub line: String,
    /// How much, in g.
    pub grams: Decimal,
}

/// Who reserves, and until when.
#[derive(Clone, Copy, Debug)]
pub struct Reserving {
    /// The batch.
    pub batch: BatchId,
    /// The revision that it makes.
    pub revision: RevisionId,
    /// Today in the clinic.
    pub today: NaiveDate,
    /// Until when.
    pub until: DateTime<Utc>,
}

/// Holds lots for the lines of a batch, what expires first before the others, in the place of what the batch held before.
/// Of what is not there, as much is held as there is.
///
/// # Errors
/// Returns the errors of the database.
pub async fn reserve(tx: &mut Tx<'_>, by: &Reserving, wanted: &[Wanted]) -> Result<()> {
    let of = For { batch: by.batch, revision: by.revision, today: by.today, now: tx.now() };
    let usable = usable::for_lines(tx, &of, None).await?;
    let lots: BTreeSet<Uuid> = usable.iter().map(|lot| lot.id.0).collect();
    let before = held(tx, by.batch).await?;
    lock(tx, Locks::new().lots(lots.iter().copied().chain(before))).await?;
    let freed = free_all(tx, by.batch).await?;
    expire(tx, lots).await?;
    let mut some = false;
    for line in wanted {
        let Some(place) = usable::place(&line.line) else { continue };
        let mut missing = line.grams;
        for lot in usable.iter().filter(|lot| lot.line == line.line) {
            let there = free(tx, lot.id, by.batch, place).await?;
            let grams = there.min(missing);
            if grams <= Decimal::ZERO {
                continue;
            }
            missing -= grams;
            put(tx, by, lot.id, place, grams, missing.is_zero()).await?;
            some = true;
            if missing.is_zero() {
                break;
            }
        }
    }
    if some || freed > 0 {
        tx.record(NewEvent::new("batch", by.batch.0, if some { "lots_reserved" } else { "lots_freed" }));
    }
    Ok(())
}

/// Frees what a batch holds. Nothing is written where it holds nothing.
///
/// # Errors
/// Returns the errors of the database.
pub async fn free_lots(tx: &mut Tx<'_>, batch: BatchId) -> Result<()> {
    let lots = held(tx, batch).await?;
    if lots.is_empty() {
        return Ok(());
    }
    lock(tx, Locks::new().lots(lots)).await?;
    free_all(tx, batch).await?;
    tx.record(NewEvent::new("batch", batch.0, "lots_freed"));
    Ok(())
}

/// Removes the reservations whose day is over, of some lots that are locked.
pub(crate) async fn expire(tx: &mut Tx<'_>, lots: impl IntoIterator<Item = Uuid>) -> Result<()> {
    let lots: Vec<Uuid> = lots.into_iter().collect();
    diesel::sql_query("DELETE FROM lot_reservation WHERE lot_id = ANY ($1) AND expires_at <= $2")
        .bind::<Array<SqlUuid>, _>(lots)
        .bind::<Timestamptz, _>(tx.now())
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Ends the reservations of a locked lot that do not fit into what was found of it, the newest first.
pub(crate) async fn fit(tx: &mut Tx<'_>, lot: LotId, left: Decimal) -> Result<()> {
    expire(tx, [lot.0]).await?;
    diesel::sql_query("DELETE FROM lot_reservation WHERE id IN (SELECT lot_reserved_beyond($1, $2))")
        .bind::<SqlUuid, _>(lot.0)
        .bind::<Numeric, _>(left)
        .execute(tx.conn())
        .await?;
    Ok(())
}

#[derive(QueryableByName)]
struct Free {
    #[diesel(sql_type = Numeric)]
    grams: Decimal,
}

/// What a line of a batch may draw from a lot.
pub(crate) async fn free(
    tx: &mut Tx<'_>,
    lot: LotId,
    batch: BatchId,
    (phase, line): (i16, i16),
) -> Result<Decimal> {
    let now = tx.now();
    let found: Free = diesel::sql_query("SELECT lot_free($1, $2, $3, $4, $5) AS grams")
        .bind::<SqlUuid, _>(lot.0)
        .bind::<SqlUuid, _>(batch.0)
        .bind::<SmallInt, _>(phase)
        .bind::<SmallInt, _>(line)
        .bind::<Timestamptz, _>(now)
        .get_result(tx.conn())
        .await?;
    Ok(found.grams)
}

async fn put(
    tx: &mut Tx<'_>,
    by: &Reserving,
    lot: LotId,
    (phase, line): (i16, i16),
    grams: Decimal,
    completes: bool,
) -> Result<()> {
    let (id, person, now) = (tx.new_id(), tx.person()?.id, tx.now());
    diesel::sql_query(
        "INSERT INTO lot_reservation (id, lot_id, batch_id, phase, line, completes, by_id, at, expires_at)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
    )
    .bind::<SqlUuid, _>(id)
    .bind::<SqlUuid, _>(lot.0)
    .bind::<SqlUuid, _>(by.batch.0)
    .bind::<SmallInt, _>(phase)
    .bind::<SmallInt, _>(line)
    .bind::<Bool, _>(completes)
    .bind::<SqlUuid, _>(person.0)
    .bind::<Timestamptz, _>(now)
    .bind::<Timestamptz, _>(by.until)
    .execute(tx.conn())
    .await?;
    diesel::sql_query("INSERT INTO lot_reserved (reservation_id, lot_id, grams) VALUES ($1, $2, $3)")
        .bind::<SqlUuid, _>(id)
        .bind::<SqlUuid, _>(lot.0)
        .bind::<Numeric, _>(grams)
        .execute(tx.conn())
        .await?;
    Ok(())
}

async fn free_all(tx: &mut Tx<'_>, batch: BatchId) -> Result<usize> {
    Ok(diesel::sql_query("DELETE FROM lot_reservation WHERE batch_id = $1")
        .bind::<SqlUuid, _>(batch.0)
        .execute(tx.conn())
        .await?)
}

#[derive(QueryableByName)]
struct HeldLot {
    #[diesel(sql_type = SqlUuid)]
    lot_id: Uuid,
}

/// The lots that a batch holds something of.
async fn held(tx: &mut Tx<'_>, batch: BatchId) -> Result<Vec<Uuid>> {
    let rows: Vec<HeldLot> =
        diesel::sql_query("SELECT DISTINCT lot_id FROM lot_reservation WHERE batch_id = $1")
            .bind::<SqlUuid, _>(batch.0)
            .load(tx.conn())
            .await?;
    Ok(rows.into_iter().map(|row| row.lot_id).collect())
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SmallInt)]
    phase: i16,
    #[diesel(sql_type = SmallInt)]
    line: i16,
    #[diesel(sql_type = SqlUuid)]
    lot_id: Uuid,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Date)]
    keeps_until: NaiveDate,
    #[diesel(sql_type = Bool)]
    completes: bool,
    #[diesel(sql_type = Timestamptz)]
    expires_at: DateTime<Utc>,
}

/// What a batch holds now. Cost: one statement.
///
/// # Errors
/// Returns the errors of the database.
pub async fn reserved(tx: &mut Tx<'_>, batch: BatchId) -> Result<Reservations> {
    let now = tx.now();
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT r.phase, r.line, r.lot_id, l.number, l.keeps_until, r.completes, r.expires_at
         FROM lot_reservation r JOIN lot l ON l.id = r.lot_id
         WHERE r.batch_id = $1 AND r.expires_at > $2 ORDER BY r.phase, r.line, r.completes, l.keeps_until, l.id",
    )
    .bind::<SqlUuid, _>(batch.0)
    .bind::<Timestamptz, _>(now)
    .load(tx.conn())
    .await?;
    let mut found = Reservations { until: rows.iter().map(|row| row.expires_at).next(), lines: Vec::new() };
    for row in rows {
        let line = format!("{}.{}", row.phase, row.line);
        let lot = LotReserved { id: LotId(row.lot_id), number: row.number, keeps_until: row.keeps_until };
        match found.lines.last_mut().filter(|last| last.line == line) {
            Some(last) => {
                last.enough |= row.completes;
                last.lots.push(lot);
            }
            None => found.lines.push(LineReserved { line, enough: row.completes, lots: vec![lot] }),
        }
    }
    Ok(found)
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

/// How many batches hold something of a lot.
pub(crate) async fn of_lot(tx: &mut Tx<'_>, lot: LotId) -> Result<u32> {
    let now = tx.now();
    let found: Count = diesel::sql_query(
        "SELECT count(DISTINCT batch_id) AS count FROM lot_reservation WHERE lot_id = $1 AND expires_at > $2",
    )
    .bind::<SqlUuid, _>(lot.0)
    .bind::<Timestamptz, _>(now)
    .get_result(tx.conn())
    .await?;
    Ok(u32::try_from(found.count).unwrap_or(u32::MAX))
}

/// How many lots are looked after in one go.
const AT_ONCE: i64 = 100;

/// Removes reservations whose day is over. Answers of how many lots.
///
/// # Errors
/// Returns the errors of the database.
pub async fn purge(store: &Store) -> Result<usize> {
    store
        .run_unauthenticated(async |tx| {
            let now = tx.now();
            let rows: Vec<HeldLot> = diesel::sql_query(
                "SELECT DISTINCT lot_id FROM (
                     SELECT lot_id FROM lot_reservation WHERE expires_at <= $1 ORDER BY expires_at, id LIMIT $2) r",
            )
            .bind::<Timestamptz, _>(now)
            .bind::<BigInt, _>(AT_ONCE)
            .load(tx.conn())
            .await?;
            let lots: Vec<Uuid> = rows.into_iter().map(|row| row.lot_id).collect();
            if !lots.is_empty() {
                lock(tx, Locks::new().lots(lots.clone())).await?;
                expire(tx, lots.clone()).await?;
            }
            Ok(lots.len())
        })
        .await
}
