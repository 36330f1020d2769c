//! What a batch can count for.

use diesel::prelude::*;
use diesel::sql_types::{Bool, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Credentials, Result, Store};
use uuid::Uuid;
use wire::ids::{AssignmentId, BatchId};

/// An assignment that a batch can count for, or counts for.
#[derive(Clone, Debug)]
pub struct CountsFor {
    /// The assignment.
    pub assignment: AssignmentId,
    /// Its title.
    pub title: String,
    /// Whether the batch was handed in for it.
    pub counts: bool,
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Bool)]
    counts: bool,
}

/// The assignments that a batch of the caller's own counts for or can be handed in for. One statement.
///
/// # Errors
/// Returns the errors of verifying the credentials.
pub async fn counts_for(store: &Store, credentials: &Credentials, id: BatchId) -> Result<Vec<CountsFor>> {
    store
        .read(credentials, async |tx| {
            let me = tx.person()?.id.0;
            let rows: Vec<Row> = diesel::sql_query(
                "SELECT a.id, v.title, c.work_id IS NOT NULL AS counts FROM batch b
                 JOIN revision r ON r.id = b.revision_id
                 JOIN assignment_formula f ON f.formula_id = r.formula_id
                 JOIN assignment a ON a.id = f.assignment_id AND a.current_version = f.version_number
                     AND a.state = 'published'
                 JOIN assignment_version v ON v.assignment_id = a.id AND v.number = a.current_version
                 JOIN cohort_member m ON m.cohort_id = a.cohort_id AND m.person_id = b.maker_id
                     AND m.role = 'student'
                 LEFT JOIN assignment_work w ON w.assignment_id = a.id AND w.person_id = b.maker_id
                 LEFT JOIN work_batch c ON c.batch_id = b.id AND c.work_id = w.id
                 WHERE b.id = $1 AND b.maker_id = $2
                   AND NOT EXISTS (SELECT FROM maker_of_batch o WHERE o.batch_id = b.id AND o.person_id <> $2)
                   AND NOT EXISTS (SELECT FROM work_batch x
                       WHERE x.batch_id = b.id AND x.work_id IS DISTINCT FROM w.id)
                   AND (c.work_id IS NOT NULL OR b.state NOT IN ('accepted', 'rejected', 'abandoned'))
                   AND (c.work_id IS NOT NULL OR NOT EXISTS (SELECT FROM handed_work s
                       WHERE s.work_id = w.id AND s.state <> 'returned'))
                 ORDER BY v.due_at, a.id LIMIT 20",
            )
            .bind::<SqlUuid, _>(id.0)
            .bind::<SqlUuid, _>(me)
            .load(tx.conn())
            .await?;
            let shown = |row: Row| CountsFor {
                assignment: AssignmentId(row.id),
                title: row.title,
                counts: row.counts,
            };
            Ok(rows.into_iter().map(shown).collect())
        })
        .await
}
