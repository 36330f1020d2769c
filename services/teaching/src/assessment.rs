//! What a marker needs to assess work: rubric, dates, claim, and the levels that the findings propose.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Released;
use schema::{batch, handed_work};
use store::{Credentials, Error, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{BatchId, WorkSubmissionId};
use wire::teaching::{Assessment, ReturnedVersion, WorkSubmission};

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
            // What one student is allowed tells who that is.
            let allowance = match handed.allowance.filter(|_| handed.candidate().is_none()) {
                Some(id) => Some(allowances::one(tx, id).await?),
                None => None,
            };
            let claim = claims::of(tx, &handed).await?;
            let returned = returned(tx, &handed).await?;
            let number = handed.submission_number;
            bench::submitted(tx, handed.batch(), number, |findings| {
                let proposals = proposals::proposals(&rubric, &findings);
                Assessment { submission, rubric, allowance, claim, returned, proposals }
            })
            .await
        })
        .await
}

/// The version before, which was returned: a next one is handed in after a return only.
async fn returned(tx: &mut Tx<'_>, handed: &handed::Handed) -> Result<Option<ReturnedVersion>> {
    let found: Option<(Uuid, i32, Uuid, i32)> = handed_work::table
        .filter(handed_work::work_id.eq(handed.work))
        .filter(handed_work::number.eq(handed.number - 1))
        .select((handed_work::id, handed_work::number, handed_work::batch_id, handed_work::last_entry))
        .first(tx.conn())
        .await
        .optional()?;
    let Some((submission, number, of, last_entry)) = found else { return Ok(None) };
    let batch_number = match handed.candidate() {
        Some(candidate) => candidate,
        None => batch::table.find(of).select(batch::number).first(tx.conn()).await?,
    };
    Ok(Some(ReturnedVersion {
        submission: WorkSubmissionId(submission),
        number: number.unsigned_abs(),
        batch: BatchId(of),
        batch_number,
        last_entry: last_entry.unsigned_abs(),
    }))
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
