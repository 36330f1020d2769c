//! One-time codes: an invited person, or one who lost the password, sets a password that nobody else knows.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{one_time_code, person, principal};
use store::{
    Administrator, Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, names, sql::lower,
    violates,
};
use uuid::Uuid;
use wire::ids::PersonId;
use wire::people::{Invite, OneTimeCode, Role, UseCode};
use wire::security::SecurityEventKind;

use crate::attempts::Counted;
use crate::kept::{CODE, CREDENTIAL, PERSON};
use crate::origin::Origin;
use crate::password::Passwords;
use crate::secret::new_secret;
use crate::security::{Security, Who};
use crate::{account, attempts, sessions, sign_in};

/// Validity of a one-time code.
const VALID: Duration = Duration::days(7);

/// Invites a person: creates the account and a one-time code for it.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an administrator, [`Error::Invalid`] for a refused field, and
/// [`Error::Conflict`] if the sign-in name is taken.
pub async fn invite(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &Invite,
) -> Result<OneTimeCode> {
    let (made, code) = store
        .create_with_secret(
            credentials,
            once,
            async |tx| {
                tx.administrator()?;
                let id = create_account(tx, request).await?;
                issue(tx, id, "invitation").await
            },
            show,
        )
        .await?;
    Ok(OneTimeCode { code, ..made })
}

/// Invites several people in one transaction: all of them, or nobody. Only this answer contains their codes.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an administrator, and [`Error::Invalid`] with every refused field; its
/// pointer begins with the place of the person.
pub async fn invite_all(
    store: &Store,
    credentials: &Credentials,
    requests: &[Invite],
) -> Result<Vec<OneTimeCode>> {
    store
        .write(credentials, async |tx| {
            let by = tx.administrator()?;
            invite_each(tx, by, requests).await
        })
        .await
}

/// As [`invite_all`], within a transaction of an administrator.
///
/// # Errors
/// Returns [`Error::Invalid`] with every refused field; its pointer begins with the place of the person.
pub async fn invite_each(
    tx: &mut Tx<'_>,
    _by: Administrator<'_>,
    requests: &[Invite],
) -> Result<Vec<OneTimeCode>> {
    let names: Vec<String> =
        requests.iter().map(|request| request.sign_in_name.trim().to_lowercase()).collect();
    let taken: Vec<String> = person::table
        .filter(lower(person::sign_in_name).eq_any(&names))
        .select(lower(person::sign_in_name))
        .load(tx.conn())
        .await?;
    let mut errors = Vec::new();
    for (i, name) in names.iter().enumerate() {
        let twice = names.iter().take(i).any(|before| before == name);
        if taken.contains(name) || twice {
            let detail = format!("The sign-in name {name:?} is taken. Choose another one.");
            errors.push(wire::problem::FieldError::new(format!("/{i}/sign_in_name"), detail));
        }
    }
    for (i, request) in requests.iter().enumerate() {
        for error in refused(request) {
            errors.push(wire::problem::FieldError::new(format!("/{i}{}", error.pointer), error.detail));
        }
    }
    if !errors.is_empty() {
        return Err(Error::Invalid(errors));
    }
    let mut codes = Vec::with_capacity(requests.len());
    for request in requests {
        let id = create_account(tx, request).await?;
        let (code_id, code) = issue(tx, id, "invitation").await?;
        codes.push(OneTimeCode { code: Some(code), ..show(tx, code_id).await? });
    }
    Ok(codes)
}

/// What is refused of an invitation by itself.
fn refused(request: &Invite) -> Vec<wire::problem::FieldError> {
    let checks =
        [sign_in_name_acceptable(request.sign_in_name.trim()), account::name_acceptable(&request.name)];
    checks
        .into_iter()
        .flat_map(|check| match check {
            Err(Error::Invalid(errors)) => errors,
            _ => Vec::new(),
        })
        .collect()
}

fn sign_in_name_acceptable(sign_in_name: &str) -> Result<()> {
    let length = sign_in_name.chars().count();
    if !(3..=200).contains(&length) || sign_in_name.chars().any(char::is_whitespace) {
        return Err(Error::field(
            "/sign_in_name",
            "Enter a sign-in name of 3 to 200 characters without spaces.",
        ));
    }
    names::acceptable("/sign_in_name", sign_in_name)
}

/// Creates a one-time code for a person who lost the password. The old password works until the code is used.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an administrator, and [`Error::NotFound`] if there is no such
/// person.
pub async fn reset(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    of: PersonId,
) -> Result<OneTimeCode> {
    let (made, code) = store
        .create_with_secret(
            credentials,
            once,
            async |tx| {
                tx.administrator()?;
                account::find(tx, of).await?;
                let issued = issue(tx, of, "reset").await?;
                tx.record(NewEvent::new("person", of.0, "reset_started"));
                Ok(issued)
            },
            show,
        )
        .await?;
    Ok(OneTimeCode { code, ..made })
}

/// Creates an administrator account and its one-time code. Called from the command line on the server.
///
/// # Errors
/// Returns [`Error::Invalid`] for a refused field and [`Error::Conflict`] if the sign-in name is taken.
pub async fn administrator_create(store: &Store, sign_in_name: &str, name: &str) -> Result<OneTimeCode> {
    store
        .run_unauthenticated(async |tx| {
            let request =
                Invite { sign_in_name: sign_in_name.into(), name: name.into(), role: Role::Administrator };
            let id = create_account(tx, &request).await?;
            let (code_id, code) = issue(tx, id, "invitation").await?;
            Ok(OneTimeCode { code: Some(code), ..show(tx, code_id).await? })
        })
        .await
}

async fn create_account(tx: &mut Tx<'_>, request: &Invite) -> Result<PersonId> {
    let sign_in_name = request.sign_in_name.trim();
    sign_in_name_acceptable(sign_in_name)?;
    account::name_acceptable(&request.name)?;
    let id = tx.new_id();
    let now = tx.now();
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
                Error::Conflict(format!("The sign-in name {sign_in_name:?} is taken. Choose another one."))
            } else {
                error.into()
            }
        })?;
    tx.record(NewEvent::new("person", id, "invited").keeps(&PERSON, [id]));
    Ok(PersonId(id))
}

async fn issue(tx: &mut Tx<'_>, of: PersonId, purpose: &str) -> Result<(Uuid, String)> {
    let code = new_secret(tx, "sc");
    let id = tx.new_id();
    let now = tx.now();
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
    Ok(OneTimeCode { person: account::find(tx, PersonId(of)).await?.value, code: None, valid_until })
}

const UNUSABLE: Error = Error::Unauthenticated(
    "This one-time code is invalid, used or expired. Ask an administrator for a new one.",
);

/// Sets a password with a one-time code. Ends every session of the person and activates an invited account. Answers the
/// name that the person signs in with.
///
/// # Errors
/// Returns [`Error::Unauthenticated`] if the code cannot be used, [`Error::Invalid`] if the password is refused, and
/// [`Error::RateLimited`] while a wait is running. The code stays valid in every case.
pub async fn code_use(
    store: &Store,
    passwords: &Passwords,
    security: &Security,
    request: UseCode,
    origin: &Origin,
) -> Result<String> {
    let hash = canonical::secret(&request.code);
    // Each code has a throttle key of its own, so that guesses at other codes cannot block its owner.
    let counted = Counted::stranger(&format!("one-time code {}", hex::encode(hash)), origin.network());
    let note = |kind, who| security.note(store.clock.now(), kind, who, origin, None);
    let (wait, usable) = store
        .run_unauthenticated(async |tx| {
            let wait = attempts::charge(tx, &counted).await?;
            Ok((wait, usable(tx, &hash).await?))
        })
        .await?;
    if let Some(retry_after) = wait {
        note(SecurityEventKind::SignInLimited, Who::Nobody);
        return Err(Error::RateLimited { retry_after });
    }
    let unusable = |who| {
        note(SecurityEventKind::CodeFailed, who);
        UNUSABLE
    };
    let Some((of, name)) = usable else { return Err(unusable(Who::Nobody)) };
    passwords.acceptable(&request.password, &[&name], "/password").await?;
    let password = passwords.hash(request.password, &store.rng).await?;
    let used = store.run_unauthenticated(async |tx| use_up(tx, of, &hash, &password, &counted).await).await?;
    if !used {
        return Err(unusable(Who::Principal(of.0)));
    }
    note(SecurityEventKind::CodeUsed, Who::Principal(of.0));
    Ok(name)
}

/// Sets the password, if the code can still be used.
async fn use_up(
    tx: &mut Tx<'_>,
    of: PersonId,
    hash: &[u8],
    password: &str,
    counted: &Counted,
) -> Result<bool> {
    // Whoever signs in, refreshes or changes the account waits, or was first and is seen here.
    account::lock_for_change(tx, of).await?;
    if usable(tx, hash).await?.is_none() {
        return Ok(false);
    }
    attempts::reset_failures(tx, counted).await?;
    let now = tx.now();
    // Ends the person's other codes too, so that a lost code cannot set the password again.
    let used: Vec<Uuid> = diesel::update(
        one_time_code::table
            .filter(one_time_code::person_id.eq(of.0))
            .filter(one_time_code::used_at.is_null()),
    )
    .set(one_time_code::used_at.eq(now))
    .returning(one_time_code::id)
    .get_results(tx.conn())
    .await?;
    sign_in::set(tx, of, password).await?;
    sessions::end_all(tx, of, None).await?;
    diesel::update(person::table.find(of.0).filter(person::state.eq("invited")))
        .set((person::state.eq("active"), person::version.eq(person::version + 1)))
        .execute(tx.conn())
        .await?;
    let event = NewEvent::new("person", of.0, "password_set_with_code")
        .keeps(&PERSON, [of.0])
        .keeps(&CREDENTIAL, [of.0]);
    tx.record(used.into_iter().fold(event, |event, code| event.keeps(&CODE, [code])));
    Ok(true)
}

/// The person and sign-in name of a code that can be used. Codes of a disabled person cannot be used. Holds only while
/// the person's row is locked.
async fn usable(tx: &mut Tx<'_>, hash: &[u8]) -> Result<Option<(PersonId, String)>> {
    let now = tx.now();
    let row: Option<(Uuid, String)> = one_time_code::table
        .inner_join(person::table)
        .filter(one_time_code::code_hash.eq(hash))
        .filter(one_time_code::used_at.is_null())
        .filter(one_time_code::valid_until.gt(now))
        .filter(person::state.ne("disabled"))
        .select((person::id, person::sign_in_name))
        .first(tx.conn())
        .await
        .optional()?;
    Ok(row.map(|(of, name)| (PersonId(of), name)))
}

/// Creates a one-time code for an account. Called from the command line on the server, for an administrator who lost
/// the password.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such account or it is disabled.
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

/// Whether the clinic has any account.
///
/// # Errors
/// Returns the errors of the database.
pub async fn anybody(store: &Store) -> Result<bool> {
    store
        .run_unauthenticated(async |tx| {
            let one: Option<Uuid> = person::table.select(person::id).first(tx.conn()).await.optional()?;
            Ok(one.is_some())
        })
        .await
}
