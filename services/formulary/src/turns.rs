//! Proposing and amending take turns, by an advisory lock that lasts until the transaction ends.

use diesel_async::RunQueryDsl;
use store::{Result, Tx};

/// What proposing and amending take turns by: whoever proposes works a set out that a change under way would miss.
const SETTLING: i64 = 0x5374_696C_6C63_6175;

/// Waits until nothing is being proposed, and keeps proposals waiting until this transaction ends.
///
/// # Errors
/// When the database does not answer.
pub async fn settle(tx: &mut Tx<'_>) -> Result<()> {
    diesel::sql_query("SELECT pg_advisory_xact_lock($1)")
        .bind::<diesel::sql_types::BigInt, _>(SETTLING)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Waits until nothing is being amended, and keeps amendments waiting until this transaction ends.
pub(crate) async fn while_settled(tx: &mut Tx<'_>) -> Result<()> {
    diesel::sql_query("SELECT pg_advisory_xact_lock_shared($1)")
        .bind::<diesel::sql_types::BigInt, _>(SETTLING)
        .execute(tx.conn())
        .await?;
    Ok(())
}
