//! Cache of frozen revisions and rendered recipes, keyed by content digest. Entries need no invalidation: a digest
//! never names other content. Entries are sealed; only a proof for the same digest opens them.

use canonical::Sha;
use formulary::{Facts, FrozenRevision, load_frozen};
use quick_cache::sync::Cache;
use release::{Rendered, Sealed};
use store::{Error, Result, Tx};

/// Key of a rendered recipe: digests of the revision and of the caution set, number of the set, and version of the
/// policy. The number is needed because the digest leaves out notes; the version because the recipe shows the notice.
pub(crate) type Names = (Sha, Sha, i32, i32);

/// The most cached revisions. With the recipes they take some tens of megabytes at most.
const REVISIONS: usize = 500;
/// The most cached recipes.
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

    /// The rendered recipe of an approved revision in its own quantity.
    pub(crate) fn recipe(&self, names: &Names) -> Option<Sealed<Rendered>> {
        self.recipes.get(names)
    }

    /// Adds a rendered recipe.
    pub(crate) fn keep_recipe(&self, names: Names, recipe: Sealed<Rendered>) {
        self.recipes.insert(names, recipe);
    }
}
