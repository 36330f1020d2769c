//! Settling: no proposal runs while materials, rules or cautions change.

use locks::{Locks, Mode, lock};
use store::{Result, Tx};

/// Waits for running proposals and blocks new ones until this transaction ends.
///
/// # Errors
/// Returns the errors of the database.
pub async fn settle(tx: &mut Tx<'_>) -> Result<()> {
    lock(tx, Locks::new().settling(Mode::Exclusive)).await
}
