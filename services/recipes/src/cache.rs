//! Cache of frozen revisions and rendered recipes, keyed by content digest. Entries need no invalidation: a digest
//! never names other content. Entries are sealed; only a proof for the same digest opens them.

use std::sync::Arc;

use canonical::Sha;
use formulary::{Facts, FrozenRevision, load_frozen};
use policy::Rules;
use quick_cache::Weighter;
use quick_cache::sync::Cache;
use release::lookup::Names;
use release::{Record, Released, Rendered, Sealed, entries};
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::ids::BatchId;

use crate::face::Face;
use crate::stored::Recipe;

// Names are the key of a rendered recipe. The number of the caution set is needed because its digest leaves out notes;
// the version of the policy because the recipe shows the notice.

/// The most cached revisions. With the recipes they take some tens of megabytes at most.
const REVISIONS: usize = 500;
/// The most cached recipes.
const RECIPES: usize = 500;
/// The most cached recipes of batches: a class at the bench, and those who made something today.
const BATCHES: usize = 200;
/// The most cached versions of the policy.
const POLICIES: usize = 16;

/// The most bytes of recipes for asked quantities: some thousands of usual recipes.
const QUANTITIES: u64 = 16 << 20;

/// A rendered recipe for an asked quantity, by its names and by what was asked; with its length in bytes.
type Quantities = Cache<(Names, Box<str>), (u64, Sealed<Rendered>), ByLength>;

#[derive(Clone)]
struct ByLength;

impl Weighter<(Names, Box<str>), (u64, Sealed<Rendered>)> for ByLength {
    fn weight(&self, (_, ask): &(Names, Box<str>), (length, _): &(u64, Sealed<Rendered>)) -> u64 {
        // The names, and what the cache itself needs for an entry.
        length + u64::try_from(ask.len()).unwrap_or(u64::MAX) + 200
    }
}

/// The cache of one process.
pub struct RecipeCache {
    revisions: Cache<Sha, Sealed<FrozenRevision>>,
    recipes: Cache<Names, Sealed<Rendered>>,
    faces: Cache<Names, Arc<Face>>,
    /// By batch, and by the adjustment whose recipe holds.
    asked: Cache<(Uuid, Option<Uuid>), Sealed<Recipe>>,
    rules: Cache<i32, Arc<Rules>>,
    /// By batch, and by whether the reader may read every level.
    records: Cache<(Uuid, bool), Sealed<Rendered>>,
    quantities: Quantities,
}

impl Default for RecipeCache {
    fn default() -> Self {
        Self {
            revisions: Cache::new(REVISIONS),
            recipes: Cache::new(RECIPES),
            faces: Cache::new(RECIPES),
            asked: Cache::new(BATCHES),
            rules: Cache::new(POLICIES),
            records: Cache::new(BATCHES),
            quantities: Cache::with_weighter(4000, QUANTITIES, ByLength),
        }
    }
}

impl RecipeCache {
    /// The frozen revision with this digest, sealed, from the cache or the database.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the content of the revision does not match its digest, or if `digest` is that of
    /// another revision.
    pub async fn frozen(
        &self,
        tx: &mut Tx<'_>,
        facts: &Facts,
        digest: &Sha,
    ) -> Result<Sealed<FrozenRevision>> {
        if let Some(known) = self.revisions.get(digest) {
            return Ok(known);
        }
        let frozen = load_frozen(tx, facts).await?;
        if frozen.digest() != digest {
            return Err(Error::internal("a batch or a grant names another digest than its revision has"));
        }
        self.revisions.insert(*digest, frozen.clone());
        Ok(frozen)
    }

    /// The frozen revision with this digest, sealed, if it is here.
    pub(crate) fn known(&self, digest: &Sha) -> Option<Sealed<FrozenRevision>> {
        self.revisions.get(digest)
    }

    /// The recipe of a batch, as it was opened with or as it was adjusted since, for whoever may read its record. Neither changes.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the stored recipe is not the one that the batch was opened with.
    pub async fn asked<'t>(&self, tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Released<Arc<Recipe>>> {
        let of = (record.batch().0, record.row().adjusted_by);
        if let Some(known) = self.asked.get(&of) {
            return known.open(record);
        }
        let asked = entries::asked::<Recipe>(tx, record).await?;
        self.asked.insert(of, asked.clone());
        asked.open(record)
    }

    /// The rules of a version of the policy, which never change.
    ///
    /// # Errors
    /// Returns the errors of the database.
    pub async fn rules(&self, tx: &mut Tx<'_>, version: i32) -> Result<Arc<Rules>> {
        if let Some(known) = self.rules.get(&version) {
            return Ok(known);
        }
        let rules = Arc::new(policy::rules_of(tx, version).await?);
        self.rules.insert(version, Arc::clone(&rules));
        Ok(rules)
    }

    /// What stands in a recipe beside the frozen content, if it is here. It is open to whoever may see the revision.
    pub(crate) fn face(&self, names: &Names) -> Option<Arc<Face>> {
        self.faces.get(names)
    }

    /// Adds a face.
    pub(crate) fn keep_face(&self, names: Names, face: Arc<Face>) {
        self.faces.insert(names, face);
    }

    /// The rendered recipe of an approved revision in its own quantity.
    pub(crate) fn recipe(&self, names: &Names) -> Option<Sealed<Rendered>> {
        self.recipes.get(names)
    }

    /// Adds a rendered recipe.
    pub(crate) fn keep_recipe(&self, names: Names, recipe: Sealed<Rendered>) {
        self.recipes.insert(names, recipe);
    }

    /// The rendered recipe for an asked quantity.
    pub(crate) fn quantity(&self, of: &(Names, Box<str>)) -> Option<Sealed<Rendered>> {
        self.quantities.get(of).map(|(_, recipe)| recipe)
    }

    /// Adds a rendered recipe for an asked quantity, of so many bytes.
    pub(crate) fn keep_quantity(&self, of: (Names, Box<str>), length: u64, recipe: Sealed<Rendered>) {
        self.quantities.insert(of, (length, recipe));
    }

    /// The rendered record of a batch for a reader of every level or of some, in the state in which it was read last.
    pub fn record(&self, batch: BatchId, every_level: bool) -> Option<Sealed<Rendered>> {
        self.records.get(&(batch.0, every_level))
    }

    /// Adds a rendered record in the place of an earlier state.
    pub fn keep_record(&self, batch: BatchId, every_level: bool, record: Sealed<Rendered>) {
        self.records.insert((batch.0, every_level), record);
    }

    /// Forgets every record: a person's name changed, which stands in the records that they had a part in.
    pub fn forget_records(&self) {
        self.records.clear();
    }
}
