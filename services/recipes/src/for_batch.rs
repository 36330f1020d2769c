//! The recipe that a batch is opened with.

use formulary::gate::Passed;
use judgement::figures::Detail;
use release::{ForRules, Grant, Released, grants};
use store::{Result, Tx};
use wire::recipe::MakeFor;

use crate::by_loss;
use crate::cache::RecipeCache;
use crate::face::face;
use crate::leaves;
use crate::stored::Recipe;
use crate::work::{levels, worked_recipe};

/// Scales a revision to the requested quantity, for the holder of a grant, as a batch that is opened with it stores it:
/// explained, and without what tells amounts of nested preparations, since whoever reads the record later may hold no
/// grant for these. `prefix` is that of the fields of `ask`.
///
/// # Errors
/// Returns [`store::Error::Invalid`] at the field of `ask` that cannot be read or cannot be met, or whose answer reveals amounts
/// of nested revisions to a caller without a grant for each. Returns [`store::Error::Internal`] if the frozen content does not match the digest of the grant.
pub async fn work_out<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    passed: &Passed<'t>,
    ask: &MakeFor,
    prefix: &'static str,
) -> Result<Released<Recipe>> {
    let frozen = cache.frozen(tx, &passed.facts, passed.grant.digest()).await?.open(&passed.grant)?;
    let face = face(tx, passed).await?;
    let asked = face.asked(ask, prefix)?;
    let levels = levels(tx, &asked, passed).await?;
    if let Some(levels) = &levels {
        let read: Vec<&Grant<'_>> = levels.nested().iter().collect();
        grants::record_first_read(tx, &read).await?;
    }
    let levels = levels.as_ref();
    let by_loss = by_loss::planned(tx, passed, frozen.content(), &face, &asked, levels).await?;
    let reference = tx.reference;
    frozen.try_map(|frozen| {
        let worked = worked_recipe(reference, &frozen, &face, ask, &asked, levels, Detail::Explained)?;
        let mut worked = by_loss.told_in(worked);
        leaves::close(&mut worked.recipe);
        Ok(Recipe::of(worked, face.cautions, by_loss.raised))
    })
}
