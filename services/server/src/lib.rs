//! The one binary: configuration, start-up, commands and background work.
//!
//! For: putting the clinic, the API and a database together, the same way in production and in tests. May use everything
//! below it. What never happens here: a rule of the clinic, or an entry point that touches the database other than
//! through the clinic (migrations alone run on a connection of their own, under the owner's role).

mod connection;
pub mod demo;
mod error;
pub mod keys;
pub mod logging;
mod login;
pub mod migrate;
mod pooler;
pub mod service_login;
pub mod settings;
pub mod start;
mod telemetry;

pub use error::StartError;
pub use settings::{Settings, SettingsError};
pub use start::{Running, start};
