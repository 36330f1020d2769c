//! Where a lot or a batch went, and what it was made of.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::QueryableByName;
use diesel::sql_types::{Array, Bool, Date, Nullable, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use store::{Credentials, Error, Result, Store, Tx, word};
use uuid::Uuid;
use wire::ids::{BatchId, LotId};
use wire::recalls::{Trace, TraceDirection, TraceKind, TraceNode};

use crate::walk::{Place, walk};

/// Where a lot went, or what it was made of. For who keeps the stock. Cost: the walk, and one statement for the names.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, and [`Error::NotFound`] if there is no such lot.
pub async fn lot_trace(
    store: &Store,
    credentials: &Credentials,
    id: LotId,
    direction: TraceDirection,
) -> Result<Trace> {
    of(store, credentials, Place { kind: TraceKind::Lot, id: id.0 }, direction).await
}

/// As [`lot_trace`], of a batch of the caller's libraries.
///
/// # Errors
/// As [`lot_trace`].
pub async fn batch_trace(
    store: &Store,
    credentials: &Credentials,
    id: BatchId,
    direction: TraceDirection,
) -> Result<Trace> {
    of(store, credentials, Place { kind: TraceKind::Batch, id: id.0 }, direction).await
}

async fn of(
    store: &Store,
    credentials: &Credentials,
    from: Place,
    direction: TraceDirection,
) -> Result<Trace> {
    store
        .read(credentials, async |tx| {
            tx.staff()?;
            if from.kind == TraceKind::Batch && !batch_is_open(tx, from.id).await? {
                return Err(Error::NotFound("batch"));
            }
            let reached = walk(tx, &[from], direction).await?;
            let nodes = told(tx, &reached.places).await?;
            if nodes.is_empty() {
                return Err(Error::NotFound(from.kind.as_str()));
            }
            Ok(Trace { direction, nodes, steps: reached.steps })
        })
        .await
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    state: String,
    #[diesel(sql_type = Nullable<Text>)]
    disposition: Option<String>,
    #[diesel(sql_type = Nullable<Numeric>)]
    on_hand: Option<Decimal>,
    #[diesel(sql_type = Nullable<Text>)]
    maker_name: Option<String>,
    #[diesel(sql_type = Date)]
    day: NaiveDate,
}

#[derive(QueryableByName)]
struct Open {
    #[diesel(sql_type = Bool)]
    open: bool,
}

/// Whether there is such a batch, of a library that the caller is a member of.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn batch_is_open(tx: &mut Tx<'_>, id: Uuid) -> Result<bool> {
    let me = tx.actor()?.holder();
    let found: Open = diesel::sql_query(
        "SELECT EXISTS (
             SELECT FROM batch b JOIN revision r ON r.id = b.revision_id JOIN formula f ON f.id = r.formula_id
             JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $2
             WHERE b.id = $1) AS open",
    )
    .bind::<SqlUuid, _>(id)
    .bind::<SqlUuid, _>(me.0)
    .get_result(tx.conn())
    .await?;
    Ok(found.open)
}

/// What a batch of another library is called.
pub(crate) const OF_ANOTHER_LIBRARY: &str = "a formula of another library";

/// Places with their names and how they stand, in the order of the places. One that is not there is left out. What a batch
/// made and who made it is for members of its library; that it is there, and its number, for whoever must find its jars.
/// Cost: one statement.
pub(crate) async fn told(tx: &mut Tx<'_>, places: &[Place]) -> Result<Vec<TraceNode>> {
    let ids = |kind: TraceKind| -> Vec<Uuid> {
        places.iter().filter(|place| place.kind == kind).map(|place| place.id).collect()
    };
    let me = tx.actor()?.holder();
    // Who made a record that is marked blind is not told.
    // A batch was made on the day that it was in the clinic.
    let zone = policy::rules(tx).await?.time_zone.to_string();
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT l.id, l.number, coalesce(m.name, r.title) AS name, l.state, NULL AS disposition, b.on_hand,
             NULL AS maker_name, l.received_on AS day
         FROM lot l JOIN lot_balance b ON b.lot_id = l.id LEFT JOIN material m ON m.id = l.material_id
         LEFT JOIN revision r ON r.id = l.revision_id WHERE l.id = ANY ($1)
         UNION ALL
         SELECT b.id, b.number, CASE WHEN m.holder_id IS NULL THEN $4 ELSE r.title END, b.state, b.disposition, NULL,
             CASE WHEN m.holder_id IS NOT NULL AND NOT unnamed_batch(b.id, $3) THEN p.name END, (b.opened_at AT TIME ZONE $2)::date
         FROM batch b JOIN revision r ON r.id = b.revision_id JOIN formula f ON f.id = r.formula_id
         JOIN person p ON p.id = b.maker_id
         LEFT JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $3
         WHERE b.id = ANY ($5)",
    )
    .bind::<Array<SqlUuid>, _>(ids(TraceKind::Lot))
    .bind::<Text, _>(zone)
    .bind::<SqlUuid, _>(me.0)
    .bind::<Text, _>(OF_ANOTHER_LIBRARY)
    .bind::<Array<SqlUuid>, _>(ids(TraceKind::Batch))
    .load(tx.conn())
    .await?;
    let mut rows: HashMap<Uuid, Row> = rows.into_iter().map(|row| (row.id, row)).collect();
    let found = places.iter().filter_map(|place| Some((place, rows.remove(&place.id)?)));
    found.map(|(place, row)| node(place.kind, row)).collect()
}

fn node(kind: TraceKind, row: Row) -> Result<TraceNode> {
    let (lot_state, batch_state) = match kind {
        TraceKind::Lot => (Some(word(&row.state)?), None),
        TraceKind::Batch => (None, Some(word(&row.state)?)),
    };
    Ok(TraceNode {
        kind,
        id: row.id,
        number: row.number,
        name: row.name,
        lot_state,
        on_hand_grams: row.on_hand.map(|grams| grams.normalize().to_string()),
        batch_state,
        disposition: row.disposition.as_deref().map(word).transpose()?,
        maker_name: row.maker_name,
        on: row.day,
    })
}
