//! Cache of frozen revisions and rendered recipes, keyed by content digest. Entries need no invalidation: a digest
//! never names other content. Entries are sealed; only a proof for the same digest opens them.

use std::sync::Arc;

use canonical::Sha;
use formulary::{Facts, FrozenRevision, load_frozen};
use quick_cache::sync::Cache;
use release::{Rendered, Sealed};
use store::{Error, Result, Tx};

use crate::face::Face;

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
    faces: Cache<Names, Arc<Face>>,
}

impl Default for RecipeCache {
    fn default() -> Self {
        Self { revisions: Cache::new(REVISIONS), recipes: Cache::new(RECIPES), faces: Cache::new(RECIPES) }
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
