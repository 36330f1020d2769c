//! Withholding: an approved revision that a new stop applies to may not be made until an instructor decides.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::{content, lock_current_set};
use schema::withholding;
use serde_json::json;
use store::{Error, Instructor, NewEvent, Result, Tx};
use uuid::Uuid;
use wire::ids::RevisionId;
use wire::safety::CautionLevel;

use crate::kept::WITHHOLDING;
use crate::sets;

/// Withholds an approved revision. Returns `false` if it was already withheld.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn withhold(tx: &mut Tx<'_>, amendment: Uuid, id: RevisionId) -> Result<bool> {
    let now = tx.now();
    let new = diesel::insert_into(withholding::table)
        .values((
            withholding::revision_id.eq(id.0),
            withholding::amendment_id.eq(amendment),
            withholding::since.eq(now),
        ))
        .on_conflict_do_nothing()
        .execute(tx.conn())
        .await?;
    if new == 1 {
        let detail = json!({ "amendment": amendment });
        tx.record(NewEvent::new("revision", id.0, "withheld").detail(detail).keeps(&WITHHOLDING, [id.0]));
    }
    Ok(new == 1)
}

/// The time since which a revision is withheld, or `None`.
///
/// # Errors
/// Returns the errors of the database.
pub async fn withheld_since(
    tx: &mut Tx<'_>,
    id: RevisionId,
) -> Result<Option<chrono::DateTime<chrono::Utc>>> {
    Ok(withholding::table.find(id.0).select(withholding::since).first(tx.conn()).await.optional()?)
}

/// Reinstates a withheld revision, so that it may be made again. `reason` is stored as a comment.
///
/// # Errors
/// Returns [`Error::State`] if the revision is not withheld or its caution set still holds a stop.
pub async fn reinstate<'t>(tx: &mut Tx<'t>, id: RevisionId, by: Instructor<'t>, reason: &str) -> Result<()> {
    let _current = lock_current_set(tx, id).await?;
    if withheld_since(tx, id).await?.is_none() {
        return Err(Error::state("approved", "This revision is not withheld."));
    }
    let stops: Vec<String> = sets::current(tx, id)
        .await?
        .cautions
        .into_iter()
        .filter(|caution| caution.level == CautionLevel::Stop)
        .map(|caution| caution.text)
        .collect();
    if !stops.is_empty() {
        return Err(Error::state(
            "withheld",
            format!(
                "These stops still apply: {} Withdraw the revision, or have two instructors lower the stops.",
                stops.join(" ")
            ),
        ));
    }
    ended(tx, id).await?;
    // Stored as gated content, because free text about a formula can name amounts.
    content::comment_insert(tx, id, by, "reinstate", reason).await?;
    tx.record(NewEvent::new("revision", id.0, "reinstated").keeps(&WITHHOLDING, [id.0]));
    Ok(())
}

/// Ends the withholding of a revision, if there is one.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn ended(tx: &mut Tx<'_>, id: RevisionId) -> Result<()> {
    diesel::delete(withholding::table.find(id.0)).execute(tx.conn()).await?;
    Ok(())
}
