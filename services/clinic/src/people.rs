//! Accounts, sessions, one-time codes and API clients.
//!
//! Each function is one request: one transaction, whose first statement proves the caller.

use release::grants;
use store::Claim;
use store::Once;
use store::Result;
use store::Versioned;
use wire::ids::ApiClientId;
use wire::ids::PersonId;
use wire::ids::SessionId;
use wire::page::Page;
use wire::page::PageQuery;
use wire::people::ApiClient;
use wire::people::Invite;
use wire::people::Me;
use wire::people::NewApiClient;
use wire::people::OneTimeCode;
use wire::people::PasswordChange;
use wire::people::Person;
use wire::people::PersonChange;
use wire::people::Session;
use wire::people::SignIn;
use wire::people::UseCode;

use crate::Clinic;

pub use ::people::Opened;

/// Who is calling.
///
/// # Errors
/// As [`people::me`].
pub async fn me(clinic: &Clinic, claim: &Claim) -> Result<Me> {
    ::people::me(&clinic.store, claim).await
}

/// One person: anybody may look at themselves, instructors and administrators at everybody.
///
/// # Errors
/// As [`people::person`].
pub async fn person(clinic: &Clinic, claim: &Claim, id: PersonId) -> Result<Versioned<Person>> {
    ::people::person(&clinic.store, claim, id).await
}

/// Everybody with an account, by name. Cost: one index range, whatever the depth.
///
/// # Errors
/// As [`people::people`].
pub async fn people(clinic: &Clinic, claim: &Claim, query: &PageQuery) -> Result<Page<Person>> {
    ::people::people(&clinic.store, claim, query).await
}

/// Makes an API client. The key is in the answer once and nowhere else.
///
/// # Errors
/// As [`people::api_client_create`].
pub async fn api_client_create(
    clinic: &Clinic,
    claim: &Claim,
    once: &Once,
    request: &NewApiClient,
) -> Result<Versioned<ApiClient>> {
    ::people::api_client_create(&clinic.store, claim, once, request).await
}

/// The API clients: an administrator sees all, others those they answer for.
///
/// # Errors
/// As [`people::api_clients`].
pub async fn api_clients(clinic: &Clinic, claim: &Claim, query: &PageQuery) -> Result<Page<ApiClient>> {
    ::people::api_clients(&clinic.store, claim, query).await
}

/// One API client, for an administrator or the person who answers for it.
///
/// # Errors
/// As [`people::api_client`].
pub async fn api_client(clinic: &Clinic, claim: &Claim, id: ApiClientId) -> Result<Versioned<ApiClient>> {
    ::people::api_client(&clinic.store, claim, id).await
}

/// Revokes a key at once: by an administrator or the person who answers for it.
///
/// # Errors
/// As [`people::api_client_revoke`].
pub async fn api_client_revoke(
    clinic: &Clinic,
    claim: &Claim,
    id: ApiClientId,
) -> Result<Versioned<ApiClient>> {
    ::people::api_client_revoke(&clinic.store, claim, id).await
}

/// Forgets the attempts that no longer count, so that the table stays small.
///
/// # Errors
/// As [`people::purge_expired_failures`].
pub async fn purge_expired_failures(clinic: &Clinic) -> Result<()> {
    ::people::purge_expired_failures(&clinic.store).await
}

/// Invites a person: makes the account and a one-time code for it.
///
/// # Errors
/// As [`people::invite`].
pub async fn invite(clinic: &Clinic, claim: &Claim, once: &Once, request: &Invite) -> Result<OneTimeCode> {
    ::people::invite(&clinic.store, claim, once, request).await
}

/// Makes a one-time code for a person who lost the password; the old password goes on until the code is used.
///
/// # Errors
/// As [`people::reset`].
pub async fn reset(clinic: &Clinic, claim: &Claim, once: &Once, of: PersonId) -> Result<OneTimeCode> {
    ::people::reset(&clinic.store, claim, once, of).await
}

/// Makes the first administrator, or a further one, from the command line of the machine the service runs on.
///
/// # Errors
/// As [`people::administrator_create`].
pub async fn administrator_create(clinic: &Clinic, sign_in_name: &str, name: &str) -> Result<OneTimeCode> {
    ::people::administrator_create(&clinic.store, sign_in_name, name).await
}

/// Sets a password with a one-time code. Every session of the person ends, and the account becomes active.
///
/// # Errors
/// As [`people::code_use`].
pub async fn code_use(clinic: &Clinic, request: UseCode, address: &str) -> Result<()> {
    ::people::code_use(&clinic.store, &clinic.passwords, request, address).await
}

/// Makes a one-time code for an account, from the command line of the machine the service runs on: the way back for
/// an administrator who lost the password.
///
/// # Errors
/// As [`people::recover`].
pub async fn recover(clinic: &Clinic, sign_in_name: &str) -> Result<OneTimeCode> {
    ::people::recover(&clinic.store, sign_in_name).await
}

/// Whether the clinic has any account at all.
///
/// # Errors
/// As [`people::anybody`].
pub async fn anybody(clinic: &Clinic) -> Result<bool> {
    ::people::anybody(&clinic.store).await
}

/// Exchanges a refresh token for a new one. A token that comes a second time was stolen or lost: its session ends.
///
/// # Errors
/// As [`people::refresh`].
pub async fn refresh(clinic: &Clinic, token: &str) -> Result<Opened> {
    ::people::refresh(&clinic.store, token).await
}

/// The caller's own sessions that have not ended.
///
/// # Errors
/// As [`people::sessions`].
pub async fn sessions(clinic: &Clinic, claim: &Claim) -> Result<Vec<Session>> {
    ::people::sessions(&clinic.store, claim).await
}

/// Ends one of the caller's own sessions: signing out.
///
/// # Errors
/// As [`people::session_end`].
pub async fn session_end(clinic: &Clinic, claim: &Claim, which: Option<SessionId>) -> Result<()> {
    ::people::session_end(&clinic.store, claim, which).await
}

/// Signs in. `address` is where the request came from. The password is verified between two short transactions, so
/// that no connection is held meanwhile; unknown accounts cost the same.
///
/// # Errors
/// As [`people::sign_in`].
pub async fn sign_in(clinic: &Clinic, request: SignIn, address: &str) -> Result<Opened> {
    ::people::sign_in(&clinic.store, &clinic.passwords, request, address).await
}

/// Changes the caller's own password and ends every other session.
///
/// # Errors
/// As [`people::password_change`].
pub async fn password_change(
    clinic: &Clinic,
    claim: &Claim,
    request: PasswordChange,
    address: &str,
) -> Result<()> {
    ::people::password_change(&clinic.store, &clinic.passwords, claim, request, address).await
}

/// Changes an account: takes effect with the next request of that person, whatever tokens are out. Whoever is given
/// another role than that of an instructor loses every grant to decide.
///
/// # Errors
/// When the caller is not an administrator; as [`people::change`].
pub async fn change(
    clinic: &Clinic,
    claim: &Claim,
    id: PersonId,
    version: i64,
    change: &PersonChange,
) -> Result<Versioned<Person>> {
    clinic
        .store
        .write(claim, async |tx| {
            let by = tx.administrator()?;
            let changed = ::people::change(tx, by, id, version, change).await?;
            if changed.decides_no_longer {
                grants::close_decisions(tx, id.into()).await?;
            }
            Ok(changed.person)
        })
        .await
}
