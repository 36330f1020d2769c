//! Where a lot or a batch went, and what it was made of.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::QueryableByName;
use diesel::sql_types::{Array, Date, Nullable, Numeric, Text, Uuid as SqlUuid};
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

/// As [`lot_trace`], of a batch.
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

/// Places with their names and how they stand, in the order of the places. One that is not there is left out. Cost: one
/// statement.
pub(crate) async fn told(tx: &mut Tx<'_>, places: &[Place]) -> Result<Vec<TraceNode>> {
    let ids: Vec<Uuid> = places.iter().map(|place| place.id).collect();
    // A batch was made on the day that it was in the clinic.
    let zone = policy::rules(tx).await?.time_zone.to_string();
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT l.id, l.number, coalesce(m.name, r.title) AS name, l.state, NULL AS disposition, b.on_hand,
             NULL AS maker_name, l.received_on AS day
         FROM lot l JOIN lot_balance b ON b.lot_id = l.id LEFT JOIN material m ON m.id = l.material_id
         LEFT JOIN revision r ON r.id = l.revision_id WHERE l.id = ANY ($1)
         UNION ALL
         SELECT b.id, b.number, r.title, b.state, b.disposition, NULL, p.name, (b.opened_at AT TIME ZONE $2)::date
         FROM batch b JOIN revision r ON r.id = b.revision_id JOIN person p ON p.id = b.maker_id
         WHERE b.id = ANY ($1)",
    )
    .bind::<Array<SqlUuid>, _>(ids)
    .bind::<Text, _>(zone)
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
