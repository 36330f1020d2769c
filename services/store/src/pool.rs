//! Connections: one pool, every connection under the service's own role and with time limits.

use std::time::Duration;

use diesel::ConnectionError;
use diesel_async::pooled_connection::deadpool;
use diesel_async::pooled_connection::{AsyncDieselConnectionManager, ManagerConfig, RecyclingMethod};
use diesel_async::{AsyncConnection, AsyncPgConnection, SimpleAsyncConnection};

use crate::error::{Error, Result};

/// The pool of connections.
pub type Pool = deadpool::Pool<AsyncPgConnection>;

/// A connection out of the pool.
pub(crate) type Conn = deadpool::Object<AsyncPgConnection>;

/// How many connections the pool has at a moment.
#[derive(Clone, Copy, Debug)]
pub struct Connections {
    /// How many it may open.
    pub limit: usize,
    /// How many it holds.
    pub open: usize,
    /// How many of them nobody uses.
    pub idle: usize,
    /// How many requests wait for one.
    pub waiting: usize,
}

impl Connections {
    pub(crate) fn of(pool: &Pool) -> Self {
        let status = pool.status();
        Self { limit: status.max_size, open: status.size, idle: status.available, waiting: status.waiting }
    }
}

/// How the pool is made.
#[derive(Clone, Debug)]
pub struct PoolSettings {
    /// Where the database is.
    pub url: String,
    /// How many connections at most.
    pub size: usize,
    /// How long a request waits for a connection before it is told that the service is busy.
    pub wait: Duration,
}

/// One connection under the service's role, which owns nothing, with time limits on every statement and lock.
///
/// # Errors
/// When the database cannot be reached or its login may not act as `stillroom_service`.
pub async fn connect(url: &str) -> Result<AsyncPgConnection, ConnectionError> {
    let mut conn = AsyncPgConnection::establish(url).await?;
    // The last line pins how values become text, which digests are taken over, whatever the database's own settings are.
    conn.batch_execute(
        "SET ROLE stillroom_service;
         SET application_name = 'stillroom';
         SET statement_timeout = '10s';
         SET lock_timeout = '5s';
         SET idle_in_transaction_session_timeout = '30s';
         SET datestyle = 'ISO, YMD'; SET intervalstyle = 'postgres'; SET timezone = 'UTC'; SET extra_float_digits = 1",
    )
    .await
    .map_err(ConnectionError::CouldntSetupConfiguration)?;
    Ok(conn)
}

/// Makes the pool. Connections are opened when first needed.
///
/// # Errors
/// When the settings make no sense.
pub(crate) fn build(settings: &PoolSettings) -> Result<Pool> {
    let mut config = ManagerConfig::default();
    // A test query per checkout would cost more than most requests; a dead connection is found by its first use.
    config.recycling_method = RecyclingMethod::Fast;
    config.custom_setup = Box::new(|url| {
        let url = url.to_owned();
        Box::pin(async move { connect(&url).await })
    });
    let manager = AsyncDieselConnectionManager::new_with_config(settings.url.clone(), config);
    Pool::builder(manager)
        .max_size(settings.size)
        .wait_timeout(Some(settings.wait))
        .create_timeout(Some(settings.wait))
        .runtime(::deadpool::Runtime::Tokio1)
        .build()
        .map_err(|error| Error::Internal(error.into()))
}
