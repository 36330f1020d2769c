//! The label of a batch, for whoever may read its record.

use recipes::RecipeCache;
use recipes::label::{LabelledBatch, label_of_batch};
use release::ForRules;
use store::{Claim, Error, Result, Store};
use wire::bench::BatchState;
use wire::ids::BatchId;
use wire::label::{BatchLabelQuery, Label};

use crate::batches;

/// What stands on the jars of a batch: of what was weighed, once every line was.
///
/// # Errors
/// As for reading the record; when the batch was given up, which leaves no jars; and when a field of the query cannot
/// be read.
pub async fn label(
    store: &Store,
    cache: &RecipeCache,
    claim: &Claim,
    id: BatchId,
    query: &BatchLabelQuery,
) -> Result<Label> {
    store
        .read(claim, async |tx| {
            let record = batches::access(tx, id, false).await?;
            let row = record.row();
            if row.state()? == BatchState::Abandoned {
                return Err(Error::state(row.state()?, "a batch that was given up has no jars to label"));
            }
            let within = batches::contents(tx, &record).await?;
            let within = within.content();
            let rules = policy::rules_of(tx, row.policy_version).await?;
            let labelled = LabelledBatch {
                id,
                number: &row.number,
                disposition: row.disposition()?,
                made_on: batches::made_on(row, &within.recipe, &rules),
                asked: &within.recipe,
                entries: &within.entries,
                rules: &rules,
            };
            label_of_batch(tx, cache, &record, &labelled, query).await
        })
        .await
}
