//! The questions that wait on a worker, and the connection that asks them.

use std::rc::Rc;
use std::sync::Arc;

use diesel_async::AsyncPgConnection;
use tokio::sync::{Mutex, mpsc, oneshot};

use super::question::{Ask, Gather, Known};
use crate::actor::{Credentials, PersonActor};
use crate::error::{Error, Result};
use crate::proof::{ENDED, KEY_NOT_KNOWN};
use crate::store::Store;
use crate::tx::Tx;

/// The most questions in one statement: enough to share the cost of a statement, few enough to keep each wait short.
const MAX_BATCH_SIZE: usize = 64;

/// Questions that may wait. Further ones use a connection of the pool, so that a stalled statement delays a bounded
/// number of readers.
const QUEUE_CAPACITY: usize = 1024;

type Answer<Q> = Option<Result<Option<Known<<Q as Gather>::Found>>>>;
type Waiting<Q> = (Ask<Q>, oneshot::Sender<Answer<Q>>);

/// The connection that a worker's gathered reads share. It is opened on first use, and again after a failure.
#[derive(Clone, Default)]
pub struct Line(Rc<Mutex<Option<AsyncPgConnection>>>);

/// The questions of one kind that wait on one worker.
pub struct Queue<Q: Gather> {
    store: Arc<Store>,
    questions: mpsc::Sender<Waiting<Q>>,
}

impl<Q: Gather> Queue<Q> {
    /// Starts a queue on the worker that calls this.
    ///
    /// # Panics
    /// Outside a Tokio `LocalSet`, because the task stays on the thread of its worker.
    #[must_use]
    pub fn new(store: Arc<Store>, line: Line) -> Self {
        let (questions, asked) = mpsc::channel(QUEUE_CAPACITY);
        tokio::task::spawn_local(serve::<Q>(Arc::clone(&store), line, asked));
        Self { store, questions }
    }

    /// Asks, together with others where there are some. Where that fails or too many wait already, the question is asked
    /// alone on a connection of the pool, which also reports the cause.
    ///
    /// # Errors
    /// [`Error::Unauthenticated`] when the session or key is not known or has ended, and the errors of the database.
    pub async fn ask(&self, credentials: &Credentials, question: Q) -> Result<Known<Q::Found>> {
        let ask = Ask { credentials: *credentials, question };
        match self.together(ask.clone()).await {
            Some(answer) => self.store.proved(credentials, answer?).await,
            None => self.store.ask(credentials, ask.question).await,
        }
    }

    /// None where nothing came of it.
    async fn together(&self, ask: Ask<Q>) -> Answer<Q> {
        let (tell, told) = oneshot::channel();
        if let Err(error) = self.questions.try_send((ask, tell)) {
            tracing::warn!(%error, "the queue of gathered reads is full or closed");
            return None;
        }
        told.await.ok().flatten()
    }
}

/// Runs statements until every sender is dropped.
async fn serve<Q: Gather>(store: Arc<Store>, line: Line, mut asked: mpsc::Receiver<Waiting<Q>>) {
    let mut together = Vec::with_capacity(MAX_BATCH_SIZE);
    while asked.recv_many(&mut together, MAX_BATCH_SIZE).await > 0 {
        // Whoever has hung up meanwhile is not asked for.
        together.retain(|(_, caller)| !caller.is_closed());
        let (questions, callers): (Vec<Ask<Q>>, Vec<_>) = together.drain(..).unzip();
        // The same limit as the wait for a connection of the pool, which the callers use after a failure.
        let statement = tokio::time::timeout(store.wait(), line.ask(&store, &questions));
        match statement.await.map_err(|slow| Error::Unavailable(slow.into())).flatten() {
            Ok(answers) => {
                callers.into_iter().zip(answers).for_each(|(caller, answer)| {
                    drop(caller.send(Some(Ok(answer))));
                });
            }
            Err(error) => {
                tracing::warn!(%error, cause = ?std::error::Error::source(&error), "a gathered read failed");
                drop(callers);
                // All who wait use a connection of the pool, so that nobody waits for a second timeout.
                while asked.try_recv().is_ok() {}
            }
        }
    }
}

impl Line {
    async fn ask<Q: Gather>(
        &self,
        store: &Store,
        questions: &[Ask<Q>],
    ) -> Result<Vec<Option<Known<Q::Found>>>> {
        let mut line = self.0.lock().await;
        // Taken out, so that one whose statement failed or was given up is never used again.
        let mut conn = match line.take() {
            Some(conn) => conn,
            None => store.reading_connection().await?,
        };
        let answers = Q::gather(&mut conn, questions, store.clock.now()).await?;
        *line = Some(conn);
        Ok(answers)
    }
}

impl Store {
    /// Asks alone, on a connection of the pool.
    ///
    /// # Errors
    /// [`Error::Unauthenticated`] when the session or key is not known or has ended, and the errors of the database.
    pub async fn ask<Q: Gather>(&self, credentials: &Credentials, question: Q) -> Result<Known<Q::Found>> {
        let ask = Ask { credentials: *credentials, question };
        let now = self.clock.now();
        let (_, answers) = self.first(async |conn| Q::gather(&mut conn.pg, &[ask], now).await).await?;
        self.proved(credentials, answers.into_iter().next().flatten()).await
    }

    async fn proved<F>(&self, credentials: &Credentials, found: Option<Known<F>>) -> Result<Known<F>> {
        let known = found.ok_or(match credentials {
            Credentials::Session { .. } => ENDED,
            Credentials::Key(_) => KEY_NOT_KNOWN,
        })?;
        if !known.use_noted {
            // Proving in a writing transaction notes it.
            self.write(credentials, async |_| Ok(())).await?;
        }
        Ok(known)
    }
}

impl Tx<'_> {
    /// Asks within this transaction, for the person who is calling.
    ///
    /// # Errors
    /// [`Error::Forbidden`] for an API client, and the errors of the database.
    pub async fn ask<Q: Gather>(&mut self, question: Q) -> Result<Q::Found> {
        let PersonActor { id: person, session, .. } = self.person()?;
        let ask = Ask { credentials: Credentials::Session { session, person }, question };
        let now = self.now();
        let answers = Q::gather(self.conn(), &[ask], now).await?;
        Ok(answers.into_iter().next().flatten().ok_or(ENDED)?.found)
    }
}
