//! Batches that wait for a second person.

use store::{Credentials, Result};

use crate::Clinic;
use crate::overview::{BatchInHand, batches_that};

/// The batches of others that wait for a second person who releases a hold, those that were opened first before the others.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) unless an instructor calls.
pub async fn holds_waiting(clinic: &Clinic, credentials: &Credentials) -> Result<Vec<BatchInHand>> {
    clinic
        .store
        .read(credentials, async |tx| {
            tx.instructor()?;
            batches_that(tx, &["making", "returned"], (false, false), "batch_hold_waits(b.id)").await
        })
        .await
}
