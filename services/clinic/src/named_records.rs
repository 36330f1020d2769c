//! Names of the records that events are about, for whoever may see them.
//!
//! Never here: a name that the caller could not read elsewhere.

use diesel::QueryableByName;
use diesel::sql_types::{Array, Bool, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Credentials, Result};
use uuid::Uuid;
use wire::people::Role;

use crate::Clinic;

#[derive(QueryableByName)]
struct NamedRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
}

/// People and materials are named for everybody. Formulas, revisions and batches are named for members of their library: of
/// those not yet approved and of others' batches, for instructors and of one's own, but for those that are closed to a second
/// marker; a draft for its author. A library is
/// named for its members and for administrators, a class for its members.
const NAMED: &str = "
    SELECT p.id, p.name FROM person p WHERE p.id = ANY ($2)
    UNION ALL SELECT t.id, t.name FROM material t WHERE t.id = ANY ($2)
    UNION ALL SELECT l.id, l.name FROM library l WHERE l.id = ANY ($2) AND ($4 OR EXISTS (
        SELECT 1 FROM library_member m WHERE m.library_id = l.id AND m.holder_id = $1))
    UNION ALL SELECT c.id, c.name FROM cohort c WHERE c.id = ANY ($2) AND EXISTS (
        SELECT 1 FROM cohort_member m WHERE m.cohort_id = c.id AND m.person_id = $1)
    UNION ALL SELECT f.id, f.title FROM formula f
        JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
        WHERE f.id = ANY ($2) AND (f.approved_revision_id IS NOT NULL OR $3)
    UNION ALL SELECT r.id, r.title || ' ' || r.number FROM revision r
        JOIN formula f ON f.id = r.formula_id
        JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
        WHERE r.id = ANY ($2) AND (r.author_id = $1 OR r.state IN ('approved', 'superseded', 'withdrawn')
            OR ($3 AND r.state = 'proposed'))
    UNION ALL SELECT b.id, r.title || ' ' || b.number FROM batch b
        JOIN revision r ON r.id = b.revision_id
        JOIN formula f ON f.id = r.formula_id
        JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
        WHERE b.id = ANY ($2) AND (batch_made_by(b.id, $1) OR $3)
            AND NOT blind_batch(b.id, $1)";

/// The names of records, by their ids, in one statement. What the caller may not see has none.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) for an API client, and the errors of verifying the credentials.
pub async fn records(
    clinic: &Clinic,
    credentials: &Credentials,
    ids: &[Uuid],
) -> Result<Vec<(Uuid, String)>> {
    clinic
        .store
        .read(credentials, async |tx| {
            let me = tx.person()?;
            let rows: Vec<NamedRow> = diesel::sql_query(NAMED)
                .bind::<SqlUuid, _>(me.id.0)
                .bind::<Array<SqlUuid>, _>(ids)
                .bind::<Bool, _>(me.role == Role::Instructor)
                .bind::<Bool, _>(me.role == Role::Administrator)
                .load(tx.conn())
                .await?;
            Ok(rows.into_iter().map(|row| (row.id, row.name)).collect())
        })
        .await
}
