//! Accounts: reading them, and changing name, role and state.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::person;
use serde_json::json;
use store::{
    Actor, Administrator, Credentials, Error, Hold, NewEvent, Result, Store, Tx, Versioned,
    page::PageRequest, sql::by_bytes,
};
use uuid::Uuid;
use wire::ids::PersonId;
use wire::page::{Page, PageQuery};
use wire::people::{Me, Person, PersonChange, PersonState, Role};

use crate::account::{Row, find, lock_for_change, name_acceptable};
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

/// Two administrators who change each other would wait for each other; in one turn the second finds what the first left,
/// which may be that it is no administrator any more, or the last.
const TURN: i64 = 0x6163_636f_756e_7473;

/// The transaction that [`change`] runs in: `work` proves the administrator and calls it.
///
/// # Errors
/// Returns the errors of verifying `credentials` and of `work`.
pub async fn change_in_turn<T>(
    store: &Store,
    credentials: &Credentials,
    id: PersonId,
    work: impl AsyncFn(&mut Tx<'_>) -> Result<T>,
) -> Result<T> {
    let own = matches!(credentials, Credentials::Session { person, .. } if *person == id);
    let hold = if own { Hold::Alone } else { Hold::Shared };
    store.write_holding(credentials, hold, Some(TURN), work).await
}

/// Changes an account. The change applies from the person's next request, even if their access token is still valid.
/// What the person was writing when the change came is finished before.
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
    let before = lock_for_change(tx, id).await?;
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
        && !another_administrator(tx, id).await?
    {
        return Err(Error::Conflict(
            "The clinic must keep one active administrator. Make another person administrator first.".into(),
        ));
    }
    let sessions =
        if role == before.role { Vec::new() } else { sessions::in_role(tx, id, before.role).await? };
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
        sessions::role_followed(tx, sessions);
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

/// Whether there is another active administrator. Holds because changes of accounts follow each other.
async fn another_administrator(tx: &mut Tx<'_>, than: PersonId) -> Result<bool> {
    let another = person::table
        .filter(person::role.eq(Role::Administrator.as_str()))
        .filter(person::state.eq(PersonState::Active.as_str()))
        .filter(person::id.ne(than.0));
    Ok(diesel::select(diesel::dsl::exists(another)).get_result(tx.conn()).await?)
}
