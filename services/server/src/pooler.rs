//! A pooler before the database must keep prepared statements: the service prepares every statement once a connection.

use std::time::Duration;

use diesel::IntoSql;
use diesel::sql_types::Integer;
use diesel_async::{AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};

use crate::error::StartError;

/// How long the second reading may wait. With a single connection behind the pooler it waits for the other caller, and
/// then nothing can be lost.
const PATIENCE: Duration = Duration::from_secs(2);

/// Refuses a pooler that loses prepared statements. One caller prepares a statement; another then keeps the server
/// connection, on which it was prepared, in a transaction; so the first reads on another one.
///
/// # Errors
/// [`StartError::Pooler`] when the statement was lost.
pub(crate) async fn keeps_statements(conn: &mut AsyncPgConnection, url: &str) -> Result<(), StartError> {
    // Of a kind that is prepared once and then known by its name.
    let read = diesel::select(1.into_sql::<Integer>());
    let unanswered = |error: diesel::result::Error| StartError::Database(error.to_string());
    let mut other = clinic::connect(url).await.map_err(|error| StartError::Database(error.to_string()))?;
    read.get_result::<i32>(conn).await.map_err(unanswered)?;
    other.batch_execute("BEGIN; SELECT 1").await.map_err(unanswered)?;
    let again = tokio::time::timeout(PATIENCE, read.get_result::<i32>(conn)).await;
    other.batch_execute("ROLLBACK").await.map_err(unanswered)?;
    match again {
        Ok(Err(error)) => Err(StartError::Pooler(error.to_string())),
        Ok(Ok(_)) | Err(_) => Ok(()),
    }
}
