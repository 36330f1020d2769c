//! Withholding: an approved revision that gained a stop is not made until an instructor decides.

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

/// Withholds an approved revision until an instructor decides; `false` where it was withheld already.
pub(crate) async fn withhold(tx: &mut Tx<'_>, amendment: Uuid, id: RevisionId) -> Result<bool> {
    let now = tx.now;
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

/// Since when a revision is withheld, if it is.
///
/// # Errors
/// When the database does not answer.
pub async fn withheld_since(
    tx: &mut Tx<'_>,
    id: RevisionId,
) -> Result<Option<chrono::DateTime<chrono::Utc>>> {
    Ok(withholding::table.find(id.0).select(withholding::since).first(tx.conn()).await.optional()?)
}

/// Lets a withheld revision be made again, once nothing in its caution set stops it. It is withdrawn otherwise.
///
/// # Errors
/// When it is not withheld, or a stop still stands.
pub async fn reinstate<'t>(tx: &mut Tx<'t>, id: RevisionId, by: Instructor<'t>, reason: &str) -> Result<()> {
    let _current = lock_current_set(tx, id).await?;
    if withheld_since(tx, id).await?.is_none() {
        return Err(Error::state("approved", "this revision is not withheld"));
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
                "a stop still stands: withdraw the revision, or have the stop lowered by two instructors: {}",
                stops.join(" ")
            ),
        ));
    }
    ended(tx, id).await?;
    // Free text about a formula may name amounts, so it is read through the gate.
    content::comment_insert(tx, id, by, "reinstate", reason).await?;
    tx.record(NewEvent::new("revision", id.0, "reinstated").keeps(&WITHHOLDING, [id.0]));
    Ok(())
}

/// A revision that is no longer approved is no longer withheld either.
pub(crate) async fn ended(tx: &mut Tx<'_>, id: RevisionId) -> Result<()> {
    diesel::delete(withholding::table.find(id.0)).execute(tx.conn()).await?;
    Ok(())
}
