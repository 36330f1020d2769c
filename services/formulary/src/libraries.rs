//! Libraries and their members.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use release::grants;
use schema::{library, library_member};
use serde_json::json;
use store::{
    Actor, Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, Versioned, page::PageRequest,
    violates,
};
use uuid::Uuid;
use wire::formulary::{Library, Member, NewLibrary};
use wire::ids::{HolderId, LibraryId};
use wire::page::{Page, PageQuery};
use wire::people::{Role, Scope};

use crate::kept::{LIBRARY, MEMBER};
use crate::members::membership;

#[derive(Queryable, Selectable, QueryableByName)]
#[diesel(table_name = library, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    name: String,
    description: String,
    version: i64,
    created_at: DateTime<Utc>,
}

impl From<Row> for Versioned<Library> {
    fn from(row: Row) -> Self {
        Self {
            version: row.version,
            value: Library {
                id: LibraryId(row.id),
                name: row.name,
                description: row.description,
                made_at: row.created_at,
            },
        }
    }
}

/// A library, for its members and administrators. Being an administrator gives no access to its formulas.
async fn seen(tx: &mut Tx<'_>, id: LibraryId) -> Result<Versioned<Library>> {
    if !matches!(tx.actor()?, Actor::Person(person) if person.role == Role::Administrator) {
        membership(tx, id).await?;
    }
    let row: Option<Row> =
        library::table.find(id.0).select(Row::as_select()).first(tx.conn()).await.optional()?;
    Ok(row.ok_or(Error::NotFound("library"))?.into())
}

/// A library, for callers who may edit it: its instructors, and administrators.
async fn library_editor(tx: &mut Tx<'_>, id: LibraryId) -> Result<Versioned<Library>> {
    if tx.person()?.role == Role::Student {
        membership(tx, id).await?;
        return Err(Error::Forbidden(
            "Only an instructor of the library or an administrator may do this. Ask one of them.".into(),
        ));
    }
    seen(tx, id).await
}

/// Creates a library; its creator becomes the first member.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, [`Error::Invalid`] for a refused field, and
/// [`Error::Conflict`] if the name is taken.
pub async fn library_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewLibrary,
) -> Result<Versioned<Library>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let instructor = tx.instructor()?;
                acceptable(request)?;
                let id = tx.new_id();
                let now = tx.now();
                diesel::insert_into(library::table)
                    .values((
                        library::id.eq(id),
                        library::name.eq(request.name.trim()),
                        library::description.eq(request.description.trim()),
                        library::version.eq(1_i64),
                        library::created_by.eq(instructor.id().0),
                        library::created_at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await
                    .map_err(name_taken)?;
                tx.record(NewEvent::new("library", id, "made").keeps(&LIBRARY, [id]));
                add(tx, LibraryId(id), instructor.id().into()).await?;
                Ok(id)
            },
            async |tx, id| seen(tx, LibraryId(id)).await,
        )
        .await
}

fn acceptable(request: &NewLibrary) -> Result<()> {
    if !(1..=200).contains(&request.name.trim().chars().count()) {
        return Err(Error::field("/name", "Enter a name of 1 to 200 characters."));
    }
    store::names::acceptable("/name", request.name.trim())?;
    if request.description.chars().count() > 2000 {
        return Err(Error::field("/description", "Enter at most 2000 characters."));
    }
    Ok(())
}

fn name_taken(error: diesel::result::Error) -> Error {
    if violates(&error, "library_name") {
        Error::Conflict("A library with this name already exists. Choose another name.".into())
    } else {
        error.into()
    }
}

/// Changes the name and description of a library.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the library, [`Error::Forbidden`] if the caller may not edit
/// it, [`Error::PreconditionFailed`] if `version` is not the current one, [`Error::Invalid`] for a refused field, and
/// [`Error::Conflict`] if the name is taken.
pub async fn library_change(
    store: &Store,
    credentials: &Credentials,
    id: LibraryId,
    version: i64,
    request: &NewLibrary,
) -> Result<Versioned<Library>> {
    store
        .write(credentials, async |tx| {
            library_editor(tx, id).await?;
            acceptable(request)?;
            let changed = diesel::update(library::table.find(id.0).filter(library::version.eq(version)))
                .set((
                    library::name.eq(request.name.trim()),
                    library::description.eq(request.description.trim()),
                    library::version.eq(version + 1),
                ))
                .execute(tx.conn())
                .await
                .map_err(name_taken)?;
            if changed == 0 {
                return Err(Error::PreconditionFailed);
            }
            tx.record(NewEvent::new("library", id.0, "changed").keeps(&LIBRARY, [id.0]));
            seen(tx, id).await
        })
        .await
}

/// One library.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller is neither a member nor an administrator, and [`Error::Forbidden`] if an
/// API client lacks the scope.
pub async fn library(store: &Store, credentials: &Credentials, id: LibraryId) -> Result<Versioned<Library>> {
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            seen(tx, id).await
        })
        .await
}

/// The caller's libraries by name, or all libraries for an administrator.
///
/// # Errors
/// Returns [`Error::Forbidden`] if an API client lacks the scope, and [`Error::Invalid`] for a refused cursor.
pub async fn libraries(store: &Store, credentials: &Credentials, query: &PageQuery) -> Result<Page<Library>> {
    let slice = PageRequest::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let all = matches!(tx.actor()?, Actor::Person(person) if person.role == Role::Administrator);
            let me = tx.actor()?.holder();
            let (name, id) = slice.after.clone().unwrap_or_default();
            let rows: Vec<Row> = diesel::sql_query(
                "SELECT l.id, l.name, l.description, l.version, l.created_at FROM library l
                 WHERE (l.name COLLATE \"C\", l.id) > ($1, $2)
                   AND ($3 OR EXISTS (SELECT FROM library_member m WHERE m.library_id = l.id AND m.holder_id = $4))
                 ORDER BY l.name COLLATE \"C\", l.id LIMIT $5",
            )
            .bind::<diesel::sql_types::Text, _>(name)
            .bind::<diesel::sql_types::Uuid, _>(id)
            .bind::<diesel::sql_types::Bool, _>(all)
            .bind::<diesel::sql_types::Uuid, _>(me.0)
            .bind::<diesel::sql_types::BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| (row.name.clone(), row.id))?;
            Ok(Page {
                items: page.items.into_iter().map(|row| Versioned::from(row).value).collect(),
                next: page.next,
            })
        })
        .await
}

#[derive(QueryableByName)]
struct MemberRow {
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    holder_id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Text)]
    name: String,
    #[diesel(sql_type = diesel::sql_types::Text)]
    kind: String,
    #[diesel(sql_type = diesel::sql_types::Timestamptz)]
    added_at: DateTime<Utc>,
}

/// The members of a library, in the order in which their accounts were created.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the library, and [`Error::Forbidden`] if the caller may not
/// edit it.
pub async fn members(
    store: &Store,
    credentials: &Credentials,
    id: LibraryId,
    query: &PageQuery,
) -> Result<Page<Member>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            library_editor(tx, id).await?;
            let rows: Vec<MemberRow> = diesel::sql_query(
                "SELECT m.holder_id, coalesce(p.name, c.name) AS name, q.kind, m.added_at
                 FROM library_member m JOIN principal q ON q.id = m.holder_id
                 LEFT JOIN person p ON p.id = m.holder_id LEFT JOIN api_client c ON c.id = m.holder_id
                 WHERE m.library_id = $1 AND m.holder_id > $2 ORDER BY m.holder_id LIMIT $3",
            )
            .bind::<diesel::sql_types::Uuid, _>(id.0)
            .bind::<diesel::sql_types::Uuid, _>(slice.after.unwrap_or_default())
            .bind::<diesel::sql_types::BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| row.holder_id)?;
            let items = page
                .items
                .into_iter()
                .map(|row| Member {
                    holder: HolderId(row.holder_id),
                    name: row.name,
                    kind: row.kind,
                    added_at: row.added_at,
                })
                .collect();
            Ok(Page { items, next: page.next })
        })
        .await
}

/// Adds a person or an API client to a library. Does nothing for a member.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such holder or the caller may not see the library, and
/// [`Error::Forbidden`] if the caller may not edit it.
pub async fn member_add(
    store: &Store,
    credentials: &Credentials,
    id: LibraryId,
    holder: HolderId,
) -> Result<()> {
    store
        .write(credentials, async |tx| {
            library_editor(tx, id).await?;
            add(tx, id, holder).await
        })
        .await
}

async fn add(tx: &mut Tx<'_>, id: LibraryId, holder: HolderId) -> Result<()> {
    let by = tx.actor()?.holder();
    let now = tx.now();
    let added = diesel::insert_into(library_member::table)
        .values((
            library_member::library_id.eq(id.0),
            library_member::holder_id.eq(holder.0),
            library_member::added_by.eq(by.0),
            library_member::added_at.eq(now),
        ))
        .on_conflict_do_nothing()
        .execute(tx.conn())
        .await
        .map_err(|error| {
            if violates(&error, "library_member_holder_id_fkey") {
                Error::NotFound("person or API client")
            } else {
                error.into()
            }
        })?;
    if added == 1 {
        tx.record(
            NewEvent::new("library", id.0, "member_added")
                .detail(json!({ "holder": holder }))
                .keeps(&MEMBER, [id.0, holder.0]),
        );
    }
    Ok(())
}

/// Ends a membership, and deletes the holder's grants for the library in the same transaction.
///
/// # Errors
/// Returns [`Error::NotFound`] if the holder is no member or the caller may not see the library, and
/// [`Error::Forbidden`] if the caller may not edit it.
pub async fn member_remove(
    store: &Store,
    credentials: &Credentials,
    id: LibraryId,
    holder: HolderId,
) -> Result<()> {
    store
        .write(credentials, async |tx| {
            library_editor(tx, id).await?;
            // Waits for transactions that hold the memberships for share while they create a grant.
            lock(tx, Locks::new().library(id, Mode::Exclusive)).await?;
            let removed =
                diesel::delete(library_member::table.find((id.0, holder.0))).execute(tx.conn()).await?;
            if removed == 0 {
                return Err(Error::NotFound("member"));
            }
            grants::close_library(tx, id, holder).await?;
            tx.record(
                NewEvent::new("library", id.0, "member_removed")
                    .detail(json!({ "holder": holder }))
                    .keeps(&MEMBER, [id.0, holder.0]),
            );
            Ok(())
        })
        .await
}
