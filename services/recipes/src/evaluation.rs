//! The evaluation of a frozen revision, with the share of every leaf.

use formulary::gate;
use judgement::evaluation::of_formula;
use release::{ForRules, Released};
use store::{Credentials, Result, Store};
use wire::ids::RevisionId;
use wire::recipe::Evaluation;

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
) -> Result<Released<Evaluation>> {
    noted(store, credentials, id, true, async |tx| {
        let passed = gate::open(tx, id).await?;
        let levels = gate::open_every_level(tx, &passed).await?;
        if !levels.was_read() {
            return Ok(None);
        }
        let frozen = cache.frozen(tx, &passed.facts, passed.grant.digest()).await?.open(&levels)?;
        let reference = tx.reference;
        Ok(Some(frozen.try_map(|frozen| Ok(of_formula(reference, &frozen.written, &frozen.assembled)?))?))
    })
    .await
}
