//! Sign-in, and change of the caller's own password.
//!
//! Passwords are verified between two short transactions, so that no connection is held meanwhile; the second locks the
//! person and goes on only if the password is still the one that was verified. Never here: an answer that reveals whether
//! an account exists.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{credential, person};
use store::{Credentials, Error, Hold, NewEvent, Result, Store, Tx, sql::lower, word};
use uuid::Uuid;
use wire::ids::PersonId;
use wire::people::{PasswordChange, PersonState, SignIn};
use wire::security::SecurityEventKind;

use crate::attempts::Counted;
use crate::kept::{CREDENTIAL, SESSION};
use crate::origin::{KnownDevice, Origin};
use crate::password::Passwords;
use crate::security::{Security, Who};
use crate::sessions::{Holds, Opened};
use crate::{account, attempts, sessions};

const WRONG: Error = Error::Unauthenticated("The sign-in name or the password is incorrect.");

/// Signs in. An unknown account takes as long as a known one.
///
/// # Errors
/// Returns the same [`Error::Unauthenticated`] for an unknown name, a wrong password and a disabled account, and
/// [`Error::RateLimited`] while a wait is running.
pub async fn sign_in(
    store: &Store,
    passwords: &Passwords,
    security: &Security,
    request: SignIn,
    origin: &Origin,
    holds: Holds,
) -> Result<SignedIn> {
    let name = request.sign_in_name;
    let found = store
        .run_unauthenticated(async |tx| {
            let account = account(tx, &name).await?;
            let counted = counted(account.as_ref(), &name, origin);
            Ok((account, attempts::charge(tx, &counted).await?, counted))
        })
        .await?;
    let (account, wait, counted) = found;
    let who = || account.as_ref().map_or_else(|| security.account(&name), |it| Who::Principal(it.id.0));
    let failed = |kind| security.note(store.clock.now(), kind, who(), origin, None);
    if let Some(retry_after) = wait {
        failed(SecurityEventKind::SignInLimited);
        return Err(Error::RateLimited { retry_after });
    }
    let hash = account.as_ref().and_then(|account| account.password_hash.clone());
    let right = passwords.verify(request.password, hash.clone()).await?;
    let entered = match (&account, hash) {
        (Some(account), Some(hash)) if right => {
            enter(store, account.id, &hash, (&counted, origin), holds).await?
        }
        _ => None,
    };
    entered.ok_or_else(|| {
        failed(SecurityEventKind::SignInFailed);
        WRONG
    })
}

/// A session that was opened by signing in, and the device that is known from now on.
pub struct SignedIn {
    /// The session.
    pub opened: Opened,
    /// The device, by which later attempts of the person may be counted apart.
    pub device: KnownDevice,
}

/// Opens a session for whoever's password was verified against `hash`, if that still is the person's password and the
/// account is active.
async fn enter(
    store: &Store,
    id: PersonId,
    hash: &str,
    (counted, origin): (&Counted, &Origin),
    holds: Holds,
) -> Result<Option<SignedIn>> {
    store
        .run_unauthenticated(async |tx| {
            // As of now: account, role and password may have changed during hashing, and are held from here on.
            let entry = account::lock_for_entry(tx, id).await?;
            if !entry.active || entry.password_hash.as_deref() != Some(hash) {
                return Ok(None);
            }
            attempts::reset_failures(tx, counted).await?;
            let opened = sessions::begin(tx, id, word(&entry.role)?, holds).await?;
            tx.record(
                NewEvent::new("session", opened.session.0, "signed_in").keeps(&SESSION, [opened.session.0]),
            );
            let device = origin.device_of(Some(id)).unwrap_or_else(|| tx.new_id());
            Ok(Some(SignedIn { opened, device: KnownDevice { id: device, person: id } }))
        })
        .await
}

/// An account as a sign-in finds it.
struct Account {
    id: PersonId,
    /// The password hash, if one was set and the account is active.
    password_hash: Option<String>,
}

async fn account(tx: &mut Tx<'_>, name: &str) -> Result<Option<Account>> {
    let row: Option<(Uuid, String, Option<String>)> = person::table
        .left_join(credential::table)
        .filter(lower(person::sign_in_name).eq(name.trim().to_lowercase()))
        .select((person::id, person::state, credential::password_hash.nullable()))
        .first(tx.conn())
        .await
        .optional()?;
    Ok(row.map(|(id, state, hash)| Account {
        id: PersonId(id),
        password_hash: hash.filter(|_| state == PersonState::Active.as_str()),
    }))
}

fn counted(account: Option<&Account>, name: &str, origin: &Origin) -> Counted {
    match account.and_then(|it| Some((it.id, origin.device_of(Some(it.id))?))) {
        Some((person, device)) => Counted::on_device(device, person),
        None => Counted::stranger(name, origin.network()),
    }
}

/// Changes the caller's own password and ends every other session of the caller.
///
/// # Errors
/// Returns [`Error::Invalid`] if the current password is wrong or the new one is refused, and [`Error::RateLimited`] while
/// a wait is running.
pub async fn password_change(
    store: &Store,
    passwords: &Passwords,
    security: &Security,
    credentials: &Credentials,
    request: PasswordChange,
    origin: &Origin,
) -> Result<()> {
    let (me, name) = store
        .read(credentials, async |tx| {
            let me = tx.person()?.id;
            Ok((me, account::find(tx, me).await?.value.sign_in_name))
        })
        .await?;
    // Checked before the charge, because a refused new password is not a guess.
    passwords.acceptable(&request.new, &[&name], "/new").await?;
    let counted = Counted::by_person(me);
    let (hash, wait) = store
        .write(credentials, async |tx| {
            let wait = attempts::charge(tx, &counted).await?;
            let hash: String =
                credential::table.find(me.0).select(credential::password_hash).first(tx.conn()).await?;
            Ok((hash, wait))
        })
        .await?;
    if let Some(retry_after) = wait {
        return Err(Error::RateLimited { retry_after });
    }
    let wrong = || {
        let who = Who::Principal(me.0);
        security.note(store.clock.now(), SecurityEventKind::PasswordRefused, who, origin, None);
        Error::field("/current", "The current password is incorrect.")
    };
    if !passwords.verify(request.current, Some(hash.clone())).await? {
        return Err(wrong());
    }
    let new = passwords.hash(request.new, &store.rng).await?;
    let changed = store
        .write_holding(credentials, Hold::Alone, None, async |tx| {
            let me = tx.person()?;
            if account::lock_for_entry(tx, me.id).await?.password_hash.as_ref() != Some(&hash) {
                return Ok(false);
            }
            attempts::reset_failures(tx, &counted).await?;
            set(tx, me.id, &new).await?;
            sessions::end_all(tx, me.id, Some(me.session)).await?;
            tx.record(NewEvent::new("person", me.id.0, "password_changed").keeps(&CREDENTIAL, [me.id.0]));
            Ok(true)
        })
        .await?;
    if changed { Ok(()) } else { Err(wrong()) }
}

/// Stores a new password hash. The caller must have locked the person's row for itself.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn set(tx: &mut Tx<'_>, of: PersonId, hash: &str) -> Result<()> {
    let now = tx.now();
    diesel::insert_into(credential::table)
        .values((
            credential::person_id.eq(of.0),
            credential::password_hash.eq(hash),
            credential::changed_at.eq(now),
        ))
        .on_conflict(credential::person_id)
        .do_update()
        .set((credential::password_hash.eq(hash), credential::changed_at.eq(now)))
        .execute(tx.conn())
        .await?;
    Ok(())
}
