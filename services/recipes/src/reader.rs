//! Per-worker read connection that batches grant lookups: requests that arrive while a query runs are sent together in
//! the next query.

use std::sync::Arc;

use diesel_async::AsyncPgConnection;
use store::{Error, Result, Store};
use tokio::sync::{mpsc, oneshot};

use release::lookup::{Known, Lookup, lookup};

/// The most lookups in one statement: enough to share the cost of a statement, few enough to keep each wait short.
const MAX_BATCH_SIZE: usize = 64;

/// Queue capacity. Further requests use a pool connection, so that a stalled query delays a bounded number of readers.
const QUEUE_CAPACITY: usize = 1024;

/// The batched lookup failed or was not queued. The caller must repeat the read on a pool connection, which reports the
/// cause.
pub(crate) struct BatchReadFailed;

type Answer = std::result::Result<Option<Known>, BatchReadFailed>;

type Question = (Lookup, oneshot::Sender<Answer>);

/// The read batcher of one worker. Its connection is opened on first use, and again after a failure.
pub struct ReadBatcher(mpsc::Sender<Question>);

impl ReadBatcher {
    /// Starts a batcher on the worker that calls this.
    ///
    /// # Panics
    /// Outside a Tokio `LocalSet`, because the task stays on the thread of its worker.
    #[must_use]
    pub fn new(store: Arc<Store>) -> Self {
        let (questions, asked) = mpsc::channel(QUEUE_CAPACITY);
        tokio::task::spawn_local(answer(store, asked));
        Self(questions)
    }

    /// The credentials and grant that a lookup finds. `Ok(None)` if the session or the key has ended.
    ///
    /// # Errors
    /// Returns [`BatchReadFailed`] if the queue is full or closed, or if the statement failed.
    pub(crate) async fn ask(&self, ask: Lookup) -> Answer {
        let (tell, told) = oneshot::channel();
        if let Err(error) = self.0.try_send((ask, tell)) {
            tracing::warn!(%error, "read batch queue is full or closed");
            return Err(BatchReadFailed);
        }
        told.await.unwrap_or(Err(BatchReadFailed))
    }
}

/// Runs batches until every sender is dropped.
async fn answer(store: Arc<Store>, mut asked: mpsc::Receiver<Question>) {
    let mut conn = None;
    let mut together = Vec::with_capacity(MAX_BATCH_SIZE);
    while asked.recv_many(&mut together, MAX_BATCH_SIZE).await > 0 {
        // Lookups whose caller has disconnected are dropped.
        together.retain(|(_, caller)| !caller.is_closed());
        let (questions, callers): (Vec<Lookup>, Vec<_>) = together.drain(..).unzip();
        match answers(&store, &mut conn, &questions).await {
            Ok(answers) => {
                callers.into_iter().zip(answers).for_each(|(caller, answer)| drop(caller.send(Ok(answer))));
            }
            Err(error) => {
                tracing::warn!(%error, cause = ?std::error::Error::source(&error), "batched grant lookup failed");
                conn = None;
                drop(callers);
                // All queued callers use a pool connection, so that no caller waits for a second timeout.
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
        none => none.insert(store.reading_connection().await?),
    };
    let statement = lookup(conn, questions, store.clock.now());
    // The same limit as the wait for a pool connection, which the caller uses after a failure.
    tokio::time::timeout(store.wait(), statement).await.map_err(|slow| Error::Unavailable(slow.into()))?
}
