//! Accounts: reading them, and changing name, role and state.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::person;
use serde_json::json;
use store::{
    Actor, Administrator, Credentials, Error, NewEvent, Result, Store, Tx, Versioned, page::PageRequest,
    sql::by_bytes,
};
use uuid::Uuid;
use wire::ids::PersonId;
use wire::page::{Page, PageQuery};
use wire::people::{Me, Person, PersonChange, PersonState, Role};

use crate::account::{Row, find, name_acceptable};
use crate::kept::PERSON;
use crate::{api_clients, sessions};

/// The calling person or API client.
///
/// # Errors
/// Returns the errors of verifying `claim`.
pub async fn me(store: &Store, credentials: &Credentials) -> Result<Me> {
    store
        .read(credentials, async |tx| match tx.actor()?.clone() {
            Actor::Person(me) => Ok(Me { person: Some(find(tx, me.id).await?.value), api_client: None }),
            Actor::Client { id, .. } => {
                Ok(Me { person: None, api_client: Some(api_clients::find(tx, id).await?.value) })
            }
        })
        .await
}

/// One person. Students may read only their own account.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such person or the caller may not see it.
pub async fn person(store: &Store, credentials: &Credentials, id: PersonId) -> Result<Versioned<Person>> {
    store
        .read(credentials, async |tx| {
            let me = tx.person()?;
            if me.role == Role::Student && me.id != id {
                return Err(Error::NotFound("person"));
            }
            find(tx, id).await
        })
        .await
}

/// All accounts, by name. Cost: one index range for each page, at any depth.
///
/// # Errors
/// Returns [`Error::Forbidden`] if the caller is a student.
pub async fn people(store: &Store, credentials: &Credentials, query: &PageQuery) -> Result<Page<Person>> {
    let slice = PageRequest::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            if tx.person()?.role == Role::Student {
                return Err(Error::Forbidden(
                    "Only instructors and administrators may list accounts. Ask one of them.".into(),
                ));
            }
            let mut rows = person::table
                .select(Row::as_select())
                .order((by_bytes(person::name), person::id))
                .limit(slice.fetch())
                .into_boxed();
            if let Some((name, id)) = &slice.after {
                rows = rows.filter(
                    by_bytes(person::name)
                        .gt(name.clone())
                        .or(person::name.eq(name.clone()).and(person::id.gt(*id))),
                );
            }
            let rows: Vec<Row> = rows.load(tx.conn()).await?;
            let page = slice.page(rows, |row| (row.name.clone(), row.id))?;
            let items =
                page.items.into_iter().map(|row| Ok(row.into_wire()?.value)).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

/// A changed account, and the consequence that other crates must apply.
pub struct Changed {
    /// The account as it is now.
    pub person: Versioned<Person>,
    /// Whether the person was given a role other than instructor. The caller must then delete their `Decide` grants.
    pub decides_no_longer: bool,
}

/// Changes an account. The change applies from the person's next request, even if their access token is still valid.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such person, [`Error::PreconditionFailed`] if `version` is not the current one,
/// [`Error::Invalid`] for a refused field, and [`Error::Conflict`] if no active administrator would remain.
pub async fn change(
    tx: &mut Tx<'_>,
    _by: Administrator<'_>,
    id: PersonId,
    version: i64,
    change: &PersonChange,
) -> Result<Changed> {
    let administrators = active_administrators(tx, id).await?;
    let row: Option<Row> =
        person::table.find(id.0).select(Row::as_select()).for_update().first(tx.conn()).await.optional()?;
    let before = row.ok_or(Error::NotFound("person"))?.into_wire()?;
    if before.version != version {
        return Err(Error::PreconditionFailed);
    }
    let before = before.value;
    if let Some(name) = &change.name {
        name_acceptable(name)?;
    }
    let role = change.role.unwrap_or(before.role);
    let state = change.state.unwrap_or(before.state);
    if state != before.state
        && (state == PersonState::Invited
            || before.state == PersonState::Invited && state == PersonState::Active)
    {
        return Err(Error::field(
            "/state",
            "An invited account becomes active when the person uses the one-time code. Omit the state.",
        ));
    }
    if before.role == Role::Administrator
        && before.state == PersonState::Active
        && (role != Role::Administrator || state != PersonState::Active)
        && !administrators.iter().any(|other| *other != id.0)
    {
        return Err(Error::Conflict(
            "The clinic must keep one active administrator. Make another person administrator first.".into(),
        ));
    }
    diesel::update(person::table.find(id.0))
        .set((
            person::name.eq(change.name.as_deref().unwrap_or(&before.name).trim()),
            person::role.eq(role.as_str()),
            person::state.eq(state.as_str()),
            person::version.eq(version + 1),
        ))
        .execute(tx.conn())
        .await?;
    if role != before.role {
        sessions::rewrite_role(tx, id, role).await?;
        tx.record(
            NewEvent::new("person", id.0, "role_changed")
                .detail(json!({ "from": before.role, "to": role }))
                .keeps(&PERSON, [id.0]),
        );
        if role == Role::Student {
            api_clients::revoke_all(tx, id).await?;
        }
    }
    if state == PersonState::Disabled && before.state != PersonState::Disabled {
        sessions::end_all(tx, id, None).await?;
        api_clients::revoke_all(tx, id).await?;
    }
    if state != before.state {
        let action = if state == PersonState::Disabled { "disabled" } else { "enabled" };
        tx.record(NewEvent::new("person", id.0, action).keeps(&PERSON, [id.0]));
    }
    if change.name.is_some() {
        tx.record(NewEvent::new("person", id.0, "renamed").keeps(&PERSON, [id.0]));
    }
    let decides_no_longer = role != before.role && role != Role::Instructor;
    Ok(Changed { person: find(tx, id).await?, decides_no_longer })
}

/// The active administrators. Locks their rows and that of the account to change in the order of their IDs, so that two
/// administrators who remove each other serialise, and the second is refused.
async fn active_administrators(tx: &mut Tx<'_>, and: PersonId) -> Result<Vec<Uuid>> {
    let administrators = person::role.eq("administrator").and(person::state.eq("active"));
    let rows: Vec<(Uuid, String, String)> = person::table
        .filter(administrators.or(person::id.eq(and.0)))
        .order(person::id)
        .select((person::id, person::role, person::state))
        .for_update()
        .load(tx.conn())
        .await?;
    let active = |(id, role, state): (Uuid, String, String)| {
        (role == Role::Administrator.as_str() && state == PersonState::Active.as_str()).then_some(id)
    };
    Ok(rows.into_iter().filter_map(active).collect())
}
