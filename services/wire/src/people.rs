//! Accounts, sessions, invitations and API clients.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{ApiClientId, PersonId, SessionId};
use crate::words::words;

words! {
    /// The role of a person in the clinic.
    Role {
        /// Learns: reads recipes, makes batches, submits records.
        Student = "student",
        /// Teaches: writes and approves formulas, reviews batch records.
        Instructor = "instructor",
        /// Runs the clinic's affairs: people, policy, API clients, audit.
        Administrator = "administrator",
    }
}

words! {
    /// Whether an account can be used.
    PersonState {
        /// Has not accepted the invitation yet.
        Invited = "invited",
        /// Can sign in.
        Active = "active",
        /// Cannot sign in; every session is ended.
        Disabled = "disabled",
    }
}

words! {
    /// A permission of an API client.
    Scope {
        /// List, search and look at formulas, without amounts or method.
        FormulasRead = "formulas:read",
        /// Pull recipes whose cautions have been acknowledged for the client.
        RecipesRead = "recipes:read",
        /// Read the labels of batches, without their records.
        LabelsRead = "labels:read",
        /// List and read lots of the shelf, without what is left of them.
        LotsRead = "lots:read",
        /// List and read jars, with what is told when one is handed out, and not where they went.
        JarsRead = "jars:read",
        /// Acknowledge cautions by itself, on its responsible person's authority.
        Acknowledge = "acknowledge",
    }
}

/// Signing in.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SignIn {
    /// The name the account was made with.
    #[schema(example = "ilse.brandt")]
    pub sign_in_name: String,
    /// The password, exactly as it was set.
    #[schema(example = "a long phrase only I know", format = Password)]
    pub password: String,
    /// The `device_token` of an earlier sign-in of the same person on this device, if it was kept. With it, failures from
    /// elsewhere do not make this sign-in wait.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device_token: Option<String>,
}

/// A signed-in session's tokens. They are shown once.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct Tokens {
    /// Sent as `Authorization: Bearer ...`.
    pub access_token: String,
    /// Seconds until the access token ends.
    #[schema(example = 600)]
    pub expires_in: u32,
    /// Exchanged once for a new pair; using it twice ends the session.
    pub refresh_token: String,
    /// The session.
    pub session_id: SessionId,
    /// Who signed in.
    pub person: Person,
    /// Present when signing in. Keep it on the device, also past signing out, and send it with the next sign-in. It opens
    /// nothing without the password, and is good for 180 days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device_token: Option<String>,
}

/// Exchanging a refresh token.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Refresh {
    /// The refresh token that was received last.
    #[schema(example = "sr_Zm9yIGV4YW1wbGUgb25seSwgbm90IGEgdG9rZW4")]
    pub refresh_token: String,
}

/// One of the caller's own sessions.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Session {
    /// The session.
    pub id: SessionId,
    /// When it began.
    pub started_at: DateTime<Utc>,
    /// When it ends unless it is refreshed.
    pub idle_until: DateTime<Utc>,
    /// When it ends at the latest.
    pub valid_until: DateTime<Utc>,
    /// Whether it is the session of this request.
    pub current: bool,
}

/// A person with an account.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Person {
    /// The person.
    pub id: PersonId,
    /// The name used to sign in.
    #[schema(example = "ilse.brandt")]
    pub sign_in_name: String,
    /// The name shown to others.
    #[schema(example = "Ilse Brandt")]
    pub name: String,
    /// The person's role in the clinic.
    pub role: Role,
    /// Whether the account can be used.
    pub state: PersonState,
}

/// Changing an account. Absent fields stay as they are.
#[derive(Clone, Debug, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "role": "instructor" }))]
pub struct PersonChange {
    /// The name shown to others.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// The new role; takes effect at once.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub role: Option<Role>,
    /// `active` or `disabled`; disabling ends every session and closes the API clients the person answers for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<PersonState>,
}

/// Inviting a person.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Invite {
    /// 3 to 200 characters; case does not matter.
    #[schema(example = "tomasz.lipinski")]
    pub sign_in_name: String,
    /// The name shown to others.
    #[schema(example = "Tomasz Lipinski")]
    pub name: String,
    /// The role the person will have.
    pub role: Role,
}

/// A one-time code for an invited person or a person who lost the password. The code is shown once.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct OneTimeCode {
    /// Whose it is.
    pub person: Person,
    /// Hand it to the person; absent when the request was a repetition of one already answered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// Until when it can be used.
    pub valid_until: DateTime<Utc>,
}

/// Setting the first password, or a new one, with a one-time code.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct UseCode {
    /// The one-time code.
    #[schema(example = "sc_Zm9yIGV4YW1wbGUgb25seSwgbm90IGEgY29kZQ")]
    pub code: String,
    /// 12 to 128 characters; any characters; the commonest passwords are refused.
    #[schema(example = "a long phrase only I know", format = Password)]
    pub password: String,
}

/// Changing one's own password. Every other session ends.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PasswordChange {
    /// The present password.
    #[schema(example = "a long phrase only I know", format = Password)]
    pub current: String,
    /// 12 to 128 characters; any characters; the commonest passwords are refused.
    #[schema(example = "another phrase that is long", format = Password)]
    pub new: String,
}

/// Making an API client.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewApiClient {
    /// The name of the tool.
    #[schema(example = "Label printer in the dispensary")]
    pub name: String,
    /// The person responsible for the tool: an active instructor or administrator.
    pub responsible: PersonId,
    /// Its permissions.
    pub scopes: Vec<Scope>,
    /// When the key ends: within 400 days.
    pub valid_until: DateTime<Utc>,
}

/// Another tool with a key.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ApiClient {
    /// The client.
    pub id: ApiClientId,
    /// The name of the tool.
    pub name: String,
    /// The first characters of the key, to tell keys apart.
    #[schema(example = "sk_5Jb2")]
    pub key_prefix: String,
    /// The key, sent as `Authorization: Bearer ...`. Present once, in the answer that made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key: Option<String>,
    /// The person who answers for it.
    pub responsible: PersonId,
    /// The responsible person's name. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub responsible_name: Option<String>,
    /// Its permissions.
    pub scopes: Vec<Scope>,
    /// `active` or `revoked`.
    pub state: ApiClientState,
    /// When the key ends.
    pub valid_until: DateTime<Utc>,
    /// When it was last used, to the hour.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_used_at: Option<DateTime<Utc>>,
}

words! {
    /// Whether an API client's key opens anything.
    ApiClientState {
        /// The key is valid until its end.
        Active = "active",
        /// The key opens nothing.
        Revoked = "revoked",
    }
}

/// Who is calling.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Me {
    /// Set when a person is calling.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub person: Option<Person>,
    /// Set when another tool is calling.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub api_client: Option<ApiClient>,
}
