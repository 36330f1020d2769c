//! Batches that wait for a second person.

use chrono::{DateTime, Utc};
use store::{Credentials, Result, page::PageRequest};
use uuid::Uuid;
use wire::page::{Page, PageQuery};

use crate::Clinic;
use crate::overview::{BatchInHand, BatchRow, batches_that, rows_after};

/// The batches of others that wait for a second person who releases a hold, those that were opened first before the others.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) unless an instructor calls.
pub async fn holds_waiting(clinic: &Clinic, credentials: &Credentials) -> Result<Vec<BatchInHand>> {
    clinic
        .store
        .read(credentials, async |tx| {
            tx.instructor()?;
            batches_that(tx, &["making", "returned"], (false, false), "batch_hold_waits(b.id)").await
        })
        .await
}

/// Records that wait for a review by the caller and were not handed in for an assignment, the oldest first.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) unless the caller is an instructor,
/// [`Error::Invalid`](store::Error::Invalid) for a refused cursor, and the errors of verifying the credentials.
pub async fn to_review(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<BatchInHand>> {
    let slice = PageRequest::<(DateTime<Utc>, Uuid)>::parse(query.limit, query.after.as_deref())?;
    clinic
        .store
        .read(credentials, async |tx| {
            tx.instructor()?;
            let asked = (slice.after, slice.fetch());
            let rows = rows_after(tx, &["submitted"], (false, false), "true", asked).await?;
            let page = slice.page(rows, |row| (row.since, row.id))?;
            let items = page.items.into_iter().map(BatchRow::told).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}
