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
    let cursor = cursor_of(statement);
    diesel::sql_query(format!("DECLARE {cursor} NO SCROLL CURSOR FOR {statement}"))
        .execute(tx.conn())
        .await?;
    loop {
        let rows: Vec<T> = diesel::sql_query(format!("FETCH {STRIDE} FROM {cursor}")).load(tx.conn()).await?;
        if rows.is_empty() {
            break;
        }
        rows.into_iter().try_for_each(&mut each)?;
    }
    diesel::sql_query(format!("CLOSE {cursor}")).execute(tx.conn()).await?;
    Ok(())
}

/// The name of a statement's cursor, of which there is one for each statement: a pooler keeps what it prepared by its
/// text, so that one `FETCH` must never stand for rows of two shapes.
fn cursor_of(statement: &str) -> String {
    let digest = canonical::digest([statement.as_bytes()]);
    format!("rows_{}", hex::encode(digest.first_chunk::<8>().copied().unwrap_or_default()))
}
