//! Walking from lots and batches to what was made of them, or what they were made of.

use std::collections::{BTreeMap, HashSet, VecDeque};

use diesel::QueryableByName;
use diesel::sql_types::{Array, BigInt, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Error, Result, Tx, word};
use uuid::Uuid;
use wire::recalls::{TraceDirection, TraceKind, TraceStep};

/// The most steps that are walked. A teaching clinic makes some thousand batches a year.
const FURTHEST: usize = 50_000;

/// One place of a walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Place {
    pub(crate) kind: TraceKind,
    pub(crate) id: Uuid,
}

/// What a walk reached: every place once, nearest first, and the steps between them.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Reached {
    pub(crate) places: Vec<Place>,
    pub(crate) steps: Vec<TraceStep>,
}

impl Reached {
    /// The ids of one kind.
    pub(crate) fn ids(&self, kind: TraceKind) -> impl Iterator<Item = Uuid> {
        self.places.iter().filter(move |place| place.kind == kind).map(|place| place.id)
    }
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Nullable<SqlUuid>)]
    from_id: Option<Uuid>,
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// From a lot to the batches that weighed from it, and from a batch to the lots that it became. What an entry gave back
/// when it was corrected is not in the batch.
const ONWARD: &str = "
    WITH RECURSIVE step (from_id, kind, id) AS (
        SELECT NULL::uuid, s.kind, s.id FROM unnest($1::text[], $2::uuid[]) AS s (kind, id)
        UNION
        SELECT p.id, n.kind, n.id FROM step p CROSS JOIN LATERAL (
            SELECT 'batch' AS kind, m.batch_id AS id FROM lot_movement m
            WHERE p.kind = 'lot' AND m.lot_id = p.id AND m.kind = 'used' AND NOT EXISTS (
                SELECT FROM lot_movement r WHERE r.entry_id = m.entry_id AND r.kind = 'returned')
            UNION ALL
            SELECT 'lot', l.id FROM lot l WHERE p.kind = 'batch' AND l.batch_id = p.id) n
    ) SELECT from_id, kind, id FROM step LIMIT $3";

/// The same steps the other way.
const BACK: &str = "
    WITH RECURSIVE step (from_id, kind, id) AS (
        SELECT NULL::uuid, s.kind, s.id FROM unnest($1::text[], $2::uuid[]) AS s (kind, id)
        UNION
        SELECT p.id, n.kind, n.id FROM step p CROSS JOIN LATERAL (
            SELECT 'lot' AS kind, m.lot_id AS id FROM lot_movement m
            WHERE p.kind = 'batch' AND m.batch_id = p.id AND m.kind = 'used' AND NOT EXISTS (
                SELECT FROM lot_movement r WHERE r.entry_id = m.entry_id AND r.kind = 'returned')
            UNION ALL
            SELECT 'batch', l.batch_id FROM lot l
            WHERE p.kind = 'lot' AND l.id = p.id AND l.batch_id IS NOT NULL) n
    ) SELECT from_id, kind, id FROM step LIMIT $3";

/// Everything that is reached from some places, themselves included. Cost: one statement, whose work grows with the steps
/// that are walked and with nothing else.
///
/// # Errors
/// Returns [`Error::Conflict`] where more is reached than can be told.
pub(crate) async fn walk(tx: &mut Tx<'_>, from: &[Place], direction: TraceDirection) -> Result<Reached> {
    let kinds: Vec<&str> = from.iter().map(|place| place.kind.as_str()).collect();
    let ids: Vec<Uuid> = from.iter().map(|place| place.id).collect();
    let sql = match direction {
        TraceDirection::Onward => ONWARD,
        TraceDirection::Back => BACK,
    };
    let most = i64::try_from(FURTHEST + 1).unwrap_or(i64::MAX);
    let rows: Vec<Row> = diesel::sql_query(sql)
        .bind::<Array<Text>, _>(kinds)
        .bind::<Array<SqlUuid>, _>(ids)
        .bind::<BigInt, _>(most)
        .load(tx.conn())
        .await?;
    if rows.len() > FURTHEST {
        return Err(Error::Conflict(format!(
            "This leads to more than {FURTHEST} steps. Begin with one of the lots or batches that it was made into."
        )));
    }
    let mut leads: BTreeMap<Uuid, Vec<Place>> = BTreeMap::new();
    for row in rows {
        let place = Place { kind: word(&row.kind)?, id: row.id };
        if let Some(from) = row.from_id {
            leads.entry(from).or_default().push(place);
        }
    }
    Ok(in_order(from, leads))
}

/// The places by their distance from where the walk began, and within one distance by id, so by time.
fn in_order(from: &[Place], mut leads: BTreeMap<Uuid, Vec<Place>>) -> Reached {
    let mut found = Reached { places: Vec::new(), steps: Vec::new() };
    let mut seen = HashSet::new();
    let mut first = from.to_vec();
    first.sort_by_key(|place| place.id);
    let mut waiting: VecDeque<Place> = first.into();
    while let Some(place) = waiting.pop_front() {
        if !seen.insert(place.id) {
            continue;
        }
        found.places.push(place);
        let mut next = leads.remove(&place.id).unwrap_or_default();
        next.sort_by_key(|next| next.id);
        for next in next {
            found.steps.push(TraceStep { from: place.id, to: next.id });
            waiting.push_back(next);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(kind: TraceKind, number: u128) -> Place {
        Place { kind, id: Uuid::from_u128(number) }
    }

    #[test]
    fn each_place_stands_once_and_the_nearest_first() {
        use TraceKind::{Batch, Lot};
        // A lot goes into two batches; one is a lot again, which goes into the other.
        let leads = BTreeMap::from([
            (Uuid::from_u128(1), vec![place(Batch, 3), place(Batch, 2)]),
            (Uuid::from_u128(2), vec![place(Lot, 4)]),
            (Uuid::from_u128(4), vec![place(Batch, 3)]),
        ]);
        let found = in_order(&[place(Lot, 1)], leads);
        let order: Vec<u128> = found.places.iter().map(|place| place.id.as_u128()).collect();
        assert_eq!(order, [1, 2, 3, 4]);
        assert_eq!(found.steps.len(), 4);
        assert_eq!(found.ids(Batch).count(), 2);
    }
}
