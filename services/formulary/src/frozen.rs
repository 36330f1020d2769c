//! Frozen revisions, ready to be calculated with and sealed.

use judgement::{Assembled, Written};
use release::{Exit, Sealed, content};
use store::{Result, Tx};

use crate::assemble::{self, FactsAsOf};
use crate::facts::Facts;

/// A frozen revision with everything needed to work it out for a quantity.
pub struct FrozenRevision {
    /// What was written.
    pub written: Written,
    /// What it is made from, and how it comes out with the facts that it was written with.
    pub assembled: Assembled,
}

/// Reads a frozen revision and everything that it is made from, checked against their digests. It stays sealed.
///
/// # Errors
/// When frozen content does not match its digest.
pub async fn load(tx: &mut Tx<'_>, facts: &Facts) -> Result<Sealed<FrozenRevision>> {
    let formula = facts.formula;
    content::sealed::<Written>(tx, facts.id)
        .await?
        .try_map(Exit::Evaluating, async |frozen| {
            let written = frozen.written.clone();
            let nested = frozen.nested.clone();
            let assembled = assemble::with_facts(tx, formula, &written, nested, FactsAsOf::Writing).await?;
            Ok(FrozenRevision { written, assembled })
        })
        .await
}
