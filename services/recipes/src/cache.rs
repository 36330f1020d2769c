//! Cache of frozen revisions and rendered recipes, keyed by content digest. Entries need no invalidation: a digest
//! never names other content. Entries are sealed; only a proof for the same digest opens them.

use std::sync::Arc;

use canonical::Sha;
use formulary::{Facts, FrozenRevision, load_frozen};
use policy::Rules;
use quick_cache::sync::Cache;
use release::{Record, Released, Rendered, Sealed, entries};
use store::{Error, Result, Tx};
use uuid::Uuid;

use crate::face::Face;
use crate::stored::Recipe;

/// Key of a rendered recipe: digests of the revision and of the caution set, number of the set, and version of the
/// policy. The number is needed because the digest leaves out notes; the version because the recipe shows the notice.
pub(crate) type Names = (Sha, Sha, i32, i32);

/// The most cached revisions. With the recipes they take some tens of megabytes at most.
const REVISIONS: usize = 500;
/// The most cached recipes.
const RECIPES: usize = 500;
/// The most cached recipes of batches: a class at the bench, and those who made something today.
const BATCHES: usize = 200;
/// The most cached versions of the policy.
const POLICIES: usize = 16;

/// The cache of one process.
pub struct RecipeCache {
    revisions: Cache<Sha, Sealed<FrozenRevision>>,
    recipes: Cache<Names, Sealed<Rendered>>,
    faces: Cache<Names, Arc<Face>>,
    asked: Cache<Uuid, Sealed<Recipe>>,
    rules: Cache<i32, Arc<Rules>>,
}

impl Default for RecipeCache {
    fn default() -> Self {
        Self {
            revisions: Cache::new(REVISIONS),
            recipes: Cache::new(RECIPES),
            faces: Cache::new(RECIPES),
            asked: Cache::new(BATCHES),
            rules: Cache::new(POLICIES),
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

    /// The recipe that a batch was opened with, which never changes, for whoever may read its record.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the stored recipe is not the one that the batch was opened with.
    pub async fn asked<'t>(&self, tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Released<Arc<Recipe>>> {
        let batch = record.batch().0;
        if let Some(known) = self.asked.get(&batch) {
            return known.open(record);
        }
        let asked = entries::asked::<Recipe>(tx, record).await?;
        self.asked.insert(batch, asked.clone());
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
}
