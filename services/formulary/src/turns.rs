//! Mutual exclusion of proposals and amendments, by an advisory lock held until the transaction ends.

use diesel_async::RunQueryDsl;
use store::{Result, Tx};

/// Key of the lock. Without it, a proposal would compute its caution set from facts that a concurrent amendment
/// changes, and the amendment would not find the new revision.
const SETTLING: i64 = 0x5374_696C_6C63_6175;

/// Waits for running proposals and blocks new ones until this transaction ends.
///
/// # Errors
/// Returns the errors of the database.
pub async fn settle(tx: &mut Tx<'_>) -> Result<()> {
    diesel::sql_query("SELECT pg_advisory_xact_lock($1)")
        .bind::<diesel::sql_types::BigInt, _>(SETTLING)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Waits for running amendments and blocks new ones until this transaction ends.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn while_settled(tx: &mut Tx<'_>) -> Result<()> {
    diesel::sql_query("SELECT pg_advisory_xact_lock_shared($1)")
        .bind::<diesel::sql_types::BigInt, _>(SETTLING)
        .execute(tx.conn())
        .await?;
    Ok(())
}
