//! The way of a revision: proposed, returned or approved, superseded, withdrawn. One function moves the state.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{formula, revision};
use serde_json::json;
use store::{Claim, Error, NewEvent, Result, Store, Tx, Versioned};
use uuid::Uuid;
use wire::formulary::{Decide, Decision, Revision, RevisionState, Withdraw};
use wire::ids::RevisionId;

use super::revisions::{self, Facts};
use super::{formulas, visible};
use policy;
use crate::safety;

/// The only transitions there are.
fn may_become(from: RevisionState, to: RevisionState) -> bool {
    use RevisionState as S;
    matches!(
        (from, to),
        (S::Draft, S::Proposed)
            | (S::Proposed, S::Returned | S::Approved)
            | (S::Approved, S::Superseded | S::Withdrawn)
    )
}

fn check(facts: &Facts, to: RevisionState) -> Result<()> {
    if may_become(facts.state, to) {
        return Ok(());
    }
    let wanted: Vec<&str> =
        RevisionState::ALL.iter().filter(|from| may_become(**from, to)).map(|from| from.as_str()).collect();
    Err(Error::state(
        facts.state,
        format!("this revision is {}; only one that is {} becomes {to}", facts.state, wanted.join(" or ")),
    ))
}

/// Proposes a draft: its content freezes, gets its digest and its caution set, and waits for a decision.
///
/// # Errors
/// When the caller is not its author, the version is stale, it is not a draft, or it cannot be evaluated.
pub async fn propose(
    store: &Store,
    claim: &Claim,
    id: RevisionId,
    version: i64,
) -> Result<Versioned<Revision>> {
    store
        .write(claim, async |tx| {
            let facts = visible(tx, id, true).await?;
            let me = tx.instructor()?;
            if me.id != facts.author {
                return Err(Error::Forbidden("only its author proposes a draft".into()));
            }
            check(&facts, RevisionState::Proposed)?;
            if facts.version != version {
                return Err(Error::Stale);
            }
            let digest = safety::freeze(tx, &facts).await?;
            let now = tx.now;
            diesel::update(revision::table.find(id.0))
                .set((
                    revision::state.eq("proposed"),
                    revision::digest.eq(&digest[..]),
                    revision::proposed_at.eq(now),
                    revision::version.eq(version + 1),
                ))
                .execute(tx.conn())
                .await?;
            tx.record(NewEvent::new("revision", id.0, "proposed").after(digest));
            revisions::show(tx, id).await
        })
        .await
}

/// The revision, locked after its formula. Every decision locks in this order, so that two about one formula follow
/// each other and never wait in a circle.
async fn locked(tx: &mut Tx<'_>, id: RevisionId) -> Result<Facts> {
    let formula_id = visible(tx, id, false).await?.formula;
    formula::table.find(formula_id.0).select(formula::id).for_update().first::<Uuid>(tx.conn()).await?;
    visible(tx, id, true).await
}

/// Returns or approves a proposed revision. Whoever decides has acknowledged its cautions and is not its author.
///
/// # Errors
/// When the caller may not decide, the revision is not proposed, or a `stop` or a withdrawn ingredient stands in
/// the way of approval.
pub async fn decide(
    store: &Store,
    claim: &Claim,
    id: RevisionId,
    request: &Decide,
) -> Result<Versioned<Revision>> {
    store
        .write(claim, async |tx| {
            let facts = locked(tx, id).await?;
            let me = tx.instructor()?;
            let to = match request.decision {
                Decision::Return => RevisionState::Returned,
                Decision::Approve => RevisionState::Approved,
            };
            check(&facts, to)?;
            let own = me.id == facts.author;
            if own && request.decision == Decision::Approve {
                own_approval(tx, request).await?;
            }
            if request.decision == Decision::Return && request.comment.trim().is_empty() {
                return Err(Error::field("/comment", "say what should be changed: 1 to 4000 characters"));
            }
            if request.comment.chars().count() > 4000 {
                return Err(Error::field("/comment", "a comment has up to 4000 characters"));
            }
            // Nobody decides about what they have not been shown with its cautions.
            let door = safety::open(tx, id).await?;
            if !request.comment.trim().is_empty() {
                safety::comment(tx, id, me.id, request.decision.as_str(), request.comment.trim()).await?;
            }
            match request.decision {
                Decision::Return => send_back(tx, &facts, me.id).await?,
                Decision::Approve => approve(tx, &facts, me.id, own, &door).await?,
            }
            revisions::show(tx, id).await
        })
        .await
}

/// An author approves alone only where the policy allows it, and says why.
async fn own_approval(tx: &mut Tx<'_>, request: &Decide) -> Result<()> {
    if policy::rules(tx).await?.second_person {
        return Err(Error::Forbidden("nobody approves their own formula: ask another instructor".into()));
    }
    if request.comment.trim().is_empty() {
        return Err(Error::field("/comment", "an author who approves alone says why: 1 to 4000 characters"));
    }
    Ok(())
}

async fn set(
    tx: &mut Tx<'_>,
    facts: &Facts,
    to: RevisionState,
    by: wire::ids::PersonId,
    own: bool,
) -> Result<()> {
    let now = tx.now;
    diesel::update(revision::table.find(facts.id.0))
        .set((
            revision::state.eq(to.as_str()),
            revision::decided_by.eq(by.0),
            revision::decided_at.eq(now),
            revision::own_approval.eq(own),
            revision::version.eq(facts.version + 1),
        ))
        .execute(tx.conn())
        .await?;
    let mut event = NewEvent::new("revision", facts.id.0, to.as_str());
    event.before = facts.digest;
    event.after = facts.digest;
    if own {
        event = event.detail(json!({ "note": "approved by its author" }));
    }
    tx.record(event);
    Ok(())
}

async fn send_back(tx: &mut Tx<'_>, facts: &Facts, by: wire::ids::PersonId) -> Result<()> {
    set(tx, facts, RevisionState::Returned, by, false).await?;
    let written = safety::written(tx, facts.id).await?;
    formulas::next(tx, facts.formula, facts.author, &written).await?;
    Ok(())
}

async fn approve(
    tx: &mut Tx<'_>,
    facts: &Facts,
    by: wire::ids::PersonId,
    own: bool,
    door: &safety::Door,
) -> Result<()> {
    safety::may_be_approved(tx, facts.id, door).await?;
    let before: Option<Uuid> =
        formula::table.find(facts.formula.0).select(formula::approved_revision_id).first(tx.conn()).await?;
    if let Some(before) = before {
        let before = super::facts(tx, RevisionId(before), true).await?;
        check(&before, RevisionState::Superseded)?;
        let by_before = before.decided_by.unwrap_or(by);
        let own_before = before.own_approval;
        set(tx, &before, RevisionState::Superseded, by_before, own_before).await?;
        safety::close_revision(tx, before.id, "superseded").await?;
    }
    set(tx, facts, RevisionState::Approved, by, own).await?;
    diesel::update(formula::table.find(facts.formula.0))
        .set((
            formula::approved_revision_id.eq(facts.id.0),
            formula::title.eq(&facts.title),
            formula::preparation.eq(&facts.preparation),
        ))
        .execute(tx.conn())
        .await?;
    safety::decided_to_make(tx, facts.id).await
}

/// Takes an approved revision back. Its recipe, and that of everything made from it, closes in the same transaction.
///
/// # Errors
/// When the caller is not an instructor of the library, or the revision is not approved.
pub async fn withdraw(
    store: &Store,
    claim: &Claim,
    id: RevisionId,
    request: &Withdraw,
) -> Result<Versioned<Revision>> {
    store
        .write(claim, async |tx| {
            let facts = locked(tx, id).await?;
            let me = tx.instructor()?;
            check(&facts, RevisionState::Withdrawn)?;
            if !(1..=4000).contains(&request.reason.trim().chars().count()) {
                return Err(Error::field("/reason", "say why: 1 to 4000 characters"));
            }
            safety::comment(tx, id, me.id, "withdraw", request.reason.trim()).await?;
            diesel::update(formula::table.find(facts.formula.0))
                .set(formula::approved_revision_id.eq(None::<Uuid>))
                .execute(tx.conn())
                .await?;
            let own = facts.own_approval;
            set(tx, &facts, RevisionState::Withdrawn, facts.decided_by.unwrap_or(me.id), own).await?;
            safety::close_revision(tx, id, "withdrawn").await?;
            revisions::show(tx, id).await
        })
        .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_leaves_an_end_state_and_nothing_becomes_a_draft_again() {
        for from in RevisionState::ALL {
            assert!(!may_become(*from, RevisionState::Draft));
            for end in [RevisionState::Returned, RevisionState::Superseded, RevisionState::Withdrawn] {
                assert!(!may_become(end, *from));
            }
        }
    }
}
