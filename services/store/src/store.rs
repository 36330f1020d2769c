//! The store: opens transactions, proves who is calling, and ends them with their events.
//!
//! Every request is one transaction on one connection, which is tried again a few times when it loses against another.
//! Work is handed in as `AsyncFn`: it can change nothing outside the transaction, so that it may run more than once.
//! Reads see one snapshot. What never happens here: two connections for one request at once, a transaction inside a
//! timeout (its BEGIN is), or an event outside the transaction that it describes.

use std::sync::Arc;
use std::time::Duration;

use diesel_async::{AnsiTransactionManager, AsyncPgConnection, RunQueryDsl, TransactionManager};
use materia::Materia;
use uuid::Uuid;

use crate::actor::Credentials;
use crate::calculations::Calculations;
use crate::calling::{self, Calling};
use crate::clock::{Clock, Rng};
use crate::connection::Connection;
use crate::error::{Error, Result};
use crate::idempotency::{self, IdempotencyKey, Made};
use crate::journal;
use crate::pool::{self, Conn, Connections, Pool, PoolSettings};
use crate::proof::Hold;
use crate::tx::Tx;
use crate::{connection, retry};

/// One snapshot for every statement, so that what is read together was so at one moment.
const SNAPSHOT: &str = "BEGIN ISOLATION LEVEL REPEATABLE READ";
const SNAPSHOT_READ_ONLY: &str = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY";

/// What every subject works with: connections, the clock, randomness and the reference data.
pub struct Store {
    pool: Pool,
    settings: PoolSettings,
    /// The one clock.
    pub clock: Clock,
    /// The one source of randomness.
    pub rng: Rng,
    /// The reference data that this service was built with.
    pub reference: Arc<Materia>,
    /// Where calculations run.
    pub calculations: Calculations,
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
            reference: Arc::new(Materia::embedded().map_err(|error| Error::Internal(error.into()))?),
            calculations: Calculations::default(),
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
        tokio::time::timeout(self.wait(), connection::connect(&self.settings.url))
            .await
            .map_err(|slow| Error::Unavailable(slow.into()))?
            .map_err(|error| Error::Unavailable(error.into()))
    }

    /// Whether the database answers.
    ///
    /// # Errors
    /// When it does not.
    pub async fn ready(&self) -> Result<()> {
        self.first(async |conn| {
            diesel::select(diesel::dsl::sql::<diesel::sql_types::Integer>("1"))
                .get_result::<i32>(&mut conn.pg)
                .await?;
            Ok(())
        })
        .await
        .map(|(_, ())| ())
    }

    /// Takes a connection of the pool and asks the first thing on it, which waits no longer than a request waits for a
    /// connection: a connection to a pooler is there at once, and the first statement on it waits for one of the pooler's.
    /// What did not answer in time is closed, so that whatever it was asked comes to nothing; so the first thing is `BEGIN`,
    /// or a reading, and takes no locks.
    pub(crate) async fn first<T>(
        &self,
        ask: impl AsyncFnOnce(&mut Connection) -> Result<T>,
    ) -> Result<(Conn, T)> {
        let mut conn = self.pool.get().await.map_err(|error| Error::Unavailable(error.into()))?;
        // An error of an earlier transaction is none of this one.
        conn.last_error.take();
        match tokio::time::timeout(self.wait(), ask(&mut conn)).await {
            Ok(Ok(answer)) => Ok((conn, answer)),
            Ok(Err(error)) => Err(error.told(conn.last_error.take().as_ref())),
            Err(slow) => {
                drop(Conn::take(conn));
                Err(Error::Unavailable(slow.into()))
            }
        }
    }

    async fn begin<'t>(&'t self, caller: Option<Calling<'_>>, sql: &str) -> Result<Tx<'t>> {
        let begun = async |conn: &mut Connection| {
            Ok(AnsiTransactionManager::begin_transaction_sql(&mut conn.pg, sql).await?)
        };
        let (mut conn, ()) = self.first(begun).await?;
        let now = self.clock.now();
        match calling::opened(&conn.pg, caller, now).await {
            Ok((actor, earlier)) => {
                let mut tx = Tx::new(conn, actor, now, &self.rng, &self.reference, &self.calculations);
                tx.earlier = earlier;
                Ok(tx)
            }
            Err(error) => {
                AnsiTransactionManager::rollback_transaction(&mut conn.pg).await.ok();
                Err(error.told(conn.last_error.take().as_ref()))
            }
        }
    }

    /// The one place that runs transactions. One that loses against another is tried again, as a whole and at a later
    /// time, with its connection given back while it waits.
    async fn run<T>(
        &self,
        caller: Option<Calling<'_>>,
        sql: &str,
        work: impl AsyncFn(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        let mut waits = retry::waits(&self.rng);
        loop {
            let answer = match self.begin(caller, sql).await {
                Ok(tx) => finish(tx, &work).await,
                Err(error) => Err(error),
            };
            match answer {
                Err(Error::Contended(cause)) => {
                    let Some(wait) = waits.next() else { return Err(Error::Contended(cause)) };
                    tracing::info!(%cause, ?wait, "transaction lost against another");
                    tokio::time::sleep(wait).await;
                }
                answer => return answer,
            }
        }
    }

    /// Runs `work` in a transaction whose first statement proves the credentials. An error rolls everything back.
    ///
    /// # Errors
    /// What `work` answers, or that the credentials do not hold. [`Error::Contended`] when it lost against others each
    /// time that it was tried.
    pub async fn write<T>(
        &self,
        credentials: &Credentials,
        work: impl AsyncFn(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        self.write_holding(credentials, Hold::Shared, None, work).await
    }

    /// As [`write`](Self::write), for what changes the right of persons: `hold` says whether the caller's own is among
    /// them. Everything in one `turn`, a number of the caller's choice, follows each other from before the proof.
    ///
    /// # Errors
    /// What `work` answers, or that the credentials do not hold.
    pub async fn write_holding<T>(
        &self,
        credentials: &Credentials,
        hold: Hold,
        turn: Option<i64>,
        work: impl AsyncFn(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        self.run(Some(Calling { credentials, hold, turn, once: None }), "BEGIN", work).await
    }

    /// As [`write`](Self::write), for what only reads: everything in it is read as of one moment.
    ///
    /// # Errors
    /// What `work` answers, or that the credentials do not hold.
    pub async fn read<T>(
        &self,
        credentials: &Credentials,
        work: impl AsyncFn(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        // A key's use is noted, so its transaction writes now and then.
        let sql = match credentials {
            Credentials::Key(_) => SNAPSHOT,
            Credentials::Session { .. } => SNAPSHOT_READ_ONLY,
        };
        self.run(Some(Calling { credentials, hold: Hold::Nothing, turn: None, once: None }), sql, work).await
    }

    /// Runs `work` for nobody in particular: signing in, using a one-time code, the service's own work.
    ///
    /// # Errors
    /// What `work` answers.
    pub async fn run_unauthenticated<T>(&self, work: impl AsyncFn(&mut Tx<'_>) -> Result<T>) -> Result<T> {
        self.run(None, "BEGIN", work).await
    }

    /// As [`run_unauthenticated`](Self::run_unauthenticated), for work over the whole database that reads one snapshot
    /// and may take longer than a request.
    ///
    /// # Errors
    /// What `work` answers.
    pub async fn run_long<T>(&self, work: impl AsyncFn(&mut Tx<'_>) -> Result<T>) -> Result<T> {
        self.run(None, SNAPSHOT, async |tx: &mut Tx<'_>| {
            diesel::sql_query("SET LOCAL statement_timeout = 0").execute(tx.conn()).await?;
            work(tx).await
        })
        .await
    }

    /// As [`write`](Self::write), for a creating request: its key is looked up together with the proof.
    async fn creating<T>(
        &self,
        credentials: &Credentials,
        once: &IdempotencyKey,
        work: impl AsyncFn(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        let calling = Calling { credentials, hold: Hold::Shared, turn: None, once: Some(once) };
        self.run(Some(calling), "BEGIN", work).await
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
        make: impl AsyncFn(&mut Tx<'_>) -> Result<Uuid>,
        show: impl AsyncFn(&mut Tx<'_>, Uuid) -> Result<T>,
    ) -> Result<T> {
        self.creating(credentials, once, async |tx| {
            let (id, _) = once_only(tx, once, async |tx| Ok((make(tx).await?, ()))).await?;
            show(tx, id).await
        })
        .await
    }

    /// As [`create`](Self::create), for what `make` can show already: `show` renders it only where the request is repeated.
    ///
    /// # Errors
    /// As [`create`](Self::create).
    pub async fn create_shown<T>(
        &self,
        credentials: &Credentials,
        once: &IdempotencyKey,
        make: impl AsyncFn(&mut Tx<'_>) -> Result<(Uuid, T)>,
        show: impl AsyncFn(&mut Tx<'_>, Uuid) -> Result<T>,
    ) -> Result<T> {
        self.creating(credentials, once, async |tx| {
            let (id, shown) = once_only(tx, once, &make).await?;
            match shown {
                Some(shown) => Ok(shown),
                None => show(tx, id).await,
            }
        })
        .await
    }

    /// As [`create`](Self::create), for what is shown together with a secret that is kept nowhere. A repetition gets none.
    ///
    /// # Errors
    /// As [`create`](Self::create).
    pub async fn create_with_secret<T, S>(
        &self,
        credentials: &Credentials,
        once: &IdempotencyKey,
        make: impl AsyncFn(&mut Tx<'_>) -> Result<(Uuid, S)>,
        show: impl AsyncFn(&mut Tx<'_>, Uuid) -> Result<T>,
    ) -> Result<(T, Option<S>)> {
        self.creating(credentials, once, async |tx| {
            let (id, secret) = once_only(tx, once, &make).await?;
            Ok((show(tx, id).await?, secret))
        })
        .await
    }

    /// As [`create`](Self::create), for what takes long to show: it is committed first, so that nobody waits for the
    /// locks of `make` meanwhile, and shown as a reading of its own. When that fails, what was made stays, and repeating
    /// the request shows it.
    ///
    /// # Errors
    /// As [`create`](Self::create).
    pub async fn create_then_show<T>(
        &self,
        credentials: &Credentials,
        once: &IdempotencyKey,
        make: impl AsyncFn(&mut Tx<'_>) -> Result<Uuid>,
        show: impl AsyncFn(&mut Tx<'_>, Uuid) -> Result<T>,
    ) -> Result<T> {
        let id = self.creating(credentials, once, async |tx| {
            let (id, _) = once_only(tx, once, async |tx| Ok((make(tx).await?, ()))).await?;
            Ok(id)
        });
        let id = id.await?;
        self.read(credentials, async |tx| show(tx, id).await).await
    }
}

/// What `make` made, now or when the key was used first.
async fn once_only<S>(
    tx: &mut Tx<'_>,
    once: &IdempotencyKey,
    make: impl AsyncFn(&mut Tx<'_>) -> Result<(Uuid, S)>,
) -> Result<(Uuid, Option<S>)> {
    let principal = tx.actor()?.holder().0;
    let earlier = match tx.earlier.take() {
        Some(looked_up) => looked_up?,
        None => idempotency::earlier(tx.conn(), principal, once).await?,
    };
    if let Some(made) = earlier {
        return Ok((made, None));
    }
    let (id, secret) = make(tx).await?;
    tx.made = Some(Made { principal, once: once.clone(), id, at: tx.now() });
    Ok((id, Some(secret)))
}

async fn finish<T>(mut tx: Tx<'_>, work: &impl AsyncFn(&mut Tx<'_>) -> Result<T>) -> Result<T> {
    let answer = match work(&mut tx).await {
        Ok(answer) => journal::write(&mut tx).await.map(|()| answer),
        Err(error) => Err(error),
    };
    let answer = match answer {
        Ok(answer) => match AnsiTransactionManager::commit_transaction(&mut tx.conn.pg).await {
            Ok(()) => return Ok(answer),
            Err(error) => Err(error.into()),
        },
        Err(error) => {
            // A connection whose rollback fails is thrown away by the pool, and Postgres rolls back by itself.
            AnsiTransactionManager::rollback_transaction(&mut tx.conn.pg).await.ok();
            Err(error)
        }
    };
    answer.map_err(|error: Error| error.told(tx.conn.last_error.take().as_ref()))
}
