//! Frozen content kept in memory by its digest: it can never be stale.

use std::sync::Arc;

use quick_cache::sync::Cache;

use super::assemble::Assembled;
use super::released::Rendered;
use canonical::Sha;
use judgement::Written;

/// A frozen revision with everything needed to work it out for a quantity.
pub(super) struct FrozenRevision {
    pub(super) written: Written,
    pub(super) assembled: Assembled,
}

/// What names a rendered recipe: the digests of the revision and of the caution set, the number of the set, since notes
/// are not in its digest, and the version of the clinic's policy, whose notice stands in it.
pub(super) type Names = (Sha, Sha, i32, i32);

/// How many revisions, and how many rendered recipes, are kept: some tens of megabytes at the most.
const REVISIONS: usize = 500;
const RECIPES: usize = 500;

/// The memory of frozen content.
pub(crate) struct Frozen {
    revisions: Cache<Sha, Arc<FrozenRevision>>,
    recipes: Cache<Names, Arc<Rendered>>,
}

impl Frozen {
    pub(crate) fn new() -> Self {
        Self { revisions: Cache::new(REVISIONS), recipes: Cache::new(RECIPES) }
    }

    pub(super) fn revision(&self, digest: &Sha) -> Option<Arc<FrozenRevision>> {
        self.revisions.get(digest)
    }

    pub(super) fn keep_revision(&self, digest: Sha, revision: Arc<FrozenRevision>) {
        self.revisions.insert(digest, revision);
    }

    /// The recipe of an approved revision in its own quantity.
    pub(super) fn recipe(&self, names: &Names) -> Option<Arc<Rendered>> {
        self.recipes.get(names)
    }

    pub(super) fn keep_recipe(&self, names: Names, recipe: Arc<Rendered>) {
        self.recipes.insert(names, recipe);
    }
}
