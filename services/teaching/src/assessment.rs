//! What a marker needs to assess work: rubric, dates, claim, and the levels that the findings propose.

use release::Released;
use store::{Credentials, Error, Result, Store};
use wire::ids::{BatchId, WorkSubmissionId};
use wire::teaching::{Assessment, WorkSubmission};

use crate::{allowances, claims, handed, proposals, record};

/// What a marker needs to assess work. The findings lie behind the gate, so the caller must be able to read the record.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is an instructor or marker of the cohort and may see the record,
/// [`Error::Forbidden`] for the student, and [`Error::GateClosed`] until its cautions are acknowledged.
pub async fn assessment(
    store: &Store,
    credentials: &Credentials,
    id: WorkSubmissionId,
) -> Result<Released<Assessment>> {
    store
        .read(credentials, async |tx| {
            let handed = handed::for_marker(tx, id).await?;
            let submission = record::submission(tx, id).await?;
            let rubric = handed.rubric(tx).await?;
            let allowance = match handed.allowance {
                Some(id) => Some(allowances::one(tx, id).await?),
                None => None,
            };
            let claim = claims::of(tx, &handed).await?;
            let number = handed.submission_number;
            bench::submitted(tx, handed.batch(), number, |findings| {
                let proposals = proposals::proposals(&rubric, &findings);
                Assessment { submission, rubric, allowance, claim, proposals }
            })
            .await
        })
        .await
}

/// The work that the last submission of a batch record was handed in as, for its author and those who mark that cohort's
/// work.
///
/// # Errors
/// Returns the errors of verifying the credentials.
pub async fn handed_as(
    store: &Store,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Option<WorkSubmission>> {
    store
        .read(credentials, async |tx| {
            let Some(found) = handed::of_batch(tx, id).await? else { return Ok(None) };
            match record::submission(tx, WorkSubmissionId(found.id)).await {
                Ok(shown) => Ok(Some(shown)),
                Err(Error::NotFound(_)) => Ok(None),
                Err(other) => Err(other),
            }
        })
        .await
}
