//! The caller's acknowledgements that await a countersignature.

use diesel::prelude::*;
use diesel::sql_types::{Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Result, Tx};
use uuid::Uuid;
use wire::ids::RevisionId;

/// The caller's acknowledgement of a revision that a countersignature would turn into a grant.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn own(tx: &mut Tx<'_>, id: RevisionId) -> Result<Option<Uuid>> {
    let (holder, now) = (tx.actor()?.holder(), tx.now());
    let found: Option<Waiting> = diesel::sql_query(
        "SELECT a.id FROM acknowledgement a
         JOIN gate g ON g.revision_id = a.revision_id AND g.set_number = a.set_number
         JOIN revision r ON r.id = a.revision_id JOIN formula f ON f.id = r.formula_id
         JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = a.holder_id AND m.added_at <= a.at
         WHERE a.holder_id = $1 AND a.revision_id = $2 AND a.countersign AND a.valid_until > $3
           AND NOT EXISTS (SELECT FROM countersignature c WHERE c.acknowledgement_id = a.id)
           AND NOT EXISTS (SELECT FROM acknowledgement later WHERE later.holder_id = a.holder_id
             AND later.revision_id = a.revision_id AND later.id > a.id)",
    )
    .bind::<SqlUuid, _>(holder.0)
    .bind::<SqlUuid, _>(id.0)
    .bind::<Timestamptz, _>(now)
    .get_result(tx.conn())
    .await
    .optional()?;
    Ok(found.map(|row| row.id))
}

#[derive(QueryableByName)]
struct Waiting {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}
