//! Working caution sets out anew after something that they rest on has changed.
//!
//! Cost: by the indexes of who contains what, only revisions that are touched are looked at; each costs about what
//! proposing it did.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{amendment_effect, gate, withholding};
use serde_json::json;
use store::{Error, NewEvent, Result, Tx};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::{PersonId, RevisionId};
use wire::safety::{Caution, CautionLevel};

use super::assemble::{self, Assembled, FactsAsOf};
use super::cautions::Counted;
use super::{cautions, evaluation, gate as doors, judged, own, set, store};
use canonical::{self, Sha};
use formulary::{self, Facts, Written};

/// What is known of a revision now: its cautions, and the digest of how it comes out with the facts as they are.
pub(super) struct Present {
    pub(super) cautions: Vec<Counted>,
    pub(super) evaluation: Sha,
}

/// Works out what is known of a revision now, whatever facts it was written with. One that cannot be worked out with
/// them is warned of as not known; why stays behind the gate.
pub(super) async fn present(tx: &mut Tx<'_>, facts: &Facts, written: &Written) -> Result<Present> {
    let whole = assemble::with_facts(tx, facts.formula, written, FactsAsOf::Now).await?;
    let observed = judged::Observed::by_method(&written.content.method);
    let judged = judged::judge(tx.reference, written, &whole, &whole.evaluation, &observed)?;
    let own = own::own(tx).await?;
    let cautions = cautions::cautions(tx.reference, written, &whole, &judged, &own);
    let evaluation = if whole.worked_out {
        evaluated(tx, written, &whole)?
    } else {
        canonical::digest([&b"cannot be worked out"[..]])
    };
    Ok(Present { cautions, evaluation })
}

/// What proposing and amending take turns by: whoever proposes works a set out that a change under way would miss.
const SETTLING: i64 = 0x5374_696C_6C63_6175;

/// Waits until nothing is being proposed, and keeps proposals waiting until this transaction ends.
pub(crate) async fn settle(tx: &mut Tx<'_>) -> Result<()> {
    diesel::sql_query("SELECT pg_advisory_xact_lock($1)")
        .bind::<diesel::sql_types::BigInt, _>(SETTLING)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Waits until nothing is being amended, and keeps amendments waiting until this transaction ends.
pub(super) async fn while_settled(tx: &mut Tx<'_>) -> Result<()> {
    diesel::sql_query("SELECT pg_advisory_xact_lock_shared($1)")
        .bind::<diesel::sql_types::BigInt, _>(SETTLING)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Names how a revision comes out.
fn evaluated(tx: &Tx<'_>, written: &Written, whole: &Assembled) -> Result<Sha> {
    let evaluation = evaluation::of_formula(tx.reference, written, whole)?;
    Ok(canonical::digest([canonical::text(&serde_json::to_value(evaluation)?).as_bytes()]))
}

/// Renews the caution sets of revisions because of an amendment. Where a set that binds or the evaluation has changed,
/// acknowledgements end; an approved revision that gained a stop is withheld. Answers how many were changed.
pub(crate) async fn renew(tx: &mut Tx<'_>, amendment: Uuid, revisions: &[Uuid]) -> Result<usize> {
    let mut changed = 0;
    for id in revisions {
        if renew_one(tx, amendment, RevisionId(*id)).await? {
            changed += 1;
        }
    }
    Ok(changed)
}

async fn renew_one(tx: &mut Tx<'_>, amendment: Uuid, id: RevisionId) -> Result<bool> {
    // The revision first and its gate then, as everybody locks them: waits for those who decide about it, and for those
    // who are acknowledging the set as it was.
    let facts = formulary::facts(tx, id, true).await?;
    let number: i32 = gate::table.find(id.0).select(gate::set_number).for_update().first(tx.conn()).await?;
    let written = store::written(tx, id).await?;
    let now = present(tx, &facts, &written).await?;
    let before = set::numbered(tx, id, number).await?;
    let evaluation_before = match set::evaluation_digest(tx, id, number).await? {
        Some(digest) => digest,
        None => {
            let whole = assemble::assemble(tx, facts.formula, &written).await?;
            evaluated(tx, &written, &whole)?
        }
    };
    let evaluation_changed = evaluation_before != now.evaluation;
    let cautions_changed = before.cautions.iter().ne(now.cautions.iter().map(|counted| &counted.caution));
    if !cautions_changed && !evaluation_changed {
        return Ok(false);
    }
    let digest = set::put(tx, id, number + 1, &now).await?;
    let whom_it_binds = |one: &Caution| (one.key.clone(), one.audiences.clone());
    let bound: Vec<_> = binding(before.cautions.iter()).map(whom_it_binds).collect();
    let binds: Vec<_> = binding(now.cautions.iter().map(|it| &it.caution)).map(whom_it_binds).collect();
    if before.digest != hex::encode(digest) || evaluation_changed || bound != binds {
        doors::close_revision(tx, id, "cautions_changed").await?;
    } else {
        doors::keep_open(tx, id, number + 1).await?;
    }
    let stopped = now.cautions.iter().any(|counted| counted.caution.level == CautionLevel::Stop);
    let withheld = facts.state == RevisionState::Approved && stopped && withhold(tx, amendment, id).await?;
    diesel::insert_into(amendment_effect::table)
        .values((
            amendment_effect::amendment_id.eq(amendment),
            amendment_effect::revision_id.eq(id.0),
            amendment_effect::set_number.eq(number + 1),
            amendment_effect::cautions_changed.eq(cautions_changed),
            amendment_effect::evaluation_changed.eq(evaluation_changed),
            amendment_effect::withheld.eq(withheld),
        ))
        .execute(tx.conn())
        .await?;
    let detail = json!({ "amendment": amendment, "caution_set": hex::encode(digest) });
    tx.record(NewEvent::new("revision", id.0, "cautions_changed").detail(detail));
    Ok(true)
}

/// The cautions that have to be acknowledged.
fn binding<'c>(cautions: impl Iterator<Item = &'c Caution>) -> impl Iterator<Item = &'c Caution> {
    cautions.filter(|caution| caution.level >= CautionLevel::Caution)
}

/// Withholds an approved revision until an instructor decides; `false` where it was withheld already.
async fn withhold(tx: &mut Tx<'_>, amendment: Uuid, id: RevisionId) -> Result<bool> {
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
        tx.record(NewEvent::new("revision", id.0, "withheld").detail(detail));
    }
    Ok(new == 1)
}

/// Since when a revision is withheld, if it is.
pub(crate) async fn withheld_since(
    tx: &mut Tx<'_>,
    id: RevisionId,
) -> Result<Option<chrono::DateTime<chrono::Utc>>> {
    Ok(withholding::table.find(id.0).select(withholding::since).first(tx.conn()).await.optional()?)
}

/// Lets a withheld revision be made again, once nothing in its caution set stops it. It is withdrawn otherwise.
///
/// # Errors
/// When it is not withheld, or a stop still stands.
pub(crate) async fn reinstate(tx: &mut Tx<'_>, id: RevisionId, by: PersonId, reason: &str) -> Result<()> {
    let _current = set::gate_for_share(tx, id).await?;
    if withheld_since(tx, id).await?.is_none() {
        return Err(Error::state("approved", "this revision is not withheld"));
    }
    let stops: Vec<String> = set::current(tx, id)
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
    store::comment_insert(tx, id, by, "reinstate", reason).await?;
    tx.record(NewEvent::new("revision", id.0, "reinstated"));
    Ok(())
}

/// A revision that is no longer approved is no longer withheld either.
pub(crate) async fn ended(tx: &mut Tx<'_>, id: RevisionId) -> Result<()> {
    diesel::delete(withholding::table.find(id.0)).execute(tx.conn()).await?;
    Ok(())
}
