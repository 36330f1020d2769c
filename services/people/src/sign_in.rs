//! Sign-in, and change of the caller's own password.
//!
//! Passwords are verified between two short transactions, so that no connection is held meanwhile. Never here: an
//! answer that reveals whether an account exists.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{credential, person};
use store::{Credentials, Error, NewEvent, Result, Store, Tx, sql::lower, word};
use uuid::Uuid;
use wire::ids::PersonId;
use wire::people::{PasswordChange, SignIn};

use crate::kept::{CREDENTIAL, SESSION};
use crate::password::{self, Passwords};
use crate::sessions::Opened;
use crate::{attempts, sessions};

const WRONG: Error = Error::Unauthenticated("The sign-in name or the password is incorrect.");

/// Signs in from the network address `address`. An unknown account takes as long as a known one.
///
/// # Errors
/// Returns the same [`Error::Unauthenticated`] for an unknown name, a wrong password and a disabled account, and
/// [`Error::RateLimited`] while a wait is running.
pub async fn sign_in(store: &Store, passwords: &Passwords, request: SignIn, address: &str) -> Result<Opened> {
    let name = request.sign_in_name;
    let known = store
        .run_unauthenticated(async |tx| {
            attempts::charge(tx, &name, address).await?;
            credentials(tx, &name).await
        })
        .await?;
    let (id, hash) = known.unzip();
    if !passwords.verify(request.password, hash.clone()).await? {
        return Err(WRONG);
    }
    let Some(id) = id else { return Err(WRONG) };
    store
        .run_unauthenticated(async |tx| {
            // Read again, because the account may have been disabled or its password changed during hashing.
            let row: Option<(String, String)> = person::table
                .inner_join(credential::table)
                .filter(person::id.eq(id))
                .filter(person::state.eq("active"))
                .select((person::role, credential::password_hash))
                .first(tx.conn())
                .await
                .optional()?;
            let Some((role, now_hash)) = row else { return Err(WRONG) };
            if Some(now_hash) != hash {
                return Err(WRONG);
            }
            attempts::reset_failures(tx, &name, address).await?;
            let opened = sessions::begin(tx, PersonId(id), word(&role)?).await?;
            tx.record(
                NewEvent::new("session", opened.session.0, "signed_in").keeps(&SESSION, [opened.session.0]),
            );
            Ok(opened)
        })
        .await
}

async fn credentials(tx: &mut Tx<'_>, name: &str) -> Result<Option<(Uuid, String)>> {
    Ok(person::table
        .inner_join(credential::table)
        .filter(lower(person::sign_in_name).eq(name.trim().to_lowercase()))
        .filter(person::state.eq("active"))
        .select((person::id, credential::password_hash))
        .first(tx.conn())
        .await
        .optional()?)
}

/// Changes the caller's own password and ends every other session of the caller.
///
/// # Errors
/// Returns [`Error::Invalid`] if the current password is wrong or the new one is refused, and [`Error::RateLimited`] while
/// a wait is running.
pub async fn password_change(
    store: &Store,
    passwords: &Passwords,
    credentials: &Credentials,
    request: PasswordChange,
    address: &str,
) -> Result<()> {
    let (name, hash) = store
        .write(credentials, async |tx| {
            let me = tx.person()?;
            let (name, hash): (String, String) = person::table
                .inner_join(credential::table)
                .filter(person::id.eq(me.id.0))
                .select((person::sign_in_name, credential::password_hash))
                .first(tx.conn())
                .await?;
            // Checked before the charge, because a refused new password is not a guess.
            password::acceptable(&request.new, &[&name], "/new")?;
            attempts::charge(tx, &name, address).await?;
            Ok((name, hash))
        })
        .await?;
    if !passwords.verify(request.current, Some(hash)).await? {
        return Err(Error::field("/current", "The current password is incorrect."));
    }
    let new = passwords.hash(request.new, &store.rng).await?;
    store
        .write(credentials, async |tx| {
            let me = tx.person()?;
            attempts::reset_failures(tx, &name, address).await?;
            set(tx, me.id, &new).await?;
            sessions::end_all(tx, me.id, Some(me.session)).await?;
            tx.record(NewEvent::new("person", me.id.0, "password_changed").keeps(&CREDENTIAL, [me.id.0]));
            Ok(())
        })
        .await
}

/// Stores a new password hash.
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
