//! The row of a person: reading it, and the rules on its fields.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{credential, person};
use store::{Error, Result, Tx, Versioned, names, word};
use uuid::Uuid;
use wire::ids::PersonId;
use wire::people::{Person, PersonState};

/// An account as it is stored, without its credential.
#[derive(Queryable, Selectable)]
#[diesel(table_name = person, check_for_backend(diesel::pg::Pg))]
pub(super) struct Row {
    pub(super) id: Uuid,
    sign_in_name: String,
    pub(super) name: String,
    role: String,
    state: String,
    version: i64,
}

impl Row {
    /// Converts the row into the type of `wire`.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the stored role or state is unknown.
    pub(super) fn into_wire(self) -> Result<Versioned<Person>> {
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

/// Checks a display name: 1 to 200 characters, none that nobody sees.
///
/// # Errors
/// Returns [`Error::Invalid`] at `/name`.
pub(super) fn name_acceptable(name: &str) -> Result<()> {
    let length = name.trim().chars().count();
    if !(1..=200).contains(&length) {
        return Err(Error::field("/name", "Enter a name of 1 to 200 characters."));
    }
    names::acceptable("/name", name.trim())
}

/// Reads an account within a transaction.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such person.
pub(super) async fn find(tx: &mut Tx<'_>, id: PersonId) -> Result<Versioned<Person>> {
    let row: Option<Row> =
        person::table.find(id.0).select(Row::as_select()).first(tx.conn()).await.optional()?;
    row.ok_or(Error::NotFound("person"))?.into_wire()
}

/// Whether a person may be responsible for an API client: an active instructor or administrator. Takes a share lock on
/// the row, so that the answer holds until the transaction ends.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn may_be_responsible(tx: &mut Tx<'_>, id: PersonId) -> Result<bool> {
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

/// What decides whether a person may enter, and as what.
pub(super) struct Entry {
    pub(super) role: String,
    pub(super) active: bool,
    /// The password hash, once a password was set.
    pub(super) password_hash: Option<String>,
}

/// Reads what decides about entry, and holds it until the transaction ends: the person's row is locked first and the
/// rest read after, so that all of it is as of now, whatever was changing meanwhile.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such person.
pub(super) async fn lock_for_entry(tx: &mut Tx<'_>, id: PersonId) -> Result<Entry> {
    let row: Option<(String, String)> = person::table
        .find(id.0)
        .select((person::role, person::state))
        .for_share()
        .first(tx.conn())
        .await
        .optional()?;
    let (role, state) = row.ok_or(Error::NotFound("person"))?;
    let password_hash =
        credential::table.find(id.0).select(credential::password_hash).first(tx.conn()).await.optional()?;
    Ok(Entry { role, active: state == PersonState::Active.as_str(), password_hash })
}

/// Locks the row of a person whose right is about to change, as whoever changes it must before anything else. Waits for
/// what the person is writing. Answers the account as it is then.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such person.
pub(super) async fn lock_for_change(tx: &mut Tx<'_>, id: PersonId) -> Result<Versioned<Person>> {
    let row: Option<Row> =
        person::table.find(id.0).select(Row::as_select()).for_update().first(tx.conn()).await.optional()?;
    row.ok_or(Error::NotFound("person"))?.into_wire()
}
