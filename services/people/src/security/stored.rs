//! Security events in the database: adding, listing, removing.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Integer, Timestamptz};
use diesel_async::RunQueryDsl;
use schema::{api_client, security_event};
use store::{Credentials, Result, Store, Tx, page::PageRequest, word};
use uuid::Uuid;
use wire::ids::{HolderId, SecurityEventId};
use wire::page::Page;
use wire::security::{SecurityEvent, SecurityEventQuery};

use super::gathered::{Attempt, Security, Tally, Who};

#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = security_event, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    kind: String,
    first_at: DateTime<Utc>,
    last_at: DateTime<Utc>,
    count: i64,
    principal_id: Option<Uuid>,
    account_digest: Option<Vec<u8>>,
    network_digest: Option<Vec<u8>>,
    operation: Option<String>,
}

impl Row {
    fn into_wire(self) -> Result<SecurityEvent> {
        Ok(SecurityEvent {
            id: SecurityEventId(self.id),
            kind: word(&self.kind)?,
            first_at: self.first_at,
            last_at: self.last_at,
            count: u64::try_from(self.count).unwrap_or(0),
            principal: self.principal_id.map(HolderId),
            account: self.account_digest.map(hex::encode),
            network: self.network_digest.map(hex::encode),
            operation: self.operation,
        })
    }
}

/// Writes what was gathered. What cannot be written stays gathered.
///
/// # Errors
/// Returns the errors of the database.
pub async fn flush(store: &Store, security: &Security) -> Result<()> {
    let taken = security.take();
    if taken.is_empty() {
        return Ok(());
    }
    let written = store.run_unauthenticated(async |tx| write(tx, &taken).await).await;
    if written.is_err() {
        security.give_back(taken);
    }
    written
}

async fn write(tx: &mut Tx<'_>, taken: &HashMap<Attempt, Tally>) -> Result<()> {
    let clients = clients(tx, taken).await?;
    let mut rows: Vec<Row> = Vec::with_capacity(taken.len());
    for (attempt, tally) in taken {
        let (principal_id, account_digest) = match &attempt.who {
            Who::Nobody => (None, None),
            Who::Principal(id) => (Some(*id), None),
            // A key that nobody has was made up, and names nobody.
            Who::Key(hash) => (clients.get(&hash[..]).copied(), None),
            Who::Account(digest) => (None, Some(digest.to_vec())),
        };
        rows.push(Row {
            id: tx.new_id(),
            kind: attempt.kind.as_str().to_owned(),
            first_at: tally.first_at,
            last_at: tally.last_at,
            count: tally.count,
            principal_id,
            account_digest,
            network_digest: attempt.network.map(Vec::from),
            operation: attempt.operation.clone(),
        });
    }
    diesel::insert_into(security_event::table).values(rows).execute(tx.conn()).await?;
    Ok(())
}

/// The API clients whose keys were used, by the digest of the key; revoked and expired ones too.
async fn clients(tx: &mut Tx<'_>, taken: &HashMap<Attempt, Tally>) -> Result<HashMap<Vec<u8>, Uuid>> {
    let hashes: Vec<&[u8]> = taken
        .keys()
        .filter_map(|attempt| match &attempt.who {
            Who::Key(hash) => Some(&hash[..]),
            Who::Nobody | Who::Principal(_) | Who::Account(_) => None,
        })
        .collect();
    if hashes.is_empty() {
        return Ok(HashMap::new());
    }
    let found: Vec<(Vec<u8>, Uuid)> = api_client::table
        .filter(api_client::key_hash.eq_any(hashes))
        .select((api_client::key_hash, api_client::id))
        .load(tx.conn())
        .await?;
    Ok(found.into_iter().collect())
}

/// Security events, the newest first, with what this process has gathered until now. Cost: one index range for each
/// page, at any depth.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) unless the caller is an administrator, and
/// [`Error::Invalid`](store::Error::Invalid) for a refused cursor.
pub async fn security_events(
    store: &Store,
    security: &Security,
    credentials: &Credentials,
    query: &SecurityEventQuery,
) -> Result<Page<SecurityEvent>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    // Proved before anything is written for them.
    store.read(credentials, async |tx| tx.administrator().map(drop)).await?;
    flush(store, security).await?;
    store
        .read(credentials, async |tx| {
            tx.administrator()?;
            let mut rows = security_event::table
                .select(Row::as_select())
                .order(security_event::id.desc())
                .limit(slice.fetch())
                .into_boxed();
            if let Some(kind) = query.kind {
                rows = rows.filter(security_event::kind.eq(kind.as_str()));
            }
            if let Some(principal) = query.principal {
                rows = rows.filter(security_event::principal_id.eq(principal.0));
            }
            if let Some(after) = slice.after {
                rows = rows.filter(security_event::id.lt(after));
            }
            let rows: Vec<Row> = rows.load(tx.conn()).await?;
            let page = slice.page(rows, |row| row.id)?;
            let items = page.items.into_iter().map(Row::into_wire).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

#[derive(QueryableByName)]
struct Removed {
    #[diesel(sql_type = BigInt)]
    removed: i64,
}

/// Removes at most `most` security events that are older than `before`, and answers how many there were. The database
/// lets nobody remove those of the last thirty days.
///
/// # Errors
/// Returns the errors of the database.
pub async fn purge(store: &Store, before: DateTime<Utc>, most: i32) -> Result<u64> {
    store
        .run_unauthenticated(async |tx| {
            let row: Removed = diesel::sql_query("SELECT purge_security_events($1, $2) AS removed")
                .bind::<Timestamptz, _>(before)
                .bind::<Integer, _>(most)
                .get_result(tx.conn())
                .await?;
            Ok(u64::try_from(row.removed).unwrap_or(0))
        })
        .await
}
