//! Calculations off the executor: on blocking threads, as many at once as there are cores, each with a limit on its time.
//!
//! A worker of the executor serves many requests, so that none may hold it for the length of a calculation. What passes the
//! limit, or whose caller has gone, is really stopped: the calculation looks at its signal at every line, and ends. Never
//! here: a calculation of its own.

use std::sync::Arc;
use std::time::Duration;

use judgement::interrupt::{Stop, within};
use tokio::sync::Semaphore;
use tokio::time::{Instant, timeout_at};

use crate::error::{Error, Result};

/// The limit where none is set.
const USUAL: Duration = Duration::from_secs(5);

/// Where calculations run.
#[derive(Clone, Debug)]
pub struct Calculations {
    at_once: Arc<Semaphore>,
    limit: Duration,
}

/// Sets the signal when it is dropped: whoever waited has gone, or has waited long enough.
struct StopOnDrop(Stop);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.set();
    }
}

impl Default for Calculations {
    fn default() -> Self {
        Self::limited_to(USUAL)
    }
}

impl Calculations {
    /// As many at once as there are cores, each answered within `limit`, which counts from when it was asked for.
    #[must_use]
    pub fn limited_to(limit: Duration) -> Self {
        let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        Self { at_once: Arc::new(Semaphore::new(cores)), limit }
    }

    /// Runs a calculation on a thread of its own.
    ///
    /// # Errors
    /// What `work` answers; [`Error::TookTooLong`] when the limit passes before it is done, and [`Error::Internal`] when it
    /// panics. A calculation that is stopped gives its place back as soon as it looks at its signal.
    pub async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> Result<T> + Send + 'static,
    ) -> Result<T> {
        let too_long = || Error::TookTooLong { limit: self.limit };
        let until = Instant::now() + self.limit;
        let place = timeout_at(until, Arc::clone(&self.at_once).acquire_owned());
        let place = place.await.map_err(|_| too_long())?.map_err(|closed| Error::Internal(closed.into()))?;
        let guard = StopOnDrop(Stop::default());
        let (stop, span) = (guard.0.clone(), tracing::Span::current());
        if self.limit.is_zero() {
            stop.set();
        }
        let task = tokio::task::spawn_blocking(move || {
            let _place = place;
            span.in_scope(|| within(&stop, work))
        });
        match timeout_at(until, task).await {
            // With no time at all the calculation itself says that it was stopped, so that this is tried in the tests.
            Err(_) => Err(too_long()),
            Ok(Err(fault)) => Err(Error::Internal(fault.into())),
            Ok(Ok(Err(Error::TookTooLong { .. }))) => Err(too_long()),
            Ok(Ok(answer)) => answer,
        }
    }
}

#[cfg(test)]
mod tests {
    use judgement::interrupt::visit;

    use super::*;

    /// One place, so that a calculation that goes on keeps every other one out.
    fn one_place(limit: Duration) -> Calculations {
        Calculations { at_once: Arc::new(Semaphore::new(1)), limit }
    }

    fn endless() -> Result<()> {
        loop {
            visit().map_err(judgement::Error::from)?;
        }
    }

    #[tokio::test]
    async fn an_endless_calculation_is_stopped_and_its_place_is_free() {
        let quick = one_place(Duration::from_millis(20));
        for _ in 0..3 {
            assert!(matches!(quick.run(endless).await, Err(Error::TookTooLong { .. })));
        }
        let patient = Calculations { limit: Duration::from_secs(60), ..quick };
        assert_eq!(
            patient.run(|| Ok(7)).await.unwrap(),
            7,
            "the thread has ended, and with it the place is free"
        );
    }

    #[tokio::test]
    async fn a_calculation_whose_caller_has_gone_is_stopped() {
        let patient = one_place(Duration::from_secs(60));
        let (begun, gone) = tokio::sync::oneshot::channel();
        let asked = patient.run(move || {
            begun.send(()).unwrap();
            endless()
        });
        // The future that ends second is dropped, as that of a request is when its caller goes.
        tokio::select! {
            _ = asked => panic!("it is endless"),
            told = gone => told.unwrap(),
        }
        assert_eq!(patient.run(|| Ok(7)).await.unwrap(), 7);
    }

    #[tokio::test]
    async fn no_time_is_no_calculation() {
        assert!(matches!(one_place(Duration::ZERO).run(endless).await, Err(Error::TookTooLong { .. })));
    }
}
