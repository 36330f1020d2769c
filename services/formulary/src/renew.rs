//! Recomputes caution sets after an amendment or a new edition of the reference data. Ends acknowledgements only if a
//! binding caution or the evaluation changed.
//!
//! Cost: the indexes of ingredients limit the work to the revisions concerned. Each costs about as much as its
//! proposal.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::Written;
use locks::{Locks, Mode, lock};
use release::{Exit, content, grants, lock_current_set};
use schema::{amendment_effect, gate};
use serde_json::json;
use store::{NewEvent, Result, Tx};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::RevisionId;
use wire::safety::{Caution, CautionLevel};

use crate::assemble::{self, FactsAsOf};
use crate::facts;
use crate::kept::{CAUTION_READING, CAUTION_SET, EFFECT, GATE};
use crate::present::{evaluated, present};
use crate::sets;
use crate::withholding::withhold;

/// Recomputes the caution sets of revisions for an amendment and returns how many revisions changed.
///
/// Ends acknowledgements if a binding caution or the evaluation changed. Withholds an approved revision that a new stop
/// applies to.
///
/// # Errors
/// Returns [`store::Error::Internal`] if frozen content does not match its digest, and the errors of the database.
pub async fn recompute_caution_sets(tx: &mut Tx<'_>, amendment: Uuid, revisions: &[Uuid]) -> Result<usize> {
    let ids = || revisions.iter().copied();
    let rows = Locks::new().revisions(ids(), Mode::Exclusive).gates(ids(), Mode::Exclusive);
    lock(tx, rows.grants(ids())).await?;
    let mut changed = 0;
    for id in revisions {
        if recompute(tx, amendment, RevisionId(*id)).await? {
            changed += 1;
        }
    }
    Ok(changed)
}

async fn recompute(tx: &mut Tx<'_>, amendment: Uuid, id: RevisionId) -> Result<bool> {
    let facts = facts::facts(tx, id).await?;
    let number: i32 = gate::table.find(id.0).select(gate::set_number).first(tx.conn()).await?;
    let frozen = content::sealed::<Written>(tx, id).await?.exit(Exit::Renewal);
    let (written, nested) = (&frozen.written, &frozen.nested);
    let now = present(tx, &facts, written, nested.clone()).await?;
    let before = sets::numbered(tx, id, number).await?;
    let evaluation_before = match sets::evaluation_digest(tx, id, number).await? {
        Some(digest) => digest,
        None => {
            let whole =
                assemble::with_facts(tx, facts.formula, written, nested.clone(), FactsAsOf::Writing).await?;
            evaluated(tx, written, whole).await?
        }
    };
    let evaluation_changed = evaluation_before != now.evaluation;
    let cautions_changed = before.cautions.iter().ne(now.cautions.iter().map(|counted| &counted.caution))
        || before.not_raised != now.not_raised;
    if !cautions_changed && !evaluation_changed {
        return Ok(false);
    }
    let digest = sets::put(tx, id, number + 1, &now).await?;
    let whom_it_binds = |one: &Caution| (one.key.clone(), one.audiences.clone());
    let bound: Vec<_> = binding(before.cautions.iter()).map(whom_it_binds).collect();
    let binds: Vec<_> = binding(now.cautions.iter().map(|it| &it.caution)).map(whom_it_binds).collect();
    if before.digest != hex::encode(digest) || evaluation_changed || bound != binds {
        grants::close_revisions(tx, &[id.0], "cautions_changed").await?;
    } else {
        let set = lock_current_set(tx, id).await?;
        grants::carry_over(tx, &set).await?;
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
    tx.record(
        NewEvent::new("revision", id.0, "cautions_changed")
            .detail(detail)
            .keeps(&CAUTION_SET, [id.0.to_string(), (number + 1).to_string()])
            .keeps(&CAUTION_READING, [id.0.to_string(), (number + 1).to_string()])
            .keeps(&GATE, [id.0])
            .keeps(&EFFECT, [amendment, id.0]),
    );
    Ok(true)
}

/// The cautions that must be acknowledged: those of level `caution` and above.
fn binding<'c>(cautions: impl Iterator<Item = &'c Caution>) -> impl Iterator<Item = &'c Caution> {
    cautions.filter(|caution| caution.level >= CautionLevel::Caution)
}
