//! Security events: who tried and was refused, and when.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::ids::{HolderId, SecurityEventId};
use crate::words::words;

words! {
    /// The action that was tried.
    SecurityEventKind {
        /// A sign-in with a wrong password, at a name that no account has, or at an account that is not active.
        SignInFailed = "sign_in_failed",
        /// A sign-in or a one-time code that was refused because of earlier failures; no password was looked at.
        SignInLimited = "sign_in_limited",
        /// A change of the own password with a wrong current one.
        PasswordRefused = "password_refused",
        /// A one-time code that set a password.
        CodeUsed = "code_used",
        /// A one-time code that is unknown, used or expired.
        CodeFailed = "code_failed",
        /// A refresh token that is unknown or whose session has ended.
        RefreshFailed = "refresh_failed",
        /// A refresh token that was used a second time, which ended its session.
        RefreshReused = "refresh_reused",
        /// A request with a good access token of a session that has ended.
        SessionEnded = "session_ended",
        /// A request with an access token that this service did not sign.
        TokenInvalid = "token_invalid",
        /// A request with an API key that is unknown, expired or revoked.
        KeyUnknown = "key_unknown",
        /// A request that the caller's role, membership or scopes do not permit. A closed gate is none.
        Forbidden = "forbidden",
        /// A request beyond the caller's rate.
        RequestsLimited = "requests_limited",
    }
}

/// Refused attempts of one kind, by one caller or at one account, from one network, within a minute.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct SecurityEvent {
    /// The event.
    pub id: SecurityEventId,
    /// The action that was tried.
    pub kind: SecurityEventKind,
    /// When it was first tried.
    pub first_at: DateTime<Utc>,
    /// When it was last tried.
    pub last_at: DateTime<Utc>,
    /// How often.
    #[schema(example = 7)]
    pub count: u64,
    /// The person or API client who tried, or whose account it was tried at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub principal: Option<HolderId>,
    /// For a sign-in name that no account has, its keyed digest: the same name has the same digest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub account: Option<String>,
    /// Keyed digest of the network that it was tried from: an IPv4 address, or the first 64 bits of an IPv6 address.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub network: Option<String>,
    /// The request, without ids.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "PATCH /v1/people/{id}")]
    pub operation: Option<String>,
}

/// Which security events.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct SecurityEventQuery {
    /// Only of this kind.
    pub kind: Option<SecurityEventKind>,
    /// Only of this person or API client.
    pub principal: Option<HolderId>,
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
    /// The `next` of the previous page.
    pub after: Option<String>,
}
