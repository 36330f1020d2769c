//! A worker's own connection for reads: whatever is asked while an answer is on its way goes together in the next
//! statement.

use std::cell::RefCell;
use std::rc::Rc;
use std::sync::Arc;
use std::time::Duration;

use diesel_async::AsyncPgConnection;
use tokio::sync::{mpsc, oneshot};

use crate::safety::{Ask, Found, doors};
use crate::tx::Clinic;

/// How many questions go in one statement at most: enough that the statement costs little by question, and few enough
/// that nobody waits for a crowd.
const TOGETHER: usize = 64;

/// How long an answer may take before the connection is given up: longer than the database lets a statement run.
const PATIENCE: Duration = Duration::from_secs(12);

/// The shared connection did not answer: the slow way finds out what is wrong.
pub(crate) struct Silent;

type Answer = Result<Option<Found>, Silent>;

/// A worker's reading connection. Opened when first needed, and again after it was lost.
pub struct Reader {
    line: Rc<Line>,
    questions: mpsc::UnboundedSender<(Ask, oneshot::Sender<Answer>)>,
}

impl Reader {
    /// A reader for the worker that this is called on.
    ///
    /// # Panics
    /// Outside a worker, whose tasks stay on its thread.
    #[must_use]
    pub fn new(clinic: Arc<Clinic>) -> Self {
        let line = Rc::new(Line { clinic, conn: RefCell::default() });
        let (questions, asked) = mpsc::unbounded_channel();
        tokio::task::spawn_local(Rc::clone(&line).answer(asked));
        Self { line, questions }
    }

    /// The door that a session stands before; none when the session has ended.
    pub(crate) async fn ask(&self, ask: Ask) -> Answer {
        let (tell, told) = oneshot::channel();
        self.questions.send((ask, tell)).map_err(|_| Silent)?;
        told.await.unwrap_or(Err(Silent))
    }

    /// Runs a statement of its own on the shared connection.
    pub(crate) async fn run<T>(
        &self,
        statement: impl AsyncFnOnce(&AsyncPgConnection) -> diesel::QueryResult<T>,
    ) -> Result<T, Silent> {
        self.line.run(statement).await
    }
}

struct Line {
    clinic: Arc<Clinic>,
    conn: RefCell<Option<Rc<AsyncPgConnection>>>,
}

impl Line {
    /// Answers questions until there is nobody left to ask.
    async fn answer(self: Rc<Self>, mut asked: mpsc::UnboundedReceiver<(Ask, oneshot::Sender<Answer>)>) {
        let mut together = Vec::with_capacity(TOGETHER);
        while asked.recv_many(&mut together, TOGETHER).await > 0 {
            let (questions, callers): (Vec<Ask>, Vec<_>) = together.drain(..).unzip();
            let now = self.clinic.clock.now();
            let mut answers = match self.run(async |conn| doors(conn, &questions, now).await).await {
                Ok(answers) => answers.into_iter().map(Ok).collect(),
                Err(Silent) => Vec::new(),
            };
            // A caller who has gone needs no answer.
            answers.resize_with(callers.len(), || Err(Silent));
            callers.into_iter().zip(answers).for_each(|(caller, answer)| drop(caller.send(answer)));
        }
    }

    async fn run<T>(
        &self,
        statement: impl AsyncFnOnce(&AsyncPgConnection) -> diesel::QueryResult<T>,
    ) -> Result<T, Silent> {
        let answer = async {
            let conn = self.conn().await.ok_or(Silent)?;
            statement(&conn).await.map_err(|error| {
                tracing::warn!(%error, "the shared connection did not answer");
                Silent
            })
        };
        let answer = tokio::time::timeout(PATIENCE, answer).await.unwrap_or(Err(Silent));
        if answer.is_err() {
            // The next read opens another.
            self.conn.replace(None);
        }
        answer
    }

    async fn conn(&self) -> Option<Rc<AsyncPgConnection>> {
        if let Some(conn) = &*self.conn.borrow() {
            return Some(Rc::clone(conn));
        }
        match self.clinic.reading_connection().await {
            Ok(conn) => {
                let conn = Rc::new(conn);
                self.conn.replace(Some(Rc::clone(&conn)));
                Some(conn)
            }
            Err(error) => {
                tracing::warn!(%error, "no reading connection");
                None
            }
        }
    }
}
