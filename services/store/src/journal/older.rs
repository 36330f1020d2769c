//! Vouching for rows that are older than the journal's proof of rows.
//!
//! Every row that must be vouched for and is not gets a salt and a digest, as it is found, named in chained events of
//! the journal's own subject. Afterwards a row without a digest is a break. A table is vouched for once: an event then
//! says that it is done, so that a row slipped in later cannot be vouched for by running this again.

use std::collections::{BTreeMap, BTreeSet};

use diesel::sql_types::{Array, Bool, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde_json::json;
use uuid::Uuid;

use super::event::NewEvent;
use super::kept::{Kept, consistent};
use crate::error::{Error, Result};
use crate::store::Store;
use crate::tx::Tx;

/// The kind of the subject that the journal's own events are about.
pub const JOURNAL: &str = "journal";

/// The one subject of that kind: the word "journal" in the first bytes of a UUID of version 8 (RFC 9562).
pub const JOURNAL_ID: Uuid = Uuid::from_u128(0x6a6f_7572_6e61_86c0_8000_0000_0000_0000);

/// The action of an event that vouches for older rows.
const FOUND: &str = "vouched_as_found";

/// The action of the event after which a table holds no older rows; its detail names the table.
const DONE: &str = "all_vouched_as_found";

/// How many rows one event vouches for.
const IN_EVENT: usize = 100;

/// How many rows one transaction looks at.
const IN_TRANSACTION: usize = 1000;

/// What was vouched for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct VouchedFor {
    /// How many rows, by table; tables that were done before are missing.
    pub rows: BTreeMap<&'static str, u64>,
}

impl VouchedFor {
    /// How many rows in all tables.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.rows.values().sum()
    }
}

/// Vouches for every row of these tables that is older than the proof, as it is found. May be interrupted and run again:
/// it goes on, and does nothing for a table that is done. Each transaction is bounded. Meant for the time between a
/// migration and the start of the service; a request that changes one of these rows meanwhile may have to be repeated.
///
/// # Errors
/// [`Error::Internal`] when `kept` contradicts itself, and when the database cannot be reached or refuses it. What was
/// vouched for until then stays.
pub async fn vouch_for_older(store: &Store, kept: &[&'static Kept]) -> Result<VouchedFor> {
    consistent(kept).map_err(|error| Error::Internal(error.into()))?;
    let done = store.run_unauthenticated(done).await?;
    let mut vouched = VouchedFor::default();
    for &of in kept.iter().filter(|of| !done.contains(of.table)) {
        let mut after = None;
        let mut count = 0;
        loop {
            let page = store.run_unauthenticated(async |tx| some(tx, of, after.as_deref()).await).await?;
            count += page.vouched;
            after = page.last;
            if after.is_none() {
                break;
            }
        }
        vouched.rows.insert(of.table, count);
    }
    Ok(vouched)
}

/// The tables that are done.
async fn done(tx: &mut Tx<'_>) -> Result<BTreeSet<String>> {
    #[derive(diesel::QueryableByName)]
    struct Done {
        #[diesel(sql_type = Text)]
        table: String,
    }
    let rows: Vec<Done> = diesel::sql_query(
        "SELECT detail ->> 'table' AS table FROM event
         WHERE subject_id = $1 AND action = $2 AND detail ->> 'table' IS NOT NULL",
    )
    .bind::<SqlUuid, _>(JOURNAL_ID)
    .bind::<Text, _>(DONE)
    .load(tx.conn())
    .await?;
    Ok(rows.into_iter().map(|row| row.table).collect())
}

/// What one transaction did.
struct Page {
    vouched: u64,
    /// The key to go on after, if there may be more rows.
    last: Option<Vec<String>>,
}

#[derive(diesel::QueryableByName)]
struct Row {
    #[diesel(sql_type = Array<Text>)]
    key: Vec<String>,
    #[diesel(sql_type = Bool)]
    vouched: bool,
}

/// One transaction: the next rows of a table.
async fn some(tx: &mut Tx<'_>, of: &'static Kept, after: Option<&[String]>) -> Result<Page> {
    let mut statement = diesel::sql_query(of.page_of_keys(after.is_some(), IN_TRANSACTION)).into_boxed();
    for part in after.unwrap_or_default() {
        statement = statement.bind::<Text, _>(part.clone());
    }
    let rows: Vec<Row> = statement.load(tx.conn()).await?;
    let whole = rows.len() == IN_TRANSACTION;
    let last = rows.last().map(|row| row.key.clone()).filter(|_| whole);
    let older: Vec<Vec<String>> = rows.into_iter().filter(|row| !row.vouched).map(|row| row.key).collect();
    for some in older.chunks(IN_EVENT) {
        let event = NewEvent::new(JOURNAL, JOURNAL_ID, FOUND);
        tx.record(some.iter().fold(event, |event, key| event.keeps(of, key)));
    }
    if last.is_none() {
        tx.record(NewEvent::new(JOURNAL, JOURNAL_ID, DONE).detail(json!({ "table": of.table })));
    }
    Ok(Page { vouched: u64::try_from(older.len()).unwrap_or(u64::MAX), last })
}
