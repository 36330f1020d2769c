//! The use cases: one function a request, one transaction, whose first statement proves the caller.
//!
//! For: what a request does, said once, and the places where effects on several subjects meet in one transaction. The
//! subjects are crates of their own; those who answer requests see only the functions here. May use: every subject.
//! What never happens here: HTTP, pages, or a query that belongs to one subject.

use std::sync::Arc;

use ::people::Passwords;
use ::recipes::RecipeCache;
use materia::Materia;
use store::Store;

pub mod amendments;
pub mod bench;
pub mod calculations;
pub mod edition;
pub mod formulary;
pub mod journal;
pub mod materials;
pub mod people;
pub mod policy;
pub mod recipes;

pub use ::recipes::ReadBatcher;
pub use release::{Released, ReleasedRecipe};
pub use store::{Claim, Clock, Error, Once, PoolSettings, Result, Rng, Versioned, connect};

/// The clinic: what every use case works with.
pub struct Clinic {
    store: Arc<Store>,
    passwords: Passwords,
    recipes: RecipeCache,
}

impl Clinic {
    /// Opens the clinic on a migrated database.
    ///
    /// # Errors
    /// [`Error::Internal`] if the pool cannot be built from `settings`.
    pub fn open(settings: &PoolSettings, clock: Clock, rng: Rng) -> Result<Self> {
        let store = Store::open(settings, clock, rng)?;
        Ok(Self {
            passwords: Passwords::new(&store.rng)?,
            store: Arc::new(store),
            recipes: RecipeCache::default(),
        })
    }

    /// As [`open`](Self::open), with other reference data than those built in.
    ///
    /// # Errors
    /// As [`open`](Self::open).
    pub fn open_with_reference(
        settings: &PoolSettings,
        clock: Clock,
        rng: Rng,
        reference: Materia,
    ) -> Result<Self> {
        let mut store = Store::open(settings, clock, rng)?;
        store.reference = reference;
        Ok(Self {
            passwords: Passwords::new(&store.rng)?,
            store: Arc::new(store),
            recipes: RecipeCache::default(),
        })
    }

    /// The one clock.
    #[must_use]
    pub fn clock(&self) -> &Clock {
        &self.store.clock
    }

    /// The one source of randomness.
    #[must_use]
    pub fn rng(&self) -> &Rng {
        &self.store.rng
    }

    /// A read batcher for the worker that this is called on.
    ///
    /// # Panics
    /// Outside a worker, whose tasks stay on its thread.
    #[must_use]
    pub fn reader(&self) -> ReadBatcher {
        ReadBatcher::new(Arc::clone(&self.store))
    }

    /// Whether the database answers.
    ///
    /// # Errors
    /// When it does not.
    pub async fn ready(&self) -> Result<()> {
        self.store.ready().await
    }
}
