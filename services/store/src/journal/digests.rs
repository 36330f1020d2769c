//! The digests of the rows that a transaction's events vouch for.
//!
//! An event names each digest under [`DIGESTS`] in its detail. Where the row was vouched for before, the event that did
//! so last is named under [`FOLLOWS`]: the events of a row form a chain, and a row that is put back to an earlier state,
//! with the digest that it had then, shows as one that a later event has left behind.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use canonical::{Form, Salt, Sha};
use diesel::prelude::*;
use diesel::sql_types::{Array, Binary, SmallInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::row_digest;
use serde_json::Value;
use uuid::Uuid;

use super::ROWS;
use super::event::NewEvent;
use super::heads::Overtaken;
use super::kept::Kept;
use super::vouched::{self, DIGESTS, FOLLOWS, digest_of_row, row_name};
use crate::error::{Error, Result};
use crate::tx::Tx;

/// A row's table and key.
type Name = (&'static str, String);

/// A row as it stands at the end of the transaction, and the event that vouched for it before.
pub(super) struct Found {
    row: Option<String>,
    vouched_by: Option<Uuid>,
}

/// The digest of a row, as it is going to be kept.
struct Digested {
    salt: Salt,
    digest: Sha,
    /// The event of this transaction that names it last.
    event: Uuid,
    /// The event that the row's digest named before this transaction.
    before: Option<Uuid>,
}

/// Rows as they were found, and their digests as far as events have named them.
pub(super) struct Digests {
    found: HashMap<Name, Found>,
    named: BTreeMap<Name, Digested>,
}

/// Reads every row that an event vouches for, one statement a table. After the heads are locked, so that nothing about
/// the same subject is written any more by another transaction.
pub(super) async fn read(tx: &mut Tx<'_>, events: &[NewEvent]) -> Result<Digests> {
    let mut wanted: BTreeMap<&'static str, (&'static Kept, BTreeSet<&[String]>)> = BTreeMap::new();
    for row in events.iter().flat_map(|event| &event.rows) {
        wanted.entry(row.kept.table).or_insert((row.kept, BTreeSet::new())).1.insert(&row.key);
    }
    let mut found = HashMap::new();
    for (table, (kept, keys)) in wanted {
        let keys: Vec<&[String]> = keys.into_iter().collect();
        for read in vouched::read(tx, kept, &keys).await? {
            found.insert((table, read.key), Found { row: read.json, vouched_by: read.event_id });
        }
    }
    Ok(Digests { found, named: BTreeMap::new() })
}

impl Digests {
    /// Names in the detail of the event `id` the digests of the rows that it vouches for.
    pub(super) fn name(&mut self, tx: &Tx<'_>, event: &mut NewEvent, id: Uuid) -> Result<()> {
        for of in std::mem::take(&mut event.rows) {
            let name = (of.kept.table, of.key_text());
            let (digested, follows) = match self.named.remove(&name) {
                // Named twice by one event.
                Some(earlier) if earlier.event == id => {
                    self.named.insert(name, earlier);
                    continue;
                }
                Some(earlier) => {
                    let follows = Some(earlier.event);
                    (Digested { event: id, ..earlier }, follows)
                }
                None => {
                    let found =
                        self.found.get(&name).ok_or_else(|| Error::internal("a row that was not read"))?;
                    let salt: Salt = tx.rng.bytes();
                    let digest = digest_of_row(Form::NEW, found.row.as_deref(), &salt)?;
                    (Digested { salt, digest, event: id, before: found.vouched_by }, found.vouched_by)
                }
            };
            let of = row_name(name.0, &name.1);
            if let Some(earlier) = follows {
                put(&mut event.detail, FOLLOWS, of.clone(), earlier.to_string())?;
            }
            put(&mut event.detail, DIGESTS, of, hex::encode(digested.digest))?;
            self.named.insert(name, digested);
        }
        Ok(())
    }

    /// Keeps the digests beside their rows, in the order of tables and keys.
    ///
    /// # Errors
    /// [`Error::Contended`] with [`Overtaken`] when another transaction vouched for one of the rows in the meantime.
    pub(super) async fn keep(self, tx: &mut Tx<'_>) -> Result<()> {
        let (again, first): (Vec<_>, Vec<_>) =
            self.named.into_iter().partition(|(_, of)| of.before.is_some());
        for some in again.chunks(ROWS) {
            replace(tx, some).await?;
        }
        for some in first.chunks(ROWS) {
            let rows: Vec<_> = some
                .iter()
                .map(|((table, key), of)| {
                    (
                        row_digest::table_name.eq(*table),
                        row_digest::row_key.eq(key),
                        row_digest::form.eq(Form::NEW.number()),
                        row_digest::salt.eq(&of.salt[..]),
                        row_digest::digest.eq(&of.digest[..]),
                        row_digest::event_id.eq(of.event),
                    )
                })
                .collect();
            let written = diesel::insert_into(row_digest::table)
                .values(rows)
                .on_conflict_do_nothing()
                .execute(tx.conn())
                .await?;
            if written != some.len() {
                return Err(Overtaken("an event that vouches for the same row").into());
            }
        }
        Ok(())
    }
}

/// Replaces digests, each only while it is the one that was read.
async fn replace(tx: &mut Tx<'_>, some: &[(Name, Digested)]) -> Result<()> {
    let names = |part: fn(&Name) -> String| some.iter().map(|(name, _)| part(name)).collect::<Vec<_>>();
    let written = diesel::sql_query(
        "UPDATE row_digest d SET form = $1, salt = n.salt, digest = n.digest, event_id = n.event_id
         FROM (SELECT * FROM unnest($2::text[], $3::text[], $4::bytea[], $5::bytea[], $6::uuid[], $7::uuid[])
                   AS n (table_name, row_key, salt, digest, event_id, was)) n
         WHERE d.table_name = n.table_name AND d.row_key = n.row_key AND d.event_id = n.was",
    )
    .bind::<SmallInt, _>(Form::NEW.number())
    .bind::<Array<Text>, _>(names(|(table, _)| (*table).to_owned()))
    .bind::<Array<Text>, _>(names(|(_, key)| key.clone()))
    .bind::<Array<Binary>, _>(some.iter().map(|(_, of)| of.salt.to_vec()).collect::<Vec<_>>())
    .bind::<Array<Binary>, _>(some.iter().map(|(_, of)| of.digest.to_vec()).collect::<Vec<_>>())
    .bind::<Array<SqlUuid>, _>(some.iter().map(|(_, of)| of.event).collect::<Vec<_>>())
    .bind::<Array<SqlUuid>, _>(some.iter().filter_map(|(_, of)| of.before).collect::<Vec<_>>())
    .execute(tx.conn())
    .await?;
    if written == some.len() {
        Ok(())
    } else {
        Err(Overtaken("an event that vouches for the same row").into())
    }
}

fn put(detail: &mut Value, under: &'static str, name: String, value: String) -> Result<()> {
    let fields = detail.as_object_mut().ok_or_else(|| Error::internal("an event's detail is an object"))?;
    let rows = fields.entry(under).or_insert_with(|| Value::Object(serde_json::Map::new()));
    let rows = rows.as_object_mut().ok_or_else(|| Error::internal("an event's rows are an object"))?;
    rows.insert(name, value.into());
    Ok(())
}
