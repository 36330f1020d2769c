//! Reads of the cautions of a revision.

use judgement::{Written, cautions};
use release::{ForRules, content};
use store::{Credentials, Error, Result, Store, Tx};
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::safety::CautionSet;

use crate::draft::nested_released;
use crate::facts::{Facts, visible};
use crate::present::present;
use crate::sets;

/// The current caution set of a revision, or the one that its author's draft would be proposed with now.
///
/// # Errors
/// Returns [`Error::NotFound`] if the revision is the draft of another author, and [`Error::GateClosed`] if its author
/// holds no grant for a revision that it nests.
pub(crate) async fn of(tx: &mut Tx<'_>, facts: &Facts) -> Result<CautionSet> {
    if facts.digest.is_some() {
        return sets::current(tx, facts.id).await;
    }
    let author = tx.instructor()?;
    let draft = content::draft(tx, author, facts.id).await?.ok_or(Error::NotFound("draft"))?;
    let written = content::draft_content::<Written>(tx, &draft).await?;
    // Cautions are raised at thresholds, so a ladder of drafts would tell the amounts of what they nest.
    let nested = nested_released(tx, written.content()).await?;
    let present = present(tx, facts, written.content(), nested.content().clone()).await?;
    let found = present.cautions;
    let offers = cautions::offers(written.content(), &found);
    Ok(CautionSet {
        revision: facts.id,
        digest: hex::encode(cautions::digest(&found)),
        cautions: found.into_iter().map(|counted| counted.caution).collect(),
        not_raised: present.not_raised,
        offers,
        looked_at: Some(present.looked_at),
        notice: policy::rules(tx).await?.notice,
    })
}

/// The current caution set of a revision, or the one that its author's draft would be proposed with now. Everybody who
/// may see the revision may read it.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, [`Error::GateClosed`] for the draft of an author
/// who holds no grant for a revision that it nests, and [`Error::Forbidden`] if an API client lacks the scope.
pub async fn cautions(store: &Store, credentials: &Credentials, id: RevisionId) -> Result<CautionSet> {
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let facts = visible(tx, id).await?;
            of(tx, &facts).await
        })
        .await
}
