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

pub use ::people::{ClassFault, Holds, KnownDevice, Opened, Origin, SignedIn, class_list};

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

/// Invites several people: all of them, or nobody.
///
/// # Errors
/// As [`people::invite_all`].
pub async fn invite_all(
    clinic: &Clinic,
    credentials: &Credentials,
    requests: &[Invite],
) -> Result<Vec<OneTimeCode>> {
    ::people::invite_all(&clinic.store, credentials, requests).await
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

/// Sets a password with a one-time code. Ends every session of the person and activates an invited account. Answers the
/// name that the person signs in with.
///
/// # Errors
/// As [`people::code_use`].
pub async fn code_use(clinic: &Clinic, request: UseCode, origin: &Origin) -> Result<String> {
    ::people::code_use(&clinic.store, &clinic.passwords, &clinic.security, request, origin).await
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
pub async fn refresh(clinic: &Clinic, token: &str, origin: &Origin) -> Result<Opened> {
    ::people::refresh(&clinic.store, &clinic.security, token, origin).await
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

/// Signs in. An unknown account takes as long as a known one.
///
/// # Errors
/// As [`people::sign_in`].
pub async fn sign_in(clinic: &Clinic, request: SignIn, origin: &Origin) -> Result<SignedIn> {
    let holds = Holds::RefreshToken;
    ::people::sign_in(&clinic.store, &clinic.passwords, &clinic.security, request, origin, holds).await
}

/// As [`sign_in`], for the pages: the session's secret works for as long as the session does, and goes into a cookie.
///
/// # Errors
/// As [`people::sign_in`].
pub async fn sign_in_to_pages(clinic: &Clinic, request: SignIn, origin: &Origin) -> Result<SignedIn> {
    let holds = Holds::PageSecret;
    ::people::sign_in(&clinic.store, &clinic.passwords, &clinic.security, request, origin, holds).await
}

/// Who stands behind the cookie of the pages, with what stands on every page of the clinic.
pub struct PageVisitor {
    /// Proved again by each use case.
    pub credentials: Credentials,
    /// The person, for the page's head.
    pub person: Person,
    /// The rules in force: name, notice, time zone, currency.
    pub policy: wire::policy::PolicyContent,
}

/// Who stands behind a secret of the pages. Prolongs the session, at most once an hour.
///
/// # Errors
/// As [`people::of_page`].
pub async fn page_visitor(clinic: &Clinic, secret: &str) -> Result<PageVisitor> {
    clinic
        .store
        .run_unauthenticated(async |tx| {
            let (credentials, person) = ::people::of_page(tx, secret).await?;
            let policy = ::policy::content_in_force(tx).await?;
            Ok(PageVisitor { credentials, person, policy })
        })
        .await
}

/// Whose a secret of the pages was, also when its session has ended.
///
/// # Errors
/// Returns the errors of the database.
pub async fn former_page_visitor(clinic: &Clinic, secret: &str) -> Result<Option<PersonId>> {
    clinic.store.run_unauthenticated(async |tx| ::people::former_of_page(tx, secret).await).await
}

/// Changes the caller's own password and ends every other session of the caller.
///
/// # Errors
/// As [`people::password_change`].
pub async fn password_change(
    clinic: &Clinic,
    credentials: &Credentials,
    request: PasswordChange,
    origin: &Origin,
) -> Result<()> {
    let (store, passwords) = (&clinic.store, &clinic.passwords);
    ::people::password_change(store, passwords, &clinic.security, credentials, request, origin).await
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
    let changed = ::people::change_in_turn(&clinic.store, credentials, id, async |tx| {
        let by = tx.administrator()?;
        let changed = ::people::change(tx, by, id, version, change).await?;
        if changed.decides_no_longer {
            grants::close_decisions(tx, id.into()).await?;
        }
        Ok(changed.person)
    })
    .await?;
    if change.name.is_some() {
        clinic.recipes.forget_records();
    }
    Ok(changed)
}

/// Ends the open sessions whose role is not the person's, from before a session's role followed the person's. Answers
/// how many there were.
///
/// # Errors
/// As [`people::end_outdated_sessions`].
pub async fn end_outdated_sessions(clinic: &Clinic) -> Result<usize> {
    ::people::end_outdated_sessions(&clinic.store).await
}
