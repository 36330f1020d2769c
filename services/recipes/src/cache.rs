//! Cache of frozen revisions and rendered recipes, keyed by content digest. Entries need no invalidation: a digest never
//! names other content. Everything in it is sealed, and opens only to a proof that names its digest.

use canonical::Sha;
use formulary::{Facts, FrozenRevision, load_frozen};
use quick_cache::sync::Cache;
use release::{Rendered, Sealed};
use store::{Error, Result, Tx};

/// What names a rendered recipe: the digests of the revision and of the caution set, the number of the set, since notes
/// are not in its digest, and the version of the clinic's policy, whose notice stands in it.
pub(crate) type Names = (Sha, Sha, i32, i32);

/// How many revisions, and how many rendered recipes, are kept: some tens of megabytes at the most.
const REVISIONS: usize = 500;
const RECIPES: usize = 500;

/// The cache of one process.
pub struct RecipeCache {
    revisions: Cache<Sha, Sealed<FrozenRevision>>,
    recipes: Cache<Names, Sealed<Rendered>>,
}

impl Default for RecipeCache {
    fn default() -> Self {
        Self { revisions: Cache::new(REVISIONS), recipes: Cache::new(RECIPES) }
    }
}

impl RecipeCache {
    /// The frozen revision that a grant or a batch names, from memory if it has been read before. It stays sealed.
    ///
    /// # Errors
    /// When frozen content does not match its digest.
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

    /// The recipe of an approved revision in its own quantity.
    pub(crate) fn recipe(&self, names: &Names) -> Option<Sealed<Rendered>> {
        self.recipes.get(names)
    }

    pub(crate) fn keep_recipe(&self, names: Names, recipe: Sealed<Rendered>) {
        self.recipes.insert(names, recipe);
    }
}
