//! Accounts: looking at people and changing them.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::person;
use serde_json::json;
use store::{
    Actor, Administrator, Claim, Error, NewEvent, Result, Store, Tx, Versioned, page::Slice, sql::by_bytes,
    word,
};
use uuid::Uuid;
use wire::ids::PersonId;
use wire::page::{Page, PageQuery};
use wire::people::{Me, Person, PersonChange, PersonState, Role};

use super::kept::PERSON;
use super::{api_clients, sessions};

#[derive(Queryable, Selectable)]
#[diesel(table_name = person, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    sign_in_name: String,
    name: String,
    role: String,
    state: String,
    version: i64,
}

impl Row {
    fn into_wire(self) -> Result<Versioned<Person>> {
        Ok(Versioned {
            version: self.version,
            value: Person {
                id: PersonId(self.id),
                sign_in_name: self.sign_in_name,
                name: self.name,
                role: word(&self.role)?,
                state: word(&self.state)?,
            },
        })
    }
}

/// A name that can be shown.
pub(super) fn name_acceptable(name: &str) -> Result<()> {
    let length = name.trim().chars().count();
    if !(1..=200).contains(&length) || name.chars().any(char::is_control) {
        return Err(Error::field("/name", "a name has 1 to 200 characters"));
    }
    Ok(())
}

/// The person, within a transaction.
pub(super) async fn find(tx: &mut Tx<'_>, id: PersonId) -> Result<Versioned<Person>> {
    let row: Option<Row> =
        person::table.find(id.0).select(Row::as_select()).first(tx.conn()).await.optional()?;
    row.ok_or(Error::NotFound("person"))?.into_wire()
}

/// Who is calling.
///
/// # Errors
/// When the claim does not hold.
pub async fn me(store: &Store, claim: &Claim) -> Result<Me> {
    store
        .read(claim, async |tx| match tx.actor()?.clone() {
            Actor::Person(me) => Ok(Me { person: Some(find(tx, me.id).await?.value), api_client: None }),
            Actor::Client { id, .. } => {
                Ok(Me { person: None, api_client: Some(api_clients::find(tx, id).await?.value) })
            }
        })
        .await
}

/// One person: anybody may look at themselves, instructors and administrators at everybody.
///
/// # Errors
/// When there is no such person, or not for this caller.
pub async fn person(store: &Store, claim: &Claim, id: PersonId) -> Result<Versioned<Person>> {
    store
        .read(claim, async |tx| {
            let me = tx.person()?;
            if me.role == Role::Student && me.id != id {
                return Err(Error::NotFound("person"));
            }
            find(tx, id).await
        })
        .await
}

/// Everybody with an account, by name. Cost: one index range, whatever the depth.
///
/// # Errors
/// When the caller is a student.
pub async fn people(store: &Store, claim: &Claim, query: &PageQuery) -> Result<Page<Person>> {
    let slice = Slice::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(claim, async |tx| {
            if tx.person()?.role == Role::Student {
                return Err(Error::Forbidden(
                    "only instructors and administrators see who has an account".into(),
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

/// An account that was changed, and what follows from it for other subjects.
pub struct Changed {
    /// The account as it is now.
    pub person: Versioned<Person>,
    /// Whether the person was given another role than that of an instructor: grants to decide end.
    pub decides_no_longer: bool,
}

/// Changes an account: takes effect with the next request of that person, whatever tokens are out.
///
/// # Errors
/// When the version is stale, or the clinic would be left without an
/// administrator.
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
        return Err(Error::Stale);
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
        return Err(Error::field("/state", "an account becomes active when its invitation is accepted"));
    }
    if before.role == Role::Administrator
        && before.state == PersonState::Active
        && (role != Role::Administrator || state != PersonState::Active)
        && !administrators.iter().any(|other| *other != id.0)
    {
        return Err(Error::Conflict(
            "this is the clinic's last active administrator: make another person administrator first".into(),
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

/// The active administrators, locked together with the account that is to change, in the order of their ids: two who
/// remove each other at the same time follow each other, and the second finds itself the last.
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

/// Whether a person can answer for an API client.
pub(super) async fn may_answer(tx: &mut Tx<'_>, id: PersonId) -> Result<bool> {
    let row: Option<String> = person::table
        .filter(person::id.eq(id.0))
        .filter(person::state.eq("active"))
        .select(person::role)
        .for_share()
        .first(tx.conn())
        .await
        .optional()?;
    Ok(matches!(row.as_deref(), Some("instructor" | "administrator")))
}
