//! What was found in a record when it was submitted, for rules of other subjects that work on it.

use release::{ForRules, Released};
use store::{Error, Result, Tx};
use wire::bench::Finding;
use wire::ids::BatchId;

use crate::batches;

/// What a rule makes of the findings of a submission, released to whoever may read the record.
///
/// # Errors
/// As [`batch`](crate::batch()); returns [`Error::NotFound`] if the record has no such submission.
pub async fn submitted<U>(
    tx: &mut Tx<'_>,
    id: BatchId,
    number: i32,
    work: impl FnOnce(Vec<Finding>) -> U,
) -> Result<Released<U>> {
    let record = batches::access(tx, id, false).await?;
    let contents = batches::contents(tx, &record).await?;
    contents.try_map(|contents| {
        let number = number.unsigned_abs();
        let submitted = contents.submissions.into_iter().find(|one| one.number == number);
        let submitted = submitted.ok_or(Error::NotFound("submission"))?;
        Ok(work(submitted.findings.into()))
    })
}
