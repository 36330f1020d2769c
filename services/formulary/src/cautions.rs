//! Reading the cautions of a revision.

use judgement::{Written, cautions};
use release::{Exit, ForRules, content};
use store::{Claim, Error, Result, Store, Tx};
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::safety::CautionSet;

use crate::facts::{Facts, visible};
use crate::present::present;
use crate::sets;

/// The cautions that a revision has, or that its author's draft would get if it were proposed now.
pub(crate) async fn of(tx: &mut Tx<'_>, facts: &Facts) -> Result<CautionSet> {
    if facts.digest.is_some() {
        return sets::current(tx, facts.id).await;
    }
    let author = tx.instructor()?;
    let draft = content::draft(tx, author, facts.id).await?.ok_or(Error::NotFound("draft"))?;
    let written = content::draft_content::<Written>(tx, &draft).await?;
    // What is said of cautions holds no computed figure, so the grants for what it is made from do not matter here.
    let nested = content::draft_nested::<Written>(tx, &draft, Exit::Cautions).await?;
    let found = present(tx, facts, written.content(), nested).await?.cautions;
    Ok(CautionSet {
        revision: facts.id,
        digest: hex::encode(cautions::digest(&found)),
        cautions: found.into_iter().map(|counted| counted.caution).collect(),
        notice: policy::rules(tx).await?.notice,
    })
}

/// The current caution set of a revision, or what its author's draft would be proposed with now: open to whoever may
/// know of the revision.
///
/// # Errors
/// When there is none such for the caller.
pub async fn cautions(store: &Store, claim: &Claim, id: RevisionId) -> Result<CautionSet> {
    store
        .read(claim, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let facts = visible(tx, id, false).await?;
            of(tx, &facts).await
        })
        .await
}
