//! Use cases: one function for each request, in one transaction whose first statement verifies the caller.
//!
//! Combines the effects of a request on several subjects, each of which is a crate of its own. The crates that answer
//! requests depend on this one and see no subject. May use every subject. Never here: HTTP, pages, or a query that
//! belongs to one subject.

use std::sync::Arc;
use std::time::Duration;

use ::formulary::CautionCache;
use ::people::Passwords;
use ::people::security::Security;
use ::photographs::{Darkroom, Files};
use ::recipes::RecipeCache;
use materia::Materia;
use store::{Calculations, Store};

pub mod amendments;
pub mod bench;
pub mod calculations;
pub mod competencies;
pub mod edition;
pub mod formulary;
pub mod handovers;
pub mod jars;
pub mod journal;
pub mod long_work;
pub mod marking;
pub mod materials;
pub mod moderation;
pub mod named_records;
pub mod observations;
mod others;
pub mod overview;
pub mod people;
pub mod photographs;
pub mod policy;
pub mod progress;
pub mod reactions;
mod reader;
pub mod recalls;
pub mod recipes;
pub mod retention;
pub mod security;
pub mod stock;
pub mod teaching;
pub mod waiting;
pub mod work;

/// How much of a figure is told.
pub use judgement::figures::Detail;
pub use reader::Reader;
pub use release::{Released, ReleasedRecipe};
pub use store::page::ReadyPage;
pub use store::proof::KEY_NOT_KNOWN;
pub use store::{
    Clock, Connections, Credentials, Error, IdempotencyKey, PoolSettings, Ready, Result, Rng, Versioned,
    connect, login_defaults,
};

/// The shared state of all use cases: database pool, password hasher and recipe cache.
pub struct Clinic {
    store: Arc<Store>,
    passwords: Passwords,
    security: Security,
    recipes: RecipeCache,
    cautions: CautionCache,
    /// Where pages are set: apart from calculations, which nobody should wait for behind a sheet of labels.
    paper: Calculations,
    /// Where photographs are drawn anew.
    darkroom: Darkroom,
    /// Where their files are kept.
    files: Files,
    /// The address that the service is reached by, as codes on jars name it.
    public_address: Option<String>,
}

/// The folder of photographs where none is named.
const PHOTOGRAPHS: &str = "photographs";

/// The longest that a document takes.
const PAPER: Duration = Duration::from_secs(20);

impl Clinic {
    /// Opens the clinic on a migrated database.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the pool cannot be built from `settings`.
    pub fn open(settings: &PoolSettings, clock: Clock, rng: Rng) -> Result<Self> {
        Self::on(Store::open(settings, clock, rng)?)
    }

    fn on(store: Store) -> Result<Self> {
        Ok(Self {
            passwords: Passwords::new(&store.rng)?,
            security: Security::new(store.rng.bytes()),
            store: Arc::new(store),
            recipes: RecipeCache::default(),
            cautions: CautionCache::default(),
            paper: Calculations::limited_to(PAPER),
            darkroom: Darkroom::default(),
            files: Files::at(photographs::Home::Folder(PHOTOGRAPHS.into())),
            public_address: None,
        })
    }

    /// Sets a document off the executor, within its time.
    ///
    /// # Errors
    /// As [`Calculations::run`].
    pub async fn set_document<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> Result<T> + Send + 'static,
    ) -> Result<T> {
        self.paper.run(work).await
    }

    /// The same, with the files of photographs kept there.
    #[must_use]
    pub fn with_photographs(self, home: photographs::Home) -> Self {
        Self { files: Files::at(home), ..self }
    }

    /// The same, known by an address, such as `https://clinic.example`: codes on jars lead there. Without one they have none.
    #[must_use]
    pub fn with_public_address(self, address: Option<&str>) -> Self {
        Self { public_address: address.map(|address| address.trim_end_matches('/').to_owned()), ..self }
    }

    /// The address that the service is reached by, without a stroke at its end.
    #[must_use]
    pub fn public_address(&self) -> Option<&str> {
        self.public_address.as_deref()
    }

    /// The same, with a key for the digests in security events. Without it they can be compared within one process only.
    #[must_use]
    pub fn with_digest_key(self, key: [u8; 32]) -> Self {
        Self { security: Security::new(key), ..self }
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
        store.reference = Arc::new(reference);
        Self::on(store)
    }

    /// The same with a limit on the time of each calculation.
    #[must_use]
    pub fn with_calculations_within(mut self, limit: Duration) -> Self {
        if let Some(store) = Arc::get_mut(&mut self.store) {
            store.calculations = Calculations::limited_to(limit);
        }
        self
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

    /// Starts what gathers the reads of the worker that calls this.
    ///
    /// # Panics
    /// Outside a Tokio `LocalSet`, because its tasks stay on the thread of their worker.
    #[must_use]
    pub fn reader(&self) -> Reader {
        Reader::new(&self.store)
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
