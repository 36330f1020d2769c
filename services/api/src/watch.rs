//! Noting refused requests as security events: those that say who should not have been there.
//!
//! Costs nothing where a request is answered. A closed gate, a wrong state and a thing that is not there are how work
//! goes, and no events; an access token past its time is what every client sends now and then. Signing in, refreshing
//! and one-time codes are noted where it is known whose account was tried.

use actix_web::dev::ServiceResponse;
use actix_web::http::StatusCode;
use actix_web::web::Data;
use clinic::Credentials;
use clinic::security::{self, Who};
use wire::security::SecurityEventKind as Kind;

use crate::caller::{self, Bearer};
use crate::problem::Refusal;
use crate::state::ApiState;

/// Addresses that take no caller, whatever is sent as one.
const WITHOUT_CALLER: [&str; 3] = ["/v1/sessions/refresh", "/v1/one-time-codes/use", "POST /v1/sessions"];

/// Notes what was refused, and learns which API keys are good.
pub(crate) fn watch<B>(response: &ServiceResponse<B>) {
    let Some(state) = response.request().app_data::<Data<ApiState>>() else { return };
    let refused = matches!(
        response.status(),
        StatusCode::UNAUTHORIZED | StatusCode::FORBIDDEN | StatusCode::TOO_MANY_REQUESTS
    );
    let event = if refused { event(state, response) } else { None };
    match &event {
        Some((Kind::KeyUnknown, Who::Key(hash))) => state.keys.refused(hash),
        _ => state.keys.answered(response),
    }
    if let Some((kind, who)) = event {
        let origin = caller::origin(response.request(), state, None);
        security::note(&state.clinic, kind, who, &origin, operation(response));
    }
}

/// What kind of event a refusal is, if it is one, and who asked.
fn event<B>(state: &ApiState, response: &ServiceResponse<B>) -> Option<(Kind, Who)> {
    let request = response.request();
    let pattern = routing::pattern(request).unwrap_or_default();
    let named = format!("{} {pattern}", request.method());
    if WITHOUT_CALLER.iter().any(|without| *without == pattern || *without == named) {
        return None;
    }
    let refusal = response.response().error()?.as_error::<Refusal>()?;
    let bearer = caller::bearer(request, state);
    let limited = matches!(refusal, Refusal::Clinic(clinic::Error::RateLimited { .. }));
    let who = match &bearer {
        Bearer::Good(Credentials::Session { person, .. }) => Who::Principal(person.0),
        // A key that was stopped before the database may be any: it is not worth a row of its own.
        Bearer::Good(Credentials::Key(hash)) if !limited || state.keys.is_proved(hash) => Who::Key(*hash),
        Bearer::Good(Credentials::Key(_)) => Who::Nobody,
        Bearer::MadeUpKey | Bearer::Expired | Bearer::Invalid | Bearer::Missing => Who::Nobody,
    };
    let kind = match (refusal, &bearer) {
        (Refusal::Clinic(clinic::Error::Unauthenticated(_)), Bearer::Good(Credentials::Session { .. })) => {
            Kind::SessionEnded
        }
        (
            Refusal::Clinic(clinic::Error::Unauthenticated(_)),
            Bearer::Good(Credentials::Key(_)) | Bearer::MadeUpKey,
        ) => Kind::KeyUnknown,
        (Refusal::Clinic(clinic::Error::Unauthenticated(_)), Bearer::Invalid) => Kind::TokenInvalid,
        (Refusal::Clinic(clinic::Error::Forbidden(_)), _) => Kind::Forbidden,
        (Refusal::Clinic(clinic::Error::RateLimited { .. }), _) => Kind::RequestsLimited,
        _ => return None,
    };
    Some((kind, who))
}

/// The request by method and pattern, never by its address, which may hold ids.
fn operation<B>(response: &ServiceResponse<B>) -> Option<String> {
    let pattern = routing::pattern(response.request())?;
    Some(format!("{} {pattern}", response.request().method()))
}
