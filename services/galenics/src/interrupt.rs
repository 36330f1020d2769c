//! Stopping a calculation from outside, and counting what it visits.
//!
//! A calculation runs on the thread that called it and returns when it is done. Whoever runs one that may take long runs
//! it [`within`] a [`Stop`]: once that is set, the next line that is visited answers [`Interrupted`], and the calculation
//! ends with an error. Results do not depend on it. Every loop over lines that may be long calls [`visit`] for each line.

use std::{
    cell::{Cell, RefCell},
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
};

use thiserror::Error;

/// A signal that ends a calculation. Copies are the same signal.
#[derive(Debug, Clone, Default)]
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    /// Ends every calculation that runs within this signal, now or later.
    pub fn set(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether it was set.
    #[must_use]
    pub fn is_set(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// The calculation was stopped from outside before it was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("The calculation took too long and was stopped. Try again later.")]
pub struct Interrupted;

thread_local! {
    static STOP: RefCell<Option<Stop>> = const { RefCell::new(None) };
    static VISITED: Cell<u64> = const { Cell::new(0) };
}

/// Puts the signal that held before back when a calculation ends, in whatever way it ends.
struct Before(Option<Stop>);

impl Drop for Before {
    fn drop(&mut self) {
        STOP.with(|stop| stop.replace(self.0.take()));
    }
}

/// Runs a calculation that ends early when `stop` is set.
pub fn within<T>(stop: &Stop, work: impl FnOnce() -> T) -> T {
    let _before = Before(STOP.with(|held| held.replace(Some(stop.clone()))));
    work()
}

/// Runs a calculation and counts the lines that it visits.
pub fn counted<T>(work: impl FnOnce() -> T) -> (T, u64) {
    let before = VISITED.get();
    let answer = work();
    (answer, VISITED.get().wrapping_sub(before))
}

/// Counts one visited line, and says whether the calculation may go on.
///
/// # Errors
/// [`Interrupted`] once the signal that the calculation runs within is set.
pub fn visit() -> Result<(), Interrupted> {
    VISITED.set(VISITED.get().wrapping_add(1));
    let stopped = STOP.with_borrow(|stop| stop.as_ref().is_some_and(Stop::is_set));
    if stopped { Err(Interrupted) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_calculation_ends_at_the_next_line_after_its_signal_and_others_go_on() {
        let stop = Stop::default();
        let (visited, count) = counted(|| {
            within(&stop, || {
                for line in 0.. {
                    if line == 3 {
                        stop.set();
                    }
                    if visit().is_err() {
                        return line;
                    }
                }
                0
            })
        });
        assert_eq!((visited, count), (3, 4));
        assert_eq!(visit(), Ok(()), "outside of it the signal says nothing");
    }
}
