//! Use cases: one function for each request, in one transaction whose first statement verifies the caller.
//!
//! Combines the effects of a request on several subjects, each of which is a crate of its own. The crates that answer
//! requests depend on this one and see no subject. May use every subject. Never here: HTTP, pages, or a query that
//! belongs to one subject.

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
pub use store::{
    Clock, Connections, Credentials, Error, IdempotencyKey, PoolSettings, Result, Rng, Versioned, connect,
};

/// The shared state of all use cases: database pool, password hasher and recipe cache.
pub struct Clinic {
    store: Arc<Store>,
    passwords: Passwords,
    recipes: RecipeCache,
}

impl Clinic {
    /// Opens the clinic on a migrated database.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the pool cannot be built from `settings`.
    pub fn open(settings: &PoolSettings, clock: Clock, rng: Rng) -> Result<Self> {
        let store = Store::open(settings, clock, rng)?;
        Ok(Self {
            passwords: Passwords::new(&store.rng)?,
            store: Arc::new(store),
            recipes: RecipeCache::default(),
        })
    }

    /// As [`open`](Self::open), with the given reference data instead of the embedded edition.
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

    /// The clock of the service.
    #[must_use]
    pub fn clock(&self) -> &Clock {
        &self.store.clock
    }

    /// The random number generator of the service.
    #[must_use]
    pub fn rng(&self) -> &Rng {
        &self.store.rng
    }

    /// Starts a read batcher on the worker that calls this.
    ///
    /// # Panics
    /// Outside a Tokio `LocalSet`, because the task stays on the thread of its worker.
    #[must_use]
    pub fn reader(&self) -> ReadBatcher {
        ReadBatcher::new(Arc::clone(&self.store))
    }

    /// How many database connections the pool has now.
    #[must_use]
    pub fn connections(&self) -> Connections {
        self.store.connections()
    }

    /// Checks that the database answers.
    ///
    /// # Errors
    /// Returns [`Error::Unavailable`] if it does not.
    pub async fn ready(&self) -> Result<()> {
        self.store.ready().await
    }
}
