//! Frozen revisions, assembled for calculation and sealed.

use judgement::{Assembled, Written};
use release::{Exit, Sealed, content};
use store::{Result, Tx};

use crate::assemble;
use crate::facts::Facts;

/// A frozen revision with everything needed to scale it.
pub struct FrozenRevision {
    /// The content as frozen.
    pub written: Written,
    /// The assembled formula, evaluated with the facts it was saved with.
    pub assembled: Assembled,
}

/// Reads a frozen revision and every revision nested in it, checks their digests, and returns it sealed.
///
/// # Errors
/// Returns [`store::Error::Internal`] if frozen content does not match its digest.
pub async fn load(tx: &mut Tx<'_>, facts: &Facts) -> Result<Sealed<FrozenRevision>> {
    let (formula, id) = (facts.formula, facts.id.0);
    content::sealed::<Written>(tx, facts.id)
        .await?
        .try_map(Exit::Evaluating, async |frozen| {
            let written = frozen.written.clone();
            let assembled = assemble::restored(tx, (formula, id), frozen).await?;
            Ok(FrozenRevision { written, assembled })
        })
        .await
}
