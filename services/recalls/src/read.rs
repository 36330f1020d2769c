//! Reading recalls.

use chrono::{DateTime, Utc};
use diesel::QueryableByName;
use diesel::sql_types::{BigInt, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::known_as::{self, Names};
use store::page::PageRequest;
use store::{Actor, Credentials, Error, Result, Store, Tx, word};
use uuid::Uuid;
use wire::ids::{PersonId, RecallId};
use wire::page::Page;
use wire::people::Role;
use wire::recalls::{Recall, RecallAccount, RecallClosed, RecallItem, RecallQuery, RecallSummary, TraceKind};

use crate::jars;
use crate::trace::{OF_ANOTHER_LIBRARY, told};
use crate::walk::Place;

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    cause: String,
    #[diesel(sql_type = SqlUuid)]
    cause_id: Uuid,
    #[diesel(sql_type = Text)]
    cause_name: String,
    #[diesel(sql_type = Text)]
    reason: String,
    #[diesel(sql_type = Text)]
    state: String,
    #[diesel(sql_type = BigInt)]
    items: i64,
    #[diesel(sql_type = BigInt)]
    unaccounted: i64,
    #[diesel(sql_type = SqlUuid)]
    by_id: Uuid,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    closed_by: Option<Uuid>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    closed_at: Option<DateTime<Utc>>,
    #[diesel(sql_type = Nullable<Text>)]
    closed_because: Option<String>,
}

/// A recall with the name of its cause and how far it is: for the caller, `$1`, and with what to call a formula of another
/// library, `$2`.
const ROW: &str = "
    SELECT c.id, c.cause, coalesce(c.lot_id, c.batch_id, c.formula_id, c.material_id) AS cause_id,
        coalesce(l.number || ' ' || coalesce(lm.name, lr.title),
            b.number || ' ' || CASE WHEN known.id IS NULL THEN $2 ELSE br.title END,
            CASE WHEN f.id IS NULL THEN m.name WHEN known.id IS NULL THEN $2 ELSE f.title END) AS cause_name,
        c.reason, c.state, i.items, i.unaccounted, c.by_id, c.at, c.closed_by, c.closed_at, c.closed_because
    FROM recall c LEFT JOIN lot l ON l.id = c.lot_id LEFT JOIN material lm ON lm.id = l.material_id
    LEFT JOIN revision lr ON lr.id = l.revision_id LEFT JOIN batch b ON b.id = c.batch_id
    LEFT JOIN revision br ON br.id = b.revision_id LEFT JOIN formula f ON f.id = c.formula_id
    LEFT JOIN material m ON m.id = c.material_id
    -- the formula of the cause, where the caller is a member of its library
    LEFT JOIN LATERAL (
        SELECT k.id FROM formula k JOIN library_member o ON o.library_id = k.library_id AND o.holder_id = $1
        WHERE k.id = coalesce(c.formula_id, br.formula_id)) known ON true
    CROSS JOIN LATERAL (
        SELECT count(*) AS items, recall_unaccounted(c.id) AS unaccounted
        FROM recall_item i WHERE i.recall_id = c.id) i";

fn summary(row: &Row, names: &Names) -> Result<RecallSummary> {
    Ok(RecallSummary {
        id: RecallId(row.id),
        cause: word(&row.cause)?,
        cause_id: row.cause_id,
        cause_name: row.cause_name.clone(),
        reason: row.reason.clone(),
        state: word(&row.state)?,
        items: count(row.items),
        unaccounted: count(row.unaccounted),
        by: PersonId(row.by_id),
        by_name: names.of(row.by_id),
        at: row.at,
    })
}

fn count(number: i64) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

/// Recalls, the newest first. For who keeps the stock. Cost: two statements; counting the items grows with those of the
/// recalls on the page.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, and [`Error::Invalid`] for a refused query.
pub async fn recalls(
    store: &Store,
    credentials: &Credentials,
    query: &RecallQuery,
) -> Result<Page<RecallSummary>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            tx.staff()?;
            let me = tx.actor()?.holder();
            let rows: Vec<Row> = diesel::sql_query(format!(
                "{ROW} WHERE ($3 IS NULL OR c.state = $3) AND ($4 IS NULL OR c.id < $4) ORDER BY c.id DESC LIMIT $5"
            ))
            .bind::<SqlUuid, _>(me.0)
            .bind::<Text, _>(OF_ANOTHER_LIBRARY)
            .bind::<Nullable<Text>, _>(query.state.map(|state| state.as_str()))
            .bind::<Nullable<SqlUuid>, _>(slice.after)
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| row.id)?;
            let names = known_as::people(tx, page.items.iter().map(|row| row.by_id)).await?;
            let items = page.items.iter().map(|row| summary(row, &names)).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

/// One recall, with everything that it reached. For who keeps the stock. Cost: four statements.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, and [`Error::NotFound`] if there is no such recall.
pub async fn recall(store: &Store, credentials: &Credentials, id: RecallId) -> Result<Recall> {
    store.read(credentials, async |tx| seen(tx, id).await).await
}

#[derive(QueryableByName)]
struct ItemRow {
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    lot_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    batch_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    outcome: Option<String>,
    #[diesel(sql_type = Nullable<Text>)]
    note: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    by_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    at: Option<DateTime<Utc>>,
}

impl ItemRow {
    fn place(&self) -> Option<Place> {
        match (self.lot_id, self.batch_id) {
            (Some(id), _) => Some(Place { kind: TraceKind::Lot, id }),
            (None, Some(id)) => Some(Place { kind: TraceKind::Batch, id }),
            (None, None) => None,
        }
    }

    fn account(self, names: &Names) -> Result<Option<RecallAccount>> {
        let (Some(outcome), Some(by), Some(at)) = (self.outcome, self.by_id, self.at) else {
            return Ok(None);
        };
        let by_name = names.of(by);
        Ok(Some(RecallAccount { outcome: word(&outcome)?, note: self.note, by: PersonId(by), by_name, at }))
    }
}

/// A recall as who keeps the stock sees it.
///
/// # Errors
/// As [`recall()`].
pub(crate) async fn seen(tx: &mut Tx<'_>, id: RecallId) -> Result<Recall> {
    tx.staff()?;
    let me = tx.actor()?.holder();
    let rows: Vec<Row> = diesel::sql_query(format!("{ROW} WHERE c.id = $3"))
        .bind::<SqlUuid, _>(me.0)
        .bind::<Text, _>(OF_ANOTHER_LIBRARY)
        .bind::<SqlUuid, _>(id.0)
        .load(tx.conn())
        .await?;
    let row = rows.into_iter().next().ok_or(Error::NotFound("recall"))?;
    let items: Vec<ItemRow> = diesel::sql_query(
        "SELECT i.number, i.lot_id, i.batch_id, o.outcome, o.note, o.by_id, o.at
         FROM recall_item i LEFT JOIN LATERAL (
             SELECT * FROM recall_outcome o WHERE o.recall_id = i.recall_id AND o.item = i.number
             ORDER BY o.number DESC LIMIT 1) o ON true
         WHERE i.recall_id = $1 ORDER BY i.number",
    )
    .bind::<SqlUuid, _>(id.0)
    .load(tx.conn())
    .await?;
    let people = items.iter().filter_map(|item| item.by_id);
    let names = known_as::people(tx, people.chain([row.by_id]).chain(row.closed_by)).await?;
    let places: Vec<Place> = items.iter().filter_map(ItemRow::place).collect();
    let nodes = told(tx, &places).await?;
    if nodes.len() != items.len() {
        return Err(Error::internal("an item of a recall that is not there"));
    }
    let mut jars = jars::of_recall(tx, id).await?;
    let reached = items.into_iter().zip(nodes).map(|(item, node)| {
        let number = u32::try_from(item.number).map_err(|_| Error::internal("an item below 1"))?;
        let jars = item.batch_id.and_then(|batch| jars.remove(&batch)).unwrap_or_default();
        Ok(RecallItem { item: number, node, accounted: item.account(&names)?, jars })
    });
    let closed = row.closed_by.zip(row.closed_at).map(|(by, at)| RecallClosed {
        reason: row.closed_because.clone(),
        by: PersonId(by),
        by_name: names.of(by),
        at,
    });
    Ok(Recall { summary: summary(&row, &names)?, reached: reached.collect::<Result<_>>()?, closed })
}

/// Whether the caller may read the events of this subject: those of recalls are for who keeps the stock.
///
/// # Errors
/// Returns the errors of the database.
pub async fn may_read_events(tx: &mut Tx<'_>, subject: Uuid) -> Result<bool> {
    let keeps = match tx.actor()? {
        Actor::Person(person) => person.role != Role::Student,
        Actor::Client { .. } => false,
    };
    if !keeps {
        return Ok(false);
    }
    let rows: Vec<There> = diesel::sql_query("SELECT id FROM recall WHERE id = $1")
        .bind::<SqlUuid, _>(subject)
        .load(tx.conn())
        .await?;
    Ok(rows.iter().any(|row| row.id == subject))
}

#[derive(QueryableByName)]
struct There {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}
