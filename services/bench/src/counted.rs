//! Batches that count for an assignment: they are submitted there, by its dates.
//!
//! Reads tables of `teaching`, which stands above this crate, as `formulary::held` does.

use diesel::prelude::*;
use diesel::sql_types::{Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::ids::BatchId;

#[derive(QueryableByName)]
struct Counts {
    #[diesel(sql_type = SqlUuid)]
    assignment_id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
}

/// Checks that a batch may be submitted at the bench: that it counts for no assignment in which its maker is a student.
///
/// # Errors
/// Returns [`Error::State`] with the assignment.
pub(crate) async fn not_to_be_submitted_there(tx: &mut Tx<'_>, id: BatchId) -> Result<()> {
    let counts: Option<Counts> = diesel::sql_query(
        "SELECT a.id AS assignment_id, v.title FROM work_batch b JOIN assignment_work w ON w.id = b.work_id
         JOIN assignment a ON a.id = w.assignment_id AND a.state = 'published'
         JOIN assignment_version v ON v.assignment_id = a.id AND v.number = a.current_version
         JOIN cohort_member m ON m.cohort_id = a.cohort_id AND m.person_id = w.person_id AND m.role = 'student'
         WHERE b.batch_id = $1",
    )
    .bind::<SqlUuid, _>(id.0)
    .get_result(tx.conn())
    .await
    .optional()?;
    refuse(counts)
}

fn refuse(counts: Option<Counts>) -> Result<()> {
    match counts {
        None => Ok(()),
        Some(Counts { assignment_id, title }) => Err(Error::state(
            "counts_for_assignment",
            format!(
                "This batch record counts for the assignment {title:?} ({assignment_id}). Submit it there."
            ),
        )),
    }
}
