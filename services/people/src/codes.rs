//! One-time codes: how an invited person, or one who lost the password::{self, Passwords}, sets a password that nobody else knows.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{one_time_code, person, principal};
use store::{Claim, Error, NewEvent, Once, Result, Store, Tx, sql::lower, violates};
use uuid::Uuid;
use wire::ids::PersonId;
use wire::people::{Invite, OneTimeCode, Role, UseCode};

use super::kept::{CODE, CREDENTIAL, PERSON};
use super::password::{self, Passwords};
use super::{accounts, attempts, sessions, sign_in};

/// How long a one-time code can be used.
const VALID: Duration = Duration::days(7);

/// Invites a person: makes the account and a one-time code for it.
///
/// # Errors
/// When the caller is not an administrator or the sign-in name is taken.
pub async fn invite(store: &Store, claim: &Claim, once: &Once, request: &Invite) -> Result<OneTimeCode> {
    let mut shown = None;
    store
        .create(
            claim,
            once,
            async |tx| {
                tx.administrator()?;
                let id = account(tx, request).await?;
                let (code_id, code) = issue(tx, id, "invitation").await?;
                shown = Some(code);
                Ok(code_id)
            },
            show,
        )
        .await
        .map(|made| OneTimeCode { code: shown, ..made })
}

/// Makes a one-time code for a person who lost the password; the old password goes on until the code is used.
///
/// # Errors
/// When the caller is not an administrator or there is no such person.
pub async fn reset(store: &Store, claim: &Claim, once: &Once, of: PersonId) -> Result<OneTimeCode> {
    let mut shown = None;
    store
        .create(
            claim,
            once,
            async |tx| {
                tx.administrator()?;
                accounts::find(tx, of).await?;
                let (code_id, code) = issue(tx, of, "reset").await?;
                tx.record(NewEvent::new("person", of.0, "reset_started"));
                shown = Some(code);
                Ok(code_id)
            },
            show,
        )
        .await
        .map(|made| OneTimeCode { code: shown, ..made })
}

/// Makes the first administrator, or a further one, from the command line of the machine the service runs on.
///
/// # Errors
/// When the sign-in name is taken or not acceptable.
pub async fn administrator_create(store: &Store, sign_in_name: &str, name: &str) -> Result<OneTimeCode> {
    store
        .run_unauthenticated(async |tx| {
            let request =
                Invite { sign_in_name: sign_in_name.into(), name: name.into(), role: Role::Administrator };
            let id = account(tx, &request).await?;
            let (code_id, code) = issue(tx, id, "invitation").await?;
            Ok(OneTimeCode { code: Some(code), ..show(tx, code_id).await? })
        })
        .await
}

async fn account(tx: &mut Tx<'_>, request: &Invite) -> Result<PersonId> {
    let sign_in_name = request.sign_in_name.trim();
    let length = sign_in_name.chars().count();
    if !(3..=200).contains(&length) || sign_in_name.chars().any(|c| c.is_control() || c.is_whitespace()) {
        return Err(Error::field("/sign_in_name", "a sign-in name has 3 to 200 characters and no spaces"));
    }
    accounts::name_acceptable(&request.name)?;
    let id = tx.new_id();
    let now = tx.now;
    diesel::insert_into(principal::table)
        .values((principal::id.eq(id), principal::kind.eq("person")))
        .execute(tx.conn())
        .await?;
    diesel::insert_into(person::table)
        .values((
            person::id.eq(id),
            person::sign_in_name.eq(sign_in_name),
            person::name.eq(request.name.trim()),
            person::role.eq(request.role.as_str()),
            person::state.eq("invited"),
            person::version.eq(1_i64),
            person::created_at.eq(now),
        ))
        .execute(tx.conn())
        .await
        .map_err(|error| {
            if violates(&error, "person_sign_in_name") {
                Error::Conflict(format!("the sign-in name {sign_in_name:?} is taken: choose another"))
            } else {
                error.into()
            }
        })?;
    tx.record(NewEvent::new("person", id, "invited").keeps(&PERSON, [id]));
    Ok(PersonId(id))
}

async fn issue(tx: &mut Tx<'_>, of: PersonId, purpose: &str) -> Result<(Uuid, String)> {
    let code = sessions::new_secret(tx, "sc");
    let id = tx.new_id();
    let now = tx.now;
    let created_by = tx.actor().ok().map(|actor| actor.holder().0);
    diesel::insert_into(one_time_code::table)
        .values((
            one_time_code::id.eq(id),
            one_time_code::person_id.eq(of.0),
            one_time_code::purpose.eq(purpose),
            one_time_code::code_hash.eq(&canonical::secret(&code)[..]),
            one_time_code::created_by.eq(created_by),
            one_time_code::created_at.eq(now),
            one_time_code::valid_until.eq(now + VALID),
        ))
        .execute(tx.conn())
        .await?;
    tx.record(NewEvent::new("person", of.0, "code_issued").keeps(&CODE, [id]));
    Ok((id, code))
}

async fn show(tx: &mut Tx<'_>, code_id: Uuid) -> Result<OneTimeCode> {
    let (of, valid_until): (Uuid, DateTime<Utc>) = one_time_code::table
        .find(code_id)
        .select((one_time_code::person_id, one_time_code::valid_until))
        .first(tx.conn())
        .await?;
    Ok(OneTimeCode { person: accounts::find(tx, PersonId(of)).await?.value, code: None, valid_until })
}

const UNUSABLE: Error = Error::NotKnown(
    "this one-time code is not known, was used or has ended: ask an administrator for a new one",
);

/// Sets a password with a one-time code. Every session of the person ends, and the account becomes active.
///
/// # Errors
/// When the code cannot be used or the password is not acceptable; the code stays usable then.
pub async fn code_use(store: &Store, passwords: &Passwords, request: UseCode, address: &str) -> Result<()> {
    let hash = canonical::secret(&request.code);
    // Each code is an aim of its own, so that guessing at made-up ones keeps nobody from using theirs.
    let aim = format!("one-time code {}", hex::encode(hash));
    let name = store
        .run_unauthenticated(async |tx| {
            attempts::charge(tx, &aim, address).await?;
            usable(tx, &hash).await
        })
        .await?
        .map(|(_, name)| name)
        .ok_or(UNUSABLE)?;
    password::acceptable(&request.password, &[&name], "/password")?;
    let password = passwords.hash(request.password, &store.rng).await?;
    store
        .run_unauthenticated(async |tx| {
            // First, in the order in which the attempt was charged; it stays charged if the code has been used since.
            attempts::forgive(tx, &aim, address).await?;
            let (of, _) = usable(tx, &hash).await?.ok_or(UNUSABLE)?;
            let now = tx.now;
            // With it ends every other code of the person: one that went astray must not set the password again.
            let used: Vec<Uuid> = diesel::update(
                one_time_code::table
                    .filter(one_time_code::person_id.eq(of.0))
                    .filter(one_time_code::used_at.is_null()),
            )
            .set(one_time_code::used_at.eq(now))
            .returning(one_time_code::id)
            .get_results(tx.conn())
            .await?;
            sign_in::set(tx, of, &password).await?;
            sessions::end_all(tx, of, None).await?;
            diesel::update(person::table.find(of.0).filter(person::state.eq("invited")))
                .set((person::state.eq("active"), person::version.eq(person::version + 1)))
                .execute(tx.conn())
                .await?;
            let event = NewEvent::new("person", of.0, "password_set_with_code")
                .keeps(&PERSON, [of.0])
                .keeps(&CREDENTIAL, [of.0]);
            tx.record(used.into_iter().fold(event, |event, code| event.keeps(&CODE, [code])));
            Ok(())
        })
        .await
}

/// The code's row, locked, if it can be used; a disabled person's cannot.
async fn usable(tx: &mut Tx<'_>, hash: &[u8]) -> Result<Option<(PersonId, String)>> {
    let now = tx.now;
    let row: Option<(Uuid, String)> = one_time_code::table
        .inner_join(person::table)
        .filter(one_time_code::code_hash.eq(hash))
        .filter(one_time_code::used_at.is_null())
        .filter(one_time_code::valid_until.gt(now))
        .filter(person::state.ne("disabled"))
        .select((person::id, person::sign_in_name))
        .for_update()
        .first(tx.conn())
        .await
        .optional()?;
    Ok(row.map(|(of, name)| (PersonId(of), name)))
}

/// Makes a one-time code for an account, from the command line of the machine the service runs on: the way back for
/// an administrator who lost the password.
///
/// # Errors
/// When there is no such account, or it is disabled.
pub async fn recover(store: &Store, sign_in_name: &str) -> Result<OneTimeCode> {
    store
        .run_unauthenticated(async |tx| {
            let id: Option<Uuid> = person::table
                .filter(lower(person::sign_in_name).eq(sign_in_name.trim().to_lowercase()))
                .filter(person::state.ne("disabled"))
                .select(person::id)
                .first(tx.conn())
                .await
                .optional()?;
            let of = PersonId(id.ok_or(Error::NotFound("account"))?);
            let (code_id, code) = issue(tx, of, "reset").await?;
            tx.record(NewEvent::new("person", of.0, "reset_started"));
            Ok(OneTimeCode { code: Some(code), ..show(tx, code_id).await? })
        })
        .await
}

/// Whether the clinic has any account at all.
///
/// # Errors
/// When the database cannot be read.
pub async fn anybody(store: &Store) -> Result<bool> {
    store
        .run_unauthenticated(async |tx| {
            let one: Option<Uuid> = person::table.select(person::id).first(tx.conn()).await.optional()?;
            Ok(one.is_some())
        })
        .await
}
