//! The evaluation of a frozen revision, with the share of every leaf.

use std::sync::Arc;

use formulary::gate::{self, Levels};
use judgement::evaluation::of_formula;
use judgement::figures::Detail;
use release::{ForRules, Released};
use store::{Credentials, Result, Store};
use wire::ids::RevisionId;
use wire::recipe::{CompositionBasis, Evaluation};

use crate::cache::RecipeCache;
use crate::read::noted;

/// The evaluation of a frozen revision. Requires a grant for every revision nested in it, because the shares of the
/// leaves reveal their amounts.
///
/// # Errors
/// Returns [`store::Error::GateClosed`] if one of these grants is missing.
pub async fn evaluation(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: RevisionId,
    basis: CompositionBasis,
    detail: Detail,
) -> Result<Released<Evaluation>> {
    let frozen = noted(store, credentials, id, Levels::Every, async |tx| {
        let passed = gate::open(tx, id).await?;
        let levels = gate::open_every_level(tx, &passed).await?;
        if !levels.was_read() {
            return Ok(None);
        }
        Ok(Some(cache.frozen(tx, &passed.facts, passed.grant.digest()).await?.open(&levels)?))
    })
    .await?;
    // Nothing more is read, so that no connection waits for the calculation.
    let reference = Arc::clone(&store.reference);
    let work =
        move || frozen.try_map(|it| Ok(of_formula(&reference, &it.written, &it.assembled, basis, detail)?));
    store.calculations.run(work).await
}
