//! Signing in and out, and the caller's own sessions.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::people::{self, KnownDevice, Opened, SignedIn};
use wire::ids::SessionId;
use wire::people::{Me, PasswordChange, Refresh, Session, SignIn, Tokens, UseCode};

use crate::answer::{self, Answer};
use crate::body::{AsTyped, Body};
use crate::caller::{Address, Caller};
use crate::params::Path;
use crate::problem::Refusal;
use crate::state::ApiState;
use crate::token;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        session_create,
        session_refresh,
        session_list,
        session_end_current,
        session_end,
        me_view,
        password_change,
        code_use
    );
}

fn tokens(state: &ApiState, opened: Opened, device: Option<KnownDevice>) -> Result<Tokens, Refusal> {
    let access_token = state
        .tokens
        .issue(opened.person.id, opened.session, state.clinic.clock().now())
        .ok_or_else(not_signed)?;
    let device_token = device
        .map(|device| state.tokens.issue_device(device, state.clinic.clock().now()).ok_or_else(not_signed))
        .transpose()?;
    Ok(Tokens {
        access_token,
        expires_in: u32::try_from(token::LIFETIME.num_seconds()).unwrap_or(0),
        refresh_token: opened.secret,
        session_id: opened.session,
        person: opened.person,
        device_token,
    })
}

fn not_signed() -> clinic::Error {
    clinic::Error::internal("a token could not be signed")
}

/// Sign in
///
/// Starts a session. Takes no Idempotency-Key: a repeated request starts another session. Keep `device_token` on the
/// device and send it with the next sign-in: failures of others, wherever they come from, then make nobody wait on this
/// device. Without it, whoever is answered 429 gets in with the right password after the time in `Retry-After`.
#[utoipa::path(post, path = "/v1/sessions",
    tag = "sessions", request_body = SignIn, responses((status = 201, body = Tokens)), security(()))]
async fn session_create(state: Data<ApiState>, address: Address, body: AsTyped<SignIn>) -> Answer {
    let origin = address.origin(&state, body.0.device_token.as_deref());
    let SignedIn { opened, device } = people::sign_in(&state.clinic, body.0, &origin).await?;
    let tokens = tokens(&state, opened, Some(device))?;
    answer::created(&format!("/v1/sessions/{}", tokens.session_id), &tokens)
}

/// Exchange a refresh token
///
/// Each refresh token may be exchanged once. A second use ends the session.
#[utoipa::path(post, path = "/v1/sessions/refresh",
    tag = "sessions", request_body = Refresh, responses((status = 201, body = Tokens)), security(()))]
async fn session_refresh(state: Data<ApiState>, address: Address, body: Body<Refresh>) -> Answer {
    let origin = address.origin(&state, None);
    let opened = people::refresh(&state.clinic, &body.0.refresh_token, &origin).await?;
    let tokens = tokens(&state, opened, None)?;
    answer::created(&format!("/v1/sessions/{}", tokens.session_id), &tokens)
}

/// List your sessions
#[utoipa::path(get, path = "/v1/sessions",
    tag = "sessions", responses((status = 200, body = Vec<Session>)))]
async fn session_list(request: HttpRequest, state: Data<ApiState>, caller: Caller) -> Answer {
    answer::read(&request, &people::sessions(&state.clinic, &caller.0).await?)
}

/// Sign out
///
/// Ends the session of this request. Its tokens are refused from then on.
#[utoipa::path(delete, path = "/v1/sessions/current",
    tag = "sessions", responses((status = 204)))]
async fn session_end_current(state: Data<ApiState>, caller: Caller) -> Answer {
    people::session_end(&state.clinic, &caller.0, None).await?;
    answer::done()
}

/// End one of your sessions
#[utoipa::path(delete, path = "/v1/sessions/{id}",
    tag = "sessions", params(("id" = SessionId, Path, description = "The session")),
    responses((status = 204)))]
async fn session_end(state: Data<ApiState>, caller: Caller, id: Path<SessionId>) -> Answer {
    people::session_end(&state.clinic, &caller.0, Some(id.0)).await?;
    answer::done()
}

/// Read your account
#[utoipa::path(get, path = "/v1/me",
    tag = "sessions", responses((status = 200, body = Me)))]
async fn me_view(request: HttpRequest, state: Data<ApiState>, caller: Caller) -> Answer {
    answer::read(&request, &people::me(&state.clinic, &caller.0).await?)
}

/// Change your password
///
/// Ends all your other sessions.
#[utoipa::path(put, path = "/v1/me/password",
    tag = "sessions", request_body = PasswordChange, responses((status = 204)))]
async fn password_change(
    state: Data<ApiState>,
    caller: Caller,
    address: Address,
    body: AsTyped<PasswordChange>,
) -> Answer {
    people::password_change(&state.clinic, &caller.0, body.0, &address.origin(&state, None)).await?;
    answer::done()
}

/// Set a password with a one-time code
///
/// For invited people, and for people whose password an administrator reset. Ends all sessions of the person.
#[utoipa::path(post, path = "/v1/one-time-codes/use",
    tag = "sessions", request_body = UseCode, responses((status = 204)), security(()))]
async fn code_use(state: Data<ApiState>, address: Address, body: AsTyped<UseCode>) -> Answer {
    people::code_use(&state.clinic, body.0, &address.origin(&state, None)).await?;
    answer::done()
}
