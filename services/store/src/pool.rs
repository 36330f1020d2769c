//! Connections: one pool, every connection under the service's own role and with time limits, by its login.

use std::time::Duration;

use deadpool::managed::{self, Metrics, RecycleError, RecycleResult};
use diesel::ConnectionError;
use diesel_async::pooled_connection::PoolableConnection;

use crate::connection::{Connection, open};
use crate::error::{Error, Result};

/// The pool of connections.
pub(crate) type Pool = managed::Pool<Manager>;

/// A connection out of the pool.
pub(crate) type Conn = managed::Object<Manager>;

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

/// Opens the pool's connections and throws broken ones away.
pub(crate) struct Manager {
    url: String,
}

impl managed::Manager for Manager {
    type Type = Connection;
    type Error = ConnectionError;

    async fn create(&self) -> Result<Connection, ConnectionError> {
        open(&self.url).await
    }

    /// No test query: it would cost more than most requests. A dead connection is found by its first use.
    async fn recycle(&self, connection: &mut Connection, _: &Metrics) -> RecycleResult<ConnectionError> {
        if connection.pg.is_broken() {
            return Err(RecycleError::message("the connection is closed or its transaction did not end"));
        }
        Ok(())
    }
}

/// Makes the pool. Connections are opened when first needed.
///
/// # Errors
/// When the settings make no sense.
pub(crate) fn build(settings: &PoolSettings) -> Result<Pool> {
    Pool::builder(Manager { url: settings.url.clone() })
        .max_size(settings.size)
        .wait_timeout(Some(settings.wait))
        .create_timeout(Some(settings.wait))
        .runtime(deadpool::Runtime::Tokio1)
        .build()
        .map_err(|error| Error::Internal(error.into()))
}
