//! The label of a batch, for whoever may read its record.

use store::{Claim, Error, Result, Store, word};
use wire::bench::BatchState;
use wire::ids::BatchId;
use wire::label::{BatchLabelQuery, Label};

use super::{batches, store};
use policy;
use crate::safety;

/// What stands on the jars of a batch: of what was weighed, once every line was.
///
/// # Errors
/// As for reading the record; when the batch was given up, which leaves no jars; and when a field of the query cannot
/// be read.
pub async fn label(store: &Store, claim: &Claim, id: BatchId, query: &BatchLabelQuery) -> Result<Label> {
    store
        .read(claim, async |tx| {
            let row = store::find(tx, id, false).await?;
            let shown = batches::may_read(tx, &row).await?;
            if row.state()? == BatchState::Abandoned {
                return Err(Error::state(row.state()?, "a batch that was given up has no jars to label"));
            }
            let asked = safety::recipe_of(tx, id).await?;
            let rules = policy::rules_of(tx, row.policy_version).await?;
            let digest = row.revision_digest.clone().try_into();
            let labelled = safety::LabelledBatch {
                id,
                number: &row.number,
                disposition: word(&row.disposition)?,
                digest: digest.map_err(|_| Error::internal("a digest of the wrong length"))?,
                made_on: batches::made_on(&row, asked.content(), &rules),
                asked: asked.content(),
                entries: &store::entries(tx, id).await?,
                rules: &rules,
            };
            safety::label_of_batch(tx, &labelled, query, &shown).await
        })
        .await
}
