//! Connections: one pool, every connection under the service's own role and with time limits, by its login.

use std::time::Duration;

use diesel::ConnectionError;
use diesel_async::pooled_connection::deadpool;
use diesel_async::pooled_connection::{AsyncDieselConnectionManager, ManagerConfig, RecyclingMethod};
use diesel_async::{AsyncConnection, AsyncPgConnection};

use crate::error::{Error, Result};
use crate::login::{lacking, missing_defaults};

/// The pool of connections.
pub type Pool = deadpool::Pool<AsyncPgConnection>;

/// A connection out of the pool.
pub(crate) type Conn = deadpool::Object<AsyncPgConnection>;

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

/// One connection of the service's login, whose defaults are the role that owns nothing, time limits for every statement
/// and lock, and how values become text. Nothing is set on the connection itself: see [`crate::login`].
///
/// # Errors
/// When the database cannot be reached or its login lacks a default.
pub async fn connect(url: &str) -> Result<AsyncPgConnection, ConnectionError> {
    let mut conn = AsyncPgConnection::establish(url).await?;
    let missing = missing_defaults(&mut conn).await.map_err(ConnectionError::CouldntSetupConfiguration)?;
    if missing.is_empty() { Ok(conn) } else { Err(ConnectionError::BadConnection(lacking(&missing))) }
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
