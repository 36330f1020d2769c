//! Accounts, sessions, one-time codes and API clients.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use release::grants;
use store::Credentials;
use store::IdempotencyKey;
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

/// The calling person or API client.
///
/// # Errors
/// As [`people::me`].
pub async fn me(clinic: &Clinic, credentials: &Credentials) -> Result<Me> {
    ::people::me(&clinic.store, credentials).await
}

/// One person. Students may read only their own account.
///
/// # Errors
/// As [`people::person`].
pub async fn person(clinic: &Clinic, credentials: &Credentials, id: PersonId) -> Result<Versioned<Person>> {
    ::people::person(&clinic.store, credentials, id).await
}

/// All accounts, by name. Cost: one index range for each page, at any depth.
///
/// # Errors
/// As [`people::people`].
pub async fn people(clinic: &Clinic, credentials: &Credentials, query: &PageQuery) -> Result<Page<Person>> {
    ::people::people(&clinic.store, credentials, query).await
}

/// Creates an API client. Only this answer contains its key; the database holds the digest.
///
/// # Errors
/// As [`people::api_client_create`].
pub async fn api_client_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewApiClient,
) -> Result<Versioned<ApiClient>> {
    ::people::api_client_create(&clinic.store, credentials, once, request).await
}

/// The API clients. Administrators see all, others those they are responsible for.
///
/// # Errors
/// As [`people::api_clients`].
pub async fn api_clients(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<ApiClient>> {
    ::people::api_clients(&clinic.store, credentials, query).await
}

/// One API client, for an administrator or its responsible person.
///
/// # Errors
/// As [`people::api_client`].
pub async fn api_client(
    clinic: &Clinic,
    credentials: &Credentials,
    id: ApiClientId,
) -> Result<Versioned<ApiClient>> {
    ::people::api_client(&clinic.store, credentials, id).await
}

/// Revokes a key immediately. Only an administrator or the responsible person may do so.
///
/// # Errors
/// As [`people::api_client_revoke`].
pub async fn api_client_revoke(
    clinic: &Clinic,
    credentials: &Credentials,
    id: ApiClientId,
) -> Result<Versioned<ApiClient>> {
    ::people::api_client_revoke(&clinic.store, credentials, id).await
}

/// Deletes expired failures, so that the table stays small.
///
/// # Errors
/// As [`people::purge_expired_failures`].
pub async fn purge_expired_failures(clinic: &Clinic) -> Result<()> {
    ::people::purge_expired_failures(&clinic.store).await
}

/// Invites a person: creates the account and a one-time code for it.
///
/// # Errors
/// As [`people::invite`].
pub async fn invite(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &Invite,
) -> Result<OneTimeCode> {
    ::people::invite(&clinic.store, credentials, once, request).await
}

/// Creates a one-time code for a person who lost the password. The old password works until the code is used.
///
/// # Errors
/// As [`people::reset`].
pub async fn reset(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    of: PersonId,
) -> Result<OneTimeCode> {
    ::people::reset(&clinic.store, credentials, once, of).await
}

/// Creates an administrator account and its one-time code. Called from the command line on the server.
///
/// # Errors
/// As [`people::administrator_create`].
pub async fn administrator_create(clinic: &Clinic, sign_in_name: &str, name: &str) -> Result<OneTimeCode> {
    ::people::administrator_create(&clinic.store, sign_in_name, name).await
}

/// Sets a password with a one-time code. Ends every session of the person and activates an invited account.
///
/// # Errors
/// As [`people::code_use`].
pub async fn code_use(clinic: &Clinic, request: UseCode, address: &str) -> Result<()> {
    ::people::code_use(&clinic.store, &clinic.passwords, request, address).await
}

/// Creates a one-time code for an account. Called from the command line on the server, for an administrator who lost
/// the password.
///
/// # Errors
/// As [`people::recover`].
pub async fn recover(clinic: &Clinic, sign_in_name: &str) -> Result<OneTimeCode> {
    ::people::recover(&clinic.store, sign_in_name).await
}

/// Whether the clinic has any account.
///
/// # Errors
/// As [`people::anybody`].
pub async fn anybody(clinic: &Clinic) -> Result<bool> {
    ::people::anybody(&clinic.store).await
}

/// Exchanges a refresh token for a new one. A token that was used before ends its session.
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
pub async fn sessions(clinic: &Clinic, credentials: &Credentials) -> Result<Vec<Session>> {
    ::people::sessions(&clinic.store, credentials).await
}

/// Signs out: ends one of the caller's own sessions, the current one if `which` is `None`.
///
/// # Errors
/// As [`people::session_end`].
pub async fn session_end(clinic: &Clinic, credentials: &Credentials, which: Option<SessionId>) -> Result<()> {
    ::people::session_end(&clinic.store, credentials, which).await
}

/// Signs in from the network address `address`. An unknown account takes as long as a known one.
///
/// # Errors
/// As [`people::sign_in`].
pub async fn sign_in(clinic: &Clinic, request: SignIn, address: &str) -> Result<Opened> {
    ::people::sign_in(&clinic.store, &clinic.passwords, request, address).await
}

/// Changes the caller's own password and ends every other session of the caller.
///
/// # Errors
/// As [`people::password_change`].
pub async fn password_change(
    clinic: &Clinic,
    credentials: &Credentials,
    request: PasswordChange,
    address: &str,
) -> Result<()> {
    ::people::password_change(&clinic.store, &clinic.passwords, credentials, request, address).await
}

/// Changes an account. The change applies from the person's next request, even if their access token is still valid. A
/// person who is given a role other than instructor loses every `Decide` grant in the same transaction.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) unless the caller is an administrator; otherwise as
/// [`people::change`].
pub async fn change(
    clinic: &Clinic,
    credentials: &Credentials,
    id: PersonId,
    version: i64,
    change: &PersonChange,
) -> Result<Versioned<Person>> {
    clinic
        .store
        .write(credentials, async |tx| {
            let by = tx.administrator()?;
            let changed = ::people::change(tx, by, id, version, change).await?;
            if changed.decides_no_longer {
                grants::close_decisions(tx, id.into()).await?;
            }
            Ok(changed.person)
        })
        .await
}
