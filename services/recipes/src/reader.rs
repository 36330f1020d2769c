//! A worker's own connection for reads: whatever is asked while an answer is on its way goes together in the next
//! statement.

use std::sync::Arc;

use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use store::{Error, Result, Store};
use tokio::sync::{mpsc, oneshot};

use crate::safety::{Ask, Found, doors};

/// How many questions go in one statement at most: enough that the statement costs little by question, and few enough
/// that nobody waits for a crowd.
const TOGETHER: usize = 64;

/// How many questions may wait; whoever comes when they do goes the slow way.
const WAITING: usize = 1024;

/// The shared connection did not answer: the slow way finds out what is wrong.
pub(crate) struct Silent;

type Answer = std::result::Result<Option<Found>, Silent>;

type Question = (Ask, oneshot::Sender<Answer>);

/// A worker's reading connection. Opened when first needed, and again after it was lost.
pub struct Reader(mpsc::Sender<Question>);

impl Reader {
    /// A reader for the worker that this is called on.
    ///
    /// # Panics
    /// Outside a worker, whose tasks stay on its thread.
    #[must_use]
    pub fn new(clinic: Arc<Store>) -> Self {
        let (questions, asked) = mpsc::channel(WAITING);
        tokio::task::spawn_local(answer(clinic, asked));
        Self(questions)
    }

    /// The door that a caller stands before; none when the session or the key has ended.
    pub(crate) async fn ask(&self, ask: Ask) -> Answer {
        let (tell, told) = oneshot::channel();
        if let Err(error) = self.0.try_send((ask, tell)) {
            tracing::warn!(%error, "no more questions are taken");
            return Err(Silent);
        }
        told.await.unwrap_or(Err(Silent))
    }
}

/// Answers questions until there is nobody left to ask.
async fn answer(clinic: Arc<Store>, mut asked: mpsc::Receiver<Question>) {
    let mut conn = None;
    let mut together = Vec::with_capacity(TOGETHER);
    while asked.recv_many(&mut together, TOGETHER).await > 0 {
        // A caller who has gone needs no answer.
        together.retain(|(_, caller)| !caller.is_closed());
        let (questions, callers): (Vec<Ask>, Vec<_>) = together.drain(..).unzip();
        match answers(&clinic, &mut conn, &questions).await {
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
    questions: &[Ask],
) -> Result<Vec<Option<Found>>> {
    let conn = match conn {
        Some(conn) => conn,
        none => none.insert(open(clinic).await?),
    };
    let statement = doors(conn, questions, store.clock.now());
    // No longer than for a connection of the pool, which is where the slow way asks.
    tokio::time::timeout(clinic.wait(), statement).await.map_err(|slow| Error::Unavailable(slow.into()))?
}

async fn open(store: &Store) -> Result<AsyncPgConnection> {
    let mut conn = clinic.reading_connection().await?;
    // One statement runs here. Planned once, since planning costs more than finding a row by its key; and by its keys
    // whatever the tables' size was when it was planned.
    conn.batch_execute("SET plan_cache_mode = force_generic_plan; SET enable_seqscan = off").await?;
    Ok(conn)
}
