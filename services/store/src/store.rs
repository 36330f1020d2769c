//! The store: opens transactions, proves who is calling, and ends them with their events.
//!
//! Every request is one transaction on one connection. What never happens here: two connections for one request, a
//! transaction inside a timeout, or an event outside the transaction that it describes.

use std::time::Duration;

use diesel_async::{AnsiTransactionManager, AsyncPgConnection, RunQueryDsl, TransactionManager};
use materia::Materia;
use uuid::Uuid;

use crate::actor::Credentials;
use crate::clock::{Clock, Rng};
use crate::error::{Error, Result};
use crate::idempotency::{self, IdempotencyKey};
use crate::pool::{self, Conn, Connections, Pool, PoolSettings};
use crate::tx::Tx;
use crate::{journal, proof};

/// What every subject works with: connections, the clock, randomness and the reference data.
pub struct Store {
    pool: Pool,
    settings: PoolSettings,
    /// The one clock.
    pub clock: Clock,
    /// The one source of randomness.
    pub rng: Rng,
    /// The reference data that this service was built with.
    pub reference: Materia,
}

impl Store {
    /// Opens the store on a migrated database.
    ///
    /// # Errors
    /// [`Error::Internal`] if the pool cannot be built from `settings`, or the embedded reference data cannot be read.
    pub fn open(settings: &PoolSettings, clock: Clock, rng: Rng) -> Result<Self> {
        Ok(Self {
            pool: pool::build(settings)?,
            settings: settings.clone(),
            clock,
            rng,
            reference: Materia::embedded().map_err(|error| Error::Internal(error.into()))?,
        })
    }

    /// How long a request waits for a connection.
    #[must_use]
    pub const fn wait(&self) -> Duration {
        self.settings.wait
    }

    /// How many connections the pool has now.
    #[must_use]
    pub fn connections(&self) -> Connections {
        Connections::of(&self.pool)
    }

    /// A connection of its own for a worker's reads.
    ///
    /// # Errors
    /// [`Error::Unavailable`] when the database cannot be reached.
    pub async fn reading_connection(&self) -> Result<AsyncPgConnection> {
        tokio::time::timeout(self.wait(), pool::connect(&self.settings.url))
            .await
            .map_err(|slow| Error::Unavailable(slow.into()))?
            .map_err(|error| Error::Unavailable(error.into()))
    }

    /// Whether the database answers.
    ///
    /// # Errors
    /// When it does not.
    pub async fn ready(&self) -> Result<()> {
        let mut conn = self.conn().await?;
        diesel::select(diesel::dsl::sql::<diesel::sql_types::Integer>("1"))
            .get_result::<i32>(&mut conn)
            .await?;
        Ok(())
    }

    async fn conn(&self) -> Result<Conn> {
        self.pool.get().await.map_err(|error| Error::Unavailable(error.into()))
    }

    async fn begin<'t>(&'t self, credentials: Option<&Credentials>, sql: &str) -> Result<Tx<'t>> {
        let mut conn = self.conn().await?;
        AnsiTransactionManager::begin_transaction_sql(&mut *conn, sql).await?;
        let now = self.clock.now();
        let actor = match credentials {
            Some(credentials) => match proof::prove(&mut conn, credentials, now).await {
                Ok(actor) => Some(actor),
                Err(error) => {
                    AnsiTransactionManager::rollback_transaction(&mut *conn).await.ok();
                    return Err(error);
                }
            },
            None => None,
        };
        Ok(Tx::new(conn, actor, now, &self.rng, &self.reference))
    }

    /// Runs `work` in a transaction whose first statement proves the credentials. An error rolls everything back.
    ///
    /// # Errors
    /// What `work` answers, or that the credentials do not hold.
    pub async fn write<T>(
        &self,
        credentials: &Credentials,
        work: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        let tx = self.begin(Some(credentials), "BEGIN").await?;
        finish(tx, work).await
    }

    /// As [`write`](Self::write), for what only reads.
    ///
    /// # Errors
    /// What `work` answers, or that the credentials do not hold.
    pub async fn read<T>(
        &self,
        credentials: &Credentials,
        work: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        // A key's use is noted, so its transaction writes now and then.
        let sql = if matches!(credentials, Credentials::Key(_)) { "BEGIN" } else { "BEGIN READ ONLY" };
        let tx = self.begin(Some(credentials), sql).await?;
        finish(tx, work).await
    }

    /// Runs `work` for nobody in particular: signing in, using a one-time code, the service's own work.
    ///
    /// # Errors
    /// What `work` answers.
    pub async fn run_unauthenticated<T>(
        &self,
        work: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        let tx = self.begin(None, "BEGIN").await?;
        finish(tx, work).await
    }

    /// As [`run_unauthenticated`](Self::run_unauthenticated), for work over the whole database that reads one snapshot
    /// and may take longer than a request.
    ///
    /// # Errors
    /// What `work` answers.
    pub async fn run_long<T>(&self, work: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T>) -> Result<T> {
        let mut tx = self.begin(None, "BEGIN ISOLATION LEVEL REPEATABLE READ").await?;
        diesel::sql_query("SET LOCAL statement_timeout = 0").execute(tx.conn()).await?;
        finish(tx, work).await
    }

    /// Runs a creating request once, however often it is sent: `make` does the work and names what it made,
    /// `show` renders it. A repetition only shows, afresh and through the gate: nothing that was answered is kept.
    ///
    /// # Errors
    /// [`Error::KeyInFlight`] while the first is being worked on, [`Error::KeyReused`] for another request, and what
    /// `make` and `show` answer.
    pub async fn create<T>(
        &self,
        credentials: &Credentials,
        once: &IdempotencyKey,
        make: impl AsyncFnOnce(&mut Tx<'_>) -> Result<Uuid>,
        show: impl AsyncFnOnce(&mut Tx<'_>, Uuid) -> Result<T>,
    ) -> Result<T> {
        self.write(credentials, async |tx| {
            if let Some(made) = idempotency::earlier(tx, once).await? {
                return show(tx, made).await;
            }
            let made = make(tx).await?;
            idempotency::keep(tx, once, made).await?;
            show(tx, made).await
        })
        .await
    }
}

async fn finish<T>(mut tx: Tx<'_>, work: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T>) -> Result<T> {
    let answer = match work(&mut tx).await {
        Ok(answer) => journal::write(&mut tx).await.map(|()| answer),
        Err(error) => Err(error),
    };
    match answer {
        Ok(answer) => {
            AnsiTransactionManager::commit_transaction(&mut *tx.conn).await?;
            Ok(answer)
        }
        Err(error) => {
            // A connection whose rollback fails is thrown away by the pool, and Postgres rolls back by itself.
            AnsiTransactionManager::rollback_transaction(&mut *tx.conn).await.ok();
            Err(error)
        }
    }
}
