//! Writing a transaction's events at its end, each at the end of its subject's chain.
//!
//! Cost: five statements and one for each table whose rows are vouched for, however many events there are. The heads
//! are locked in the order of their subjects, so that two transactions about the same subjects follow each other and
//! cannot deadlock.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use canonical::{Form, Salt, Sha};
use diesel::prelude::*;
use diesel::sql_types::{Array, Nullable, Text};
use diesel::upsert::excluded;
use diesel_async::RunQueryDsl;
use schema::{event, event_head, event_unnumbered, row_digest};
use serde_json::Value;
use uuid::Uuid;

use super::chain::BEGINNING;
use super::event::NewEvent;
use super::kept::Kept;
use super::row::EventRow;
use crate::actor::Actor;
use crate::error::{Error, Result};
use crate::tx::Tx;

/// How many rows go into one statement: far below Postgres's limit of parameters.
const ROWS: usize = 1000;

/// Where a chain stands: the kind of its subject, the number of its last event, and that event's hash.
struct Head {
    kind: String,
    number: i64,
    hash: Vec<u8>,
}

/// A row's digest as it is kept beside the row.
struct Digested {
    salt: Salt,
    digest: Sha,
    event: Uuid,
}

/// Rows by table and key, as they stand at the end of the transaction; none for a row that is gone.
type Rows = HashMap<(&'static str, String), Option<String>>;

/// Writes what the transaction has gathered.
///
/// # Errors
/// When the database refuses it; the transaction then rolls back.
pub(crate) async fn write(tx: &mut Tx<'_>) -> Result<()> {
    let events = std::mem::take(&mut tx.events);
    if events.is_empty() {
        return Ok(());
    }
    let rows = read_rows(tx, &events).await?;
    let mut heads = lock_heads(tx, &events).await?;
    let (actor_id, on_authority_of) = match tx.actor_if_any() {
        Some(Actor::Person(person)) => (Some(person.id.0), None),
        Some(Actor::Client { id, responsible, .. }) => (Some(id.0), Some(responsible.0)),
        None => (None, None),
    };
    let mut digests: BTreeMap<(&'static str, String), Digested> = BTreeMap::new();
    let mut links = Vec::with_capacity(events.len());
    for mut new in events {
        let id = tx.new_id();
        for (name, digested) in digests_of(tx, &new, &rows, id)? {
            name_digest(&mut new.detail, &name, &digested.digest)?;
            digests.insert(name, digested);
        }
        let head = heads.entry(new.subject).or_insert_with(|| Head {
            kind: new.subject_kind.to_owned(),
            number: 0,
            hash: BEGINNING.to_vec(),
        });
        head.number += 1;
        let mut row = EventRow {
            id,
            subject_kind: new.subject_kind.to_owned(),
            subject_id: new.subject,
            number: head.number,
            at: tx.now,
            actor_id,
            on_authority_of,
            action: new.action.to_owned(),
            before_digest: new.before.map(Vec::from),
            after_digest: new.after.map(Vec::from),
            detail: new.detail,
            previous_hash: head.hash.clone(),
            hash: Vec::new(),
            form: Form::NEW.number(),
        };
        row.hash = row.recomputed()?.to_vec();
        head.hash.clone_from(&row.hash);
        links.push(row);
    }
    insert_events(tx, &links).await?;
    keep_heads(tx, heads).await?;
    keep_digests(tx, digests).await
}

/// Reads every row that an event vouches for, one statement a table.
async fn read_rows(tx: &mut Tx<'_>, events: &[NewEvent]) -> Result<Rows> {
    #[derive(QueryableByName)]
    struct Read {
        #[diesel(sql_type = Text)]
        key: String,
        #[diesel(sql_type = Nullable<Text>)]
        row: Option<String>,
    }
    let mut wanted: BTreeMap<&'static str, (&'static Kept, BTreeSet<&[String]>)> = BTreeMap::new();
    for row in events.iter().flat_map(|event| &event.rows) {
        wanted.entry(row.kept.table).or_insert((row.kept, BTreeSet::new())).1.insert(&row.key);
    }
    let mut rows = Rows::new();
    for (table, (kept, keys)) in wanted {
        let mut statement = diesel::sql_query(kept.by_keys()).into_boxed();
        for part in 0..kept.key.len() {
            let column: Vec<String> =
                keys.iter().map(|key| key.get(part).cloned().unwrap_or_default()).collect();
            statement = statement.bind::<Array<Text>, _>(column);
        }
        let found: Vec<Read> = statement.load(tx.conn()).await?;
        rows.extend(found.into_iter().map(|read| ((table, read.key), read.row)));
    }
    Ok(rows)
}

/// The chains' heads, locked in the order of their subjects.
async fn lock_heads(tx: &mut Tx<'_>, events: &[NewEvent]) -> Result<BTreeMap<Uuid, Head>> {
    let subjects: BTreeSet<Uuid> = events.iter().map(|event| event.subject).collect();
    let rows: Vec<(Uuid, String, i64, Vec<u8>)> = event_head::table
        .filter(event_head::subject_id.eq_any(subjects))
        .order(event_head::subject_id)
        .select((event_head::subject_id, event_head::subject_kind, event_head::number, event_head::hash))
        .for_update()
        .load(tx.conn())
        .await?;
    Ok(rows.into_iter().map(|(id, kind, number, hash)| (id, Head { kind, number, hash })).collect())
}

/// The digest of every row that an event vouches for.
fn digests_of(
    tx: &Tx<'_>,
    event: &NewEvent,
    rows: &Rows,
    id: Uuid,
) -> Result<Vec<((&'static str, String), Digested)>> {
    event
        .rows
        .iter()
        .map(|of| {
            let name = (of.kept.table, of.key_text());
            let row = rows.get(&name).ok_or_else(|| Error::internal("a row that was not read"))?;
            let salt: Salt = tx.rng.bytes();
            let digest = digest_of_row(row.as_deref(), &salt)?;
            Ok((name, Digested { salt, digest, event: id }))
        })
        .collect()
}

/// The digest of a row as the database writes it; of one that is not there, of `null`.
pub(super) fn digest_of_row(row: Option<&str>, salt: &Salt) -> Result<Sha> {
    let value: Value = serde_json::from_str(row.unwrap_or("null"))?;
    Ok(canonical::salted(&value, salt))
}

/// Where an event's detail names the digests of rows.
pub(super) const DIGESTS: &str = "rows";

/// The name of a row in an event's detail.
pub(super) fn row_name(table: &str, key: &str) -> String {
    format!("{table}/{key}")
}

fn name_digest(detail: &mut Value, (table, key): &(&'static str, String), digest: &Sha) -> Result<()> {
    let fields = detail.as_object_mut().ok_or_else(|| Error::internal("an event's detail is an object"))?;
    let rows = fields.entry(DIGESTS).or_insert_with(|| Value::Object(serde_json::Map::new()));
    let rows = rows.as_object_mut().ok_or_else(|| Error::internal("an event's rows are an object"))?;
    rows.insert(row_name(table, key), hex::encode(digest).into());
    Ok(())
}

async fn insert_events(tx: &mut Tx<'_>, links: &[EventRow]) -> Result<()> {
    for some in links.chunks(ROWS) {
        diesel::insert_into(event::table).values(some).execute(tx.conn()).await?;
        let ids: Vec<_> = some.iter().map(|link| event_unnumbered::event_id.eq(link.id())).collect();
        diesel::insert_into(event_unnumbered::table).values(ids).execute(tx.conn()).await?;
    }
    Ok(())
}

async fn keep_heads(tx: &mut Tx<'_>, heads: BTreeMap<Uuid, Head>) -> Result<()> {
    let rows: Vec<_> = heads
        .into_iter()
        .map(|(subject, head)| {
            (
                event_head::subject_id.eq(subject),
                event_head::subject_kind.eq(head.kind),
                event_head::number.eq(head.number),
                event_head::hash.eq(head.hash),
            )
        })
        .collect();
    for some in rows.chunks(ROWS) {
        diesel::insert_into(event_head::table)
            .values(some.to_vec())
            .on_conflict(event_head::subject_id)
            .do_update()
            .set((
                event_head::number.eq(excluded(event_head::number)),
                event_head::hash.eq(excluded(event_head::hash)),
            ))
            .execute(tx.conn())
            .await?;
    }
    Ok(())
}

async fn keep_digests(tx: &mut Tx<'_>, digests: BTreeMap<(&'static str, String), Digested>) -> Result<()> {
    let rows: Vec<_> = digests
        .into_iter()
        .map(|((table, key), of)| {
            (
                row_digest::table_name.eq(table),
                row_digest::row_key.eq(key),
                row_digest::form.eq(Form::NEW.number()),
                row_digest::salt.eq(of.salt.to_vec()),
                row_digest::digest.eq(of.digest.to_vec()),
                row_digest::event_id.eq(of.event),
            )
        })
        .collect();
    for some in rows.chunks(ROWS) {
        diesel::insert_into(row_digest::table)
            .values(some.to_vec())
            .on_conflict((row_digest::table_name, row_digest::row_key))
            .do_update()
            .set((
                row_digest::form.eq(excluded(row_digest::form)),
                row_digest::salt.eq(excluded(row_digest::salt)),
                row_digest::digest.eq(excluded(row_digest::digest)),
                row_digest::event_id.eq(excluded(row_digest::event_id)),
            ))
            .execute(tx.conn())
            .await?;
    }
    Ok(())
}
