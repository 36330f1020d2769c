//! People: accounts, sessions, invitations, API clients.
//!
//! For: who may call and in what role. What never happens here: telling which accounts exist, keeping a password,
//! key, code or token in the clear, or letting an administrator set somebody's password.

mod accounts;
mod api_clients;
mod attempts;
mod codes;
pub mod kept;
mod password;
mod sessions;
mod sign_in;

pub use accounts::{Changed, change, me, people, person};
pub use api_clients::{api_client, api_client_create, api_client_revoke, api_clients};
pub use attempts::forget_attempts;
pub use codes::{administrator_create, anybody, code_use, invite, recover, reset};
pub use password::Passwords;
pub use sessions::{refresh, session_end, sessions};
pub use sign_in::{Opened, password_change, sign_in};
