//! Which acknowledgements need an instructor's countersignature before they grant making.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::audience::Asked;
use locks::{Locks, Mode, lock};
use release::grants;
use schema::{acknowledgement, release_grant};
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::ids::RevisionId;
use wire::safety::{CautionLevel, CautionSet, Purpose};

use crate::sets;

/// Waits for a running change of the policy and blocks the next one until this transaction ends. It comes before every
/// lock of a row.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn lock_rules(tx: &mut Tx<'_>) -> Result<()> {
    lock(tx, Locks::new().signing(Mode::Shared)).await
}

/// Whether an acknowledgement for these audiences requires a countersignature: the policy names one of them, or a
/// contraindication of the set concerns one of them.
///
/// # Errors
/// Returns [`store::Error::Invalid`] if one of them is not an audience.
pub(crate) async fn is_needed(tx: &mut Tx<'_>, set: &CautionSet, meant_for: &[String]) -> Result<bool> {
    let named = policy::rules(tx).await?.countersign_audiences;
    let mut needed = false;
    for (i, text) in meant_for.iter().enumerate() {
        let asked = Asked::parse(tx.reference, text.trim(), &format!("/meant_for/{i}"))?;
        let mut against = set.cautions.iter().filter(|it| it.level >= CautionLevel::Contraindication);
        needed |= asked.is_among(&named) || against.any(|caution| asked.is_meant(caution));
    }
    Ok(needed)
}

/// As [`is_needed`], of an acknowledgement given before. An audience that the reference data no longer know needs one.
async fn is_needed_now(tx: &mut Tx<'_>, set: &CautionSet, meant_for: serde_json::Value) -> Result<bool> {
    let meant_for: Vec<String> = serde_json::from_value(meant_for)?;
    match is_needed(tx, set, &meant_for).await {
        Err(Error::Invalid(_)) => Ok(true),
        other => other,
    }
}

/// The grants to decide about a revision that its approval may not turn into grants to make: by the rules of now, or by
/// those that they were given under, they need a countersignature, and nobody signs before the approval. The caller has
/// taken [`lock_rules`].
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn unsigned(tx: &mut Tx<'_>, id: RevisionId) -> Result<Vec<Uuid>> {
    let granted = release_grant::table.filter(release_grant::revision_id.eq(id.0));
    let given: Vec<(Uuid, serde_json::Value, bool)> = acknowledgement::table
        .filter(acknowledgement::id.eq_any(granted.select(release_grant::acknowledgement_id)))
        .select((acknowledgement::id, acknowledgement::meant_for, acknowledgement::countersign))
        .load(tx.conn())
        .await?;
    let set = sets::current(tx, id).await?;
    let mut unsigned = Vec::new();
    for (acknowledgement, meant_for, countersign) in given {
        if countersign || is_needed_now(tx, &set, meant_for).await? {
            unsigned.push(acknowledgement);
        }
    }
    Ok(unsigned)
}

/// Ends the grants to make that need a countersignature by the rules of now and have none: after the policy has named
/// further audiences, or where an earlier version of this service let an approval turn them. Their holders acknowledge
/// anew, which asks for it. Cost: grows with the open grants that are for somebody in particular.
///
/// # Errors
/// Returns the errors of the database.
pub async fn close_unsigned(tx: &mut Tx<'_>) -> Result<()> {
    lock(tx, Locks::new().signing(Mode::Exclusive)).await?;
    // Where one was asked for, it is there: Postgres refuses the grant otherwise.
    let to_make = release_grant::table.filter(release_grant::purpose.eq(Purpose::Make.as_str()));
    let given: Vec<(Uuid, Uuid, serde_json::Value)> = acknowledgement::table
        .filter(acknowledgement::id.eq_any(to_make.select(release_grant::acknowledgement_id)))
        .filter(acknowledgement::meant_for.ne(serde_json::json!([])))
        .filter(diesel::dsl::not(acknowledgement::countersign))
        .select((acknowledgement::id, acknowledgement::revision_id, acknowledgement::meant_for))
        .load(tx.conn())
        .await?;
    let mut unsigned = Vec::new();
    for (acknowledgement, revision, meant_for) in given {
        let set = sets::current(tx, RevisionId(revision)).await?;
        if is_needed_now(tx, &set, meant_for).await? {
            unsigned.push(acknowledgement);
        }
    }
    grants::close_acknowledged(tx, &unsigned, "countersignature_required").await
}
