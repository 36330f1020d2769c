//! Accounts, sessions, one-time codes and API clients.
//!
//! Decides who may call, and in which role. May use `store`, `canonical`, `schema`, `wire`. Never here: an answer that
//! reveals which accounts exist, a password, key, code or token stored in clear, or a password set by an administrator.

mod account;
mod accounts;
mod api_clients;
mod attempts;
mod class_list;
mod codes;
pub mod kept;
mod origin;
mod password;
mod secret;
pub mod security;
mod sessions;
mod sign_in;

pub use accounts::{Changed, change, change_in_turn, me, people, person};
pub use api_clients::{api_client, api_client_create, api_client_revoke, api_clients};
pub use attempts::EXPIRE_AFTER as FAILURES_EXPIRE_AFTER;
pub use class_list::{ClassFault, class_list};
pub use codes::{administrator_create, anybody, code_use, invite, invite_all, invite_each, recover, reset};
pub use origin::{KnownDevice, Origin};
pub use password::Passwords;
pub use secret::new_secret;
pub use sessions::{
    Holds, Opened, end_outdated_sessions, former_of_page, of_page, refresh, session_end, sessions,
};
pub use sign_in::{SignedIn, password_change, sign_in};
