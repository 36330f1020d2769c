//! Assignments that hold a student's grant shut until their questions are answered. Postgres refuses such a grant too, by
//! the same function; here it is told with its cure.

use diesel::prelude::*;
use diesel::sql_types::{BigInt, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::ids::{HolderId, RevisionId};

#[derive(QueryableByName)]
struct Holding {
    #[diesel(sql_type = SqlUuid)]
    assignment_id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = BigInt)]
    unanswered: i64,
}

/// Checks that no assignment holds a grant to make of this holder shut.
///
/// # Errors
/// Returns [`Error::State`] with the assignment and the cure.
pub(crate) async fn let_go(tx: &mut Tx<'_>, holder: HolderId, id: RevisionId) -> Result<()> {
    let now = tx.now();
    let holding: Option<Holding> = diesel::sql_query(
        "SELECT assignment_id, title, unanswered FROM assignments_holding($1, $2, $3) LIMIT 1",
    )
    .bind::<SqlUuid, _>(holder.0)
    .bind::<SqlUuid, _>(id.0)
    .bind::<Timestamptz, _>(now)
    .get_result(tx.conn())
    .await
    .optional()?;
    match holding {
        None => Ok(()),
        Some(held) => Err(Error::state(
            "held_by_assignment",
            format!(
                "The assignment {:?} ({}) keeps this recipe closed until its questions are answered. Questions without \
                 a final answer: {}. Answer them first.",
                held.title, held.assignment_id, held.unanswered
            ),
        )),
    }
}
