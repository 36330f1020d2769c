//! Reading many rows in bounded memory, through a cursor of the transaction.

use diesel::QueryableByName;
use diesel::pg::Pg;
use diesel_async::RunQueryDsl;

use crate::error::Result;
use crate::tx::Tx;

/// How many rows are held at a time.
const STRIDE: u32 = 200;

/// Reads what a statement answers and hands over row by row. One at a time in a transaction.
///
/// # Errors
/// When the database cannot be read, or what `each` answers.
pub(super) async fn stream<T: QueryableByName<Pg> + Send + 'static>(
    tx: &mut Tx<'_>,
    statement: &str,
    mut each: impl FnMut(T) -> Result<()> + Send,
) -> Result<()> {
    diesel::sql_query(format!("DECLARE journal_rows NO SCROLL CURSOR FOR {statement}"))
        .execute(tx.conn())
        .await?;
    loop {
        let rows: Vec<T> =
            diesel::sql_query(format!("FETCH {STRIDE} FROM journal_rows")).load(tx.conn()).await?;
        if rows.is_empty() {
            break;
        }
        rows.into_iter().try_for_each(&mut each)?;
    }
    diesel::sql_query("CLOSE journal_rows").execute(tx.conn()).await?;
    Ok(())
}
