//! Where photographs are drawn anew: off the executor, one at a time, so that memory stays bounded.
//!
//! A decoder cannot be stopped, so what bounds its time is the number of pixels.

use std::sync::Arc;

use store::{Error, Result};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::picture::{Developed, develop};

/// How many photographs are taken in at once: each holds up to 10 MB while it comes and waits.
const TAKEN_IN: usize = 8;

/// Where photographs are drawn anew.
#[derive(Clone, Debug)]
pub struct Darkroom {
    taken_in: Arc<Semaphore>,
    at_once: Arc<Semaphore>,
}

/// A place for a photograph, from before its first byte came until it is drawn.
#[derive(Debug)]
pub struct Place {
    _held: OwnedSemaphorePermit,
}

impl Default for Darkroom {
    fn default() -> Self {
        Self { taken_in: Arc::new(Semaphore::new(TAKEN_IN)), at_once: Arc::new(Semaphore::new(1)) }
    }
}

impl Darkroom {
    /// A place for a photograph that is about to come.
    ///
    /// # Errors
    /// Returns [`Error::FilesUnavailable`] while eight others have one.
    pub fn admit(&self) -> Result<Place> {
        let full = |_| Error::FilesUnavailable("eight photographs are being taken in".into());
        Ok(Place { _held: Arc::clone(&self.taken_in).try_acquire_owned().map_err(full)? })
    }

    /// Draws a photograph anew.
    ///
    /// # Errors
    /// As [`develop`], and [`Error::Internal`] when it panics.
    pub async fn develop(&self, place: Place, bytes: Vec<u8>) -> Result<Developed> {
        let turn = Arc::clone(&self.at_once).acquire_owned().await;
        let turn = turn.map_err(|closed| Error::Internal(closed.into()))?;
        let span = tracing::Span::current();
        let task = tokio::task::spawn_blocking(move || {
            // Kept until the thread has ended, also where whoever waited has gone.
            let _kept = (place, turn);
            span.in_scope(|| develop(&bytes))
        });
        task.await.map_err(|fault| Error::Internal(fault.into()))?
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn the_ninth_photograph_is_sent_again_later() {
        let darkroom = Darkroom::default();
        let mut places: Vec<Place> = (0..TAKEN_IN).map(|_| darkroom.admit().unwrap()).collect();
        assert!(matches!(darkroom.admit(), Err(Error::FilesUnavailable(_))));
        let place = places.pop().unwrap();
        assert!(matches!(darkroom.develop(place, b"nothing".to_vec()).await, Err(Error::Invalid(_))));
        assert!(darkroom.admit().is_ok(), "a refused photograph gives its place back");
    }
}
