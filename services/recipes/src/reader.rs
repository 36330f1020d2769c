//! Per-worker read connection that batches grant lookups: requests that arrive while a query runs are sent together in
//! the next query.

use std::sync::Arc;

use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use store::{Error, Result, Store};
use tokio::sync::{mpsc, oneshot};

use release::lookup::{Known, Lookup, lookup};

/// How many questions go in one statement at most: enough that the statement costs little by question, and few enough
/// that nobody waits for a crowd.
const MAX_BATCH_SIZE: usize = 64;

/// Queue capacity. Further requests use a pool connection, so that a stalled query delays a bounded number of readers.
const QUEUE_CAPACITY: usize = 1024;

/// The batched lookup failed or was not queued. The caller must repeat the read on a pool connection, which reports the
/// cause.
pub(crate) struct BatchReadFailed;

type Answer = std::result::Result<Option<Known>, BatchReadFailed>;

type Question = (Lookup, oneshot::Sender<Answer>);

/// A worker's reading connection. Opened when first needed, and again after it was lost.
pub struct Reader(mpsc::Sender<Question>);

impl Reader {
    /// A reader for the worker that this is called on.
    ///
    /// # Panics
    /// Outside a worker, whose tasks stay on its thread.
    #[must_use]
    pub fn new(store: Arc<Store>) -> Self {
        let (questions, asked) = mpsc::channel(QUEUE_CAPACITY);
        tokio::task::spawn_local(answer(store, asked));
        Self(questions)
    }

    /// The door that a caller stands before; none when the session or the key has ended.
    pub(crate) async fn ask(&self, ask: Lookup) -> Answer {
        let (tell, told) = oneshot::channel();
        if let Err(error) = self.0.try_send((ask, tell)) {
            tracing::warn!(%error, "read batch queue is full or closed");
            return Err(BatchReadFailed);
        }
        told.await.unwrap_or(Err(BatchReadFailed))
    }
}

/// Answers questions until there is nobody left to ask.
async fn answer(store: Arc<Store>, mut asked: mpsc::Receiver<Question>) {
    let mut conn = None;
    let mut together = Vec::with_capacity(MAX_BATCH_SIZE);
    while asked.recv_many(&mut together, MAX_BATCH_SIZE).await > 0 {
        // A caller who has gone needs no answer.
        together.retain(|(_, caller)| !caller.is_closed());
        let (questions, callers): (Vec<Lookup>, Vec<_>) = together.drain(..).unzip();
        match answers(&store, &mut conn, &questions).await {
            Ok(answers) => {
                callers.into_iter().zip(answers).for_each(|(caller, answer)| drop(caller.send(Ok(answer))));
            }
            Err(error) => {
                tracing::warn!(%error, cause = ?std::error::Error::source(&error), "the shared connection did not answer");
                conn = None;
                drop(callers);
                // Nobody waits for it a second time: all who are in line go the slow way, and the next opens another.
                while asked.try_recv().is_ok() {}
            }
        }
    }
}

async fn answers(
    store: &Store,
    conn: &mut Option<AsyncPgConnection>,
    questions: &[Lookup],
) -> Result<Vec<Option<Known>>> {
    let conn = match conn {
        Some(conn) => conn,
        none => none.insert(open(store).await?),
    };
    let statement = lookup(conn, questions, store.clock.now());
    // No longer than for a connection of the pool, which is where the slow way asks.
    tokio::time::timeout(store.wait(), statement).await.map_err(|slow| Error::Unavailable(slow.into()))?
}

async fn open(store: &Store) -> Result<AsyncPgConnection> {
    let mut conn = store.reading_connection().await?;
    // One statement runs here. Planned once, since planning costs more than finding a row by its key; and by its keys
    // whatever the tables' size was when it was planned.
    conn.batch_execute("SET plan_cache_mode = force_generic_plan; SET enable_seqscan = off").await?;
    Ok(conn)
}
