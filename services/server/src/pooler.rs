//! A pooler before the database must keep prepared statements: the service prepares every statement once a connection.

use std::time::Duration;

use tokio_postgres::error::SqlState;
use tokio_postgres::{Client, Error, NoTls};

use crate::error::StartError;

/// How long the second reading may wait. With a single connection behind the pooler it waits for the other caller, and
/// then nothing can be lost.
const PATIENCE: Duration = Duration::from_secs(2);

/// Refuses a pooler that loses prepared statements. One caller prepares a statement; another then keeps the server
/// connection, on which it was prepared, in a transaction; so the first reads on another one.
///
/// # Errors
/// [`StartError::Pooler`] when the statement was lost, [`StartError::Database`] when the database cannot be reached.
pub(crate) async fn keeps_statements(url: &str) -> Result<(), StartError> {
    let unanswered = |error: Error| StartError::Database(error.to_string());
    let first = caller(url).await?;
    let other = caller(url).await?;
    let statement = first.prepare("SELECT 1").await.map_err(unanswered)?;
    other.batch_execute("BEGIN; SELECT 1").await.map_err(unanswered)?;
    let read = tokio::time::timeout(PATIENCE, first.query_one(&statement, &[])).await;
    other.batch_execute("ROLLBACK").await.map_err(unanswered)?;
    match read {
        Ok(Err(error)) if error.code() == Some(&SqlState::INVALID_SQL_STATEMENT_NAME) => {
            Err(StartError::Pooler(error.to_string()))
        }
        Ok(Err(error)) => Err(unanswered(error)),
        Ok(Ok(_)) | Err(_) => Ok(()),
    }
}

async fn caller(url: &str) -> Result<Client, StartError> {
    let (client, connection) =
        tokio_postgres::connect(url, NoTls).await.map_err(|error| StartError::Database(error.to_string()))?;
    // It ends when the client is dropped.
    tokio::spawn(connection);
    Ok(client)
}
