//! Security events: noting what was refused at the door, and reading what was noted.

use ::people::security;
use store::{Credentials, Result};
use wire::page::Page;
use wire::security::{SecurityEvent, SecurityEventKind, SecurityEventQuery};

use crate::Clinic;

pub use ::people::Origin;
pub use ::people::security::Who;

/// Notes a refused request, in memory. `operation` names it by method and pattern, without ids.
pub fn note(clinic: &Clinic, kind: SecurityEventKind, who: Who, origin: &Origin, operation: Option<String>) {
    clinic.security.note(clinic.store.clock.now(), kind, who, origin, operation);
}

/// Writes what was noted since the last time. What cannot be written stays noted.
///
/// # Errors
/// As [`security::flush`].
pub async fn flush(clinic: &Clinic) -> Result<()> {
    security::flush(&clinic.store, &clinic.security).await
}

/// Security events, the newest first. Cost: one index range for each page, at any depth.
///
/// # Errors
/// As [`security::security_events`].
pub async fn security_events(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &SecurityEventQuery,
) -> Result<Page<SecurityEvent>> {
    security::security_events(&clinic.store, &clinic.security, credentials, query).await
}
