//! API clients: other programs, each with a key and a responsible person.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{api_client, principal};
use store::known_as::{self, Names};
use store::{
    Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, Versioned, page::PageRequest, word,
};
use uuid::Uuid;
use wire::ids::{ApiClientId, PersonId};
use wire::page::{Page, PageQuery};
use wire::people::{ApiClient, NewApiClient, Role, Scope};

use crate::account::{may_be_responsible, name_acceptable};
use crate::kept::API_CLIENT;
use crate::secret::new_secret;

/// The longest validity of a key: a little over a year, so that it can be renewed once a year.
const LONGEST: Duration = Duration::days(400);

/// How many characters of a key are shown to tell keys apart: the prefix and four random characters.
const PREFIX: usize = 7;

#[derive(Queryable, Selectable)]
#[diesel(table_name = api_client, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    name: String,
    key_prefix: String,
    responsible_id: Uuid,
    scopes: String,
    state: String,
    version: i64,
    valid_until: DateTime<Utc>,
    last_used_at: Option<DateTime<Utc>>,
}

impl Row {
    fn into_wire(self, names: &Names) -> Result<Versioned<ApiClient>> {
        Ok(Versioned {
            version: self.version,
            value: ApiClient {
                id: ApiClientId(self.id),
                name: self.name,
                key_prefix: self.key_prefix,
                key: None,
                responsible: PersonId(self.responsible_id),
                responsible_name: names.of(self.responsible_id),
                scopes: self.scopes.split_whitespace().map(word).collect::<Result<_>>()?,
                state: word(&self.state)?,
                valid_until: self.valid_until,
                last_used_at: self.last_used_at,
            },
        })
    }
}

/// Reads an API client within a transaction.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such API client.
pub(super) async fn find(tx: &mut Tx<'_>, id: ApiClientId) -> Result<Versioned<ApiClient>> {
    let row: Option<Row> =
        api_client::table.find(id.0).select(Row::as_select()).first(tx.conn()).await.optional()?;
    let row = row.ok_or(Error::NotFound("API client"))?;
    let names = known_as::people(tx, [row.responsible_id]).await?;
    row.into_wire(&names)
}

/// Creates an API client. Only this answer contains its key; the database holds the digest.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an administrator, and [`Error::Invalid`] for a refused field.
pub async fn api_client_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewApiClient,
) -> Result<Versioned<ApiClient>> {
    let (mut made, key) = store
        .create_with_secret(
            credentials,
            once,
            async |tx| {
                tx.administrator()?;
                insert(tx, request).await
            },
            async |tx, id| find(tx, ApiClientId(id)).await,
        )
        .await?;
    made.value.key = key;
    Ok(made)
}

async fn insert(tx: &mut Tx<'_>, request: &NewApiClient) -> Result<(Uuid, String)> {
    name_acceptable(&request.name)?;
    let now = tx.now();
    if request.valid_until <= now || request.valid_until > now + LONGEST {
        return Err(Error::field("/valid_until", "Enter a time in the future and within 400 days."));
    }
    if request.scopes.is_empty() {
        let all: Vec<&str> = Scope::ALL.iter().map(|scope| scope.as_str()).collect();
        return Err(Error::field(
            "/scopes",
            format!("Send at least one of these scopes: {}.", all.join(", ")),
        ));
    }
    if !may_be_responsible(tx, request.responsible).await? {
        return Err(Error::field(
            "/responsible",
            "The responsible person must be an active instructor or administrator.",
        ));
    }
    let key = new_secret(tx, "sk");
    let id = tx.new_id();
    let mut scopes: Vec<&str> = request.scopes.iter().map(|scope| scope.as_str()).collect();
    scopes.sort_unstable();
    scopes.dedup();
    diesel::insert_into(principal::table)
        .values((principal::id.eq(id), principal::kind.eq("api_client")))
        .execute(tx.conn())
        .await?;
    diesel::insert_into(api_client::table)
        .values((
            api_client::id.eq(id),
            api_client::name.eq(request.name.trim()),
            api_client::key_hash.eq(&canonical::secret(&key)[..]),
            api_client::key_prefix.eq(key.get(..PREFIX).unwrap_or_default()),
            api_client::responsible_id.eq(request.responsible.0),
            api_client::scopes.eq(scopes.join(" ")),
            api_client::state.eq("active"),
            api_client::version.eq(1_i64),
            api_client::created_at.eq(now),
            api_client::valid_until.eq(request.valid_until),
        ))
        .execute(tx.conn())
        .await?;
    tx.record(
        NewEvent::new("api_client", id, "made")
            .keeps(&API_CLIENT, [id])
            .detail(serde_json::json!({ "responsible": request.responsible })),
    );
    Ok((id, key))
}

/// The API clients. Administrators see all, others those they are responsible for.
///
/// # Errors
/// Returns the errors of verifying `claim`.
pub async fn api_clients(
    store: &Store,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<ApiClient>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.person()?;
            let mut rows = api_client::table
                .select(Row::as_select())
                .order(api_client::id)
                .limit(slice.fetch())
                .into_boxed();
            if me.role != Role::Administrator {
                rows = rows.filter(api_client::responsible_id.eq(me.id.0));
            }
            if let Some(after) = slice.after {
                rows = rows.filter(api_client::id.gt(after));
            }
            let rows: Vec<Row> = rows.load(tx.conn()).await?;
            let page = slice.page(rows, |row| row.id)?;
            let names = known_as::people(tx, page.items.iter().map(|row| row.responsible_id)).await?;
            let items =
                page.items.into_iter().map(|row| Ok(row.into_wire(&names)?.value)).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

/// One API client, for an administrator or its responsible person.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such API client or the caller may not see it.
pub async fn api_client(
    store: &Store,
    credentials: &Credentials,
    id: ApiClientId,
) -> Result<Versioned<ApiClient>> {
    store
        .read(credentials, async |tx| {
            let me = tx.person()?;
            let found = find(tx, id).await?;
            if me.role != Role::Administrator && found.value.responsible != me.id {
                return Err(Error::NotFound("API client"));
            }
            Ok(found)
        })
        .await
}

/// Revokes a key immediately. Only an administrator or the responsible person may do so.
///
/// # Errors
/// Returns [`Error::NotFound`] as [`api_client()`] does, and [`Error::State`] if the key is already revoked.
pub async fn api_client_revoke(
    store: &Store,
    credentials: &Credentials,
    id: ApiClientId,
) -> Result<Versioned<ApiClient>> {
    store
        .write(credentials, async |tx| {
            let me = tx.person()?;
            let found = find(tx, id).await?.value;
            if me.role != Role::Administrator && found.responsible != me.id {
                return Err(Error::NotFound("API client"));
            }
            // Waits for what the client is writing.
            api_client::table.find(id.0).select(api_client::id).for_update().first::<Uuid>(tx.conn()).await?;
            let revoked = diesel::update(api_client::table.find(id.0).filter(api_client::state.eq("active")))
                .set((api_client::state.eq("revoked"), api_client::version.eq(api_client::version + 1)))
                .execute(tx.conn())
                .await?;
            if revoked == 0 {
                return Err(Error::state(found.state, "This key is already revoked."));
            }
            tx.record(NewEvent::new("api_client", id.0, "revoked").keeps(&API_CLIENT, [id.0]));
            find(tx, id).await
        })
        .await
}

/// Revokes every key that a person is responsible for. The caller must have locked the person's row for itself, so that
/// no client of theirs is writing.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn revoke_all(tx: &mut Tx<'_>, of: PersonId) -> Result<()> {
    let revoked: Vec<Uuid> = diesel::update(
        api_client::table.filter(api_client::responsible_id.eq(of.0)).filter(api_client::state.eq("active")),
    )
    .set((api_client::state.eq("revoked"), api_client::version.eq(api_client::version + 1)))
    .returning(api_client::id)
    .get_results(tx.conn())
    .await?;
    for id in revoked {
        tx.record(NewEvent::new("api_client", id, "revoked").keeps(&API_CLIENT, [id]));
    }
    Ok(())
}
