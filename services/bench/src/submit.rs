//! Handing a batch record in: what is found is kept with it, as it was found.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{batch, submission};
use serde_json::json;
use store::{Claim, Error, NewEvent, Once, Result, Store};
use wire::bench::{BatchRecord, BatchState, Submit};
use wire::ids::{BatchId, RevisionId};

use super::{batches, findings, store};
use policy;
use crate::safety::{self, Released};

/// Hands a batch record in, with whatever is out of tolerance or missing: a record is honest before it is perfect.
///
/// # Errors
/// When the caller is not the maker, the record is not being made or returned, or a changed caution stands
/// unacknowledged.
pub async fn submit(
    store: &Store,
    claim: &Claim,
    once: &Once,
    id: BatchId,
    request: &Submit,
) -> Result<Released<BatchRecord>> {
    store
        .create(
            claim,
            once,
            async |tx| {
                let row = batches::own(tx, id).await?;
                store::check(row.state()?, BatchState::Submitted)?;
                let answer = request.answer.as_deref().map(str::trim);
                if answer.is_some_and(|text| !(1..=4000).contains(&text.chars().count())) {
                    return Err(Error::field("/answer", "1 to 4000 characters, or leave it out"));
                }
                if safety::change_outstanding(tx, RevisionId(row.revision_id), &row.caution_digest).await? {
                    let reason =
                        "the cautions have changed while this was being made: acknowledge them to submit";
                    return Err(Error::GateClosed(Box::new(
                        safety::outstanding(tx, RevisionId(row.revision_id), reason).await?,
                    )));
                }
                let recipe = safety::recipe_of(tx, id).await?;
                let entries = store::entries(tx, id).await?;
                let rules = policy::rules_of(tx, row.policy_version).await?;
                let made_on = batches::made_on(&row, recipe.content(), &rules);
                let found = findings::findings(recipe.content(), &entries, &rules, made_on);
                let number = row.last_submission + 1;
                let now = tx.now;
                diesel::update(batch::table.find(row.id))
                    .set(batch::last_submission.eq(number))
                    .execute(tx.conn())
                    .await?;
                diesel::insert_into(submission::table)
                    .values((
                        submission::batch_id.eq(row.id),
                        submission::number.eq(number),
                        submission::answer.eq(answer),
                        submission::findings.eq(serde_json::to_string(&found)?),
                        submission::last_entry.eq(row.last_entry),
                        submission::at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await?;
                store::advance(tx, &row, BatchState::Submitted).await?;
                tx.record(NewEvent::new("batch", row.id, "submitted")
                        .detail(json!({ "submission": number.to_string() })));
                Ok(row.id)
            },
            async |tx, id| batches::record(tx, BatchId(id)).await,
        )
        .await
}
