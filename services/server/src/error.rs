//! Why a command of the binary failed. Every message says how to cure it, where the person at the terminal can.

use std::net::SocketAddr;

use crate::settings::SettingsError;

/// Why the service could not start, with the cure.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The configuration.
    #[error(transparent)]
    Settings(#[from] SettingsError),
    /// The signing keys.
    #[error(transparent)]
    Keys(#[from] api::KeyError),
    /// The database cannot be reached.
    #[error("the database cannot be reached: {0}; check DATABASE_URL and that the server is running")]
    Database(String),
    /// A migration failed.
    #[error("a migration failed and left nothing behind: {0}")]
    Migration(String),
    /// A migration is missing.
    #[error("the database lacks a migration ({0}): run `stillroom migrate`")]
    NotMigrated(String),
    /// The port is taken or may not be used.
    #[error("cannot listen on {address}: {error}; set STILLROOM_LISTEN to a free address and port")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// Why not.
        error: String,
    },
    /// Something of the clinic.
    #[error("{0}")]
    Clinic(String),
    /// The server itself.
    #[error("the server failed: {0}")]
    Server(#[from] std::io::Error),
}

impl From<clinic::Error> for StartError {
    fn from(error: clinic::Error) -> Self {
        let cause = std::error::Error::source(&error).map(|cause| format!(": {cause}")).unwrap_or_default();
        Self::Clinic(format!("{error}{cause}"))
    }
}
