//! The digests of the rows that a transaction's events vouch for.
//!
//! An event names each digest under [`DIGESTS`] in its detail. Where the row was vouched for before, the event that did
//! so last is named under [`FOLLOWS`]: the events of a row form a chain, and a row that is put back to an earlier state,
//! with the digest that it had then, shows as one that a later event has left behind.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use canonical::{Form, Salt, Sha};
use diesel_async::AsyncPgConnection;
use serde_json::Value;
use uuid::Uuid;

use super::event::NewEvent;
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

/// A digest to be kept.
pub(super) struct Vouching {
    pub(super) table: &'static str,
    pub(super) key: String,
    pub(super) salt: Salt,
    pub(super) digest: Sha,
    pub(super) event: Uuid,
    pub(super) before: Option<Uuid>,
}

/// Reads every row that an event vouches for, in one statement. After the heads are locked, so that nothing about
/// the same subject is written any more by another transaction.
pub(super) async fn read(conn: &AsyncPgConnection, events: &[NewEvent]) -> Result<Digests> {
    let mut wanted: BTreeMap<&'static str, (&'static Kept, BTreeSet<&[String]>)> = BTreeMap::new();
    for row in events.iter().flat_map(|event| &event.rows) {
        wanted.entry(row.kept.table).or_insert((row.kept, BTreeSet::new())).1.insert(&row.key);
    }
    let wanted: Vec<(&Kept, Vec<&[String]>)> =
        wanted.into_values().map(|(kept, keys)| (kept, Vec::from_iter(keys))).collect();
    let found = vouched::standing(conn, &wanted)
        .await?
        .into_iter()
        .map(|(kept, row)| ((kept.table, row.key), Found { row: row.json, vouched_by: row.event_id }))
        .collect();
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

    /// What is to be kept beside the rows, in the order of tables and keys: of rows that were vouched for before, and of
    /// others.
    pub(super) fn vouching(self) -> (Vec<Vouching>, Vec<Vouching>) {
        let all = self.named.into_iter().map(|((table, key), of)| Vouching {
            table,
            key,
            salt: of.salt,
            digest: of.digest,
            event: of.event,
            before: of.before,
        });
        all.partition(|of| of.before.is_some())
    }
}

fn put(detail: &mut Value, under: &'static str, name: String, value: String) -> Result<()> {
    let fields = detail.as_object_mut().ok_or_else(|| Error::internal("an event's detail is an object"))?;
    let rows = fields.entry(under).or_insert_with(|| Value::Object(serde_json::Map::new()));
    let rows = rows.as_object_mut().ok_or_else(|| Error::internal("an event's rows are an object"))?;
    rows.insert(name, value.into());
    Ok(())
}
