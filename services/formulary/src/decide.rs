//! States of a revision: proposed, returned or approved, superseded, withdrawn. Only `set` and [`propose`] change them.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use release::kept::CONTENT;
use release::{Grant, content, grants};
use schema::{formula, revision, revision_nested};
use serde_json::json;
use store::{Credentials, Error, NewEvent, Result, Store, Tx, Versioned};
use uuid::Uuid;
use wire::formulary::{Decide, Decision, Revision, RevisionState, Withdraw};
use wire::ids::{FormulaId, PersonId, RevisionId};

use crate::facts::{Facts, facts, visible};
use crate::freeze::{directly_nested, freeze, may_be_approved, nested_in_draft};
use crate::kept::{CAUTION_READING, CAUTION_SET, FORMULA, GATE, REVISION};
use crate::revisions;
use crate::withholding;
use crate::{formulas, gate, signing};

/// The permitted transitions.
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
    if facts.state == to {
        return Err(Error::state(facts.state, format!("This revision is already {to}.")));
    }
    let wanted: Vec<&str> =
        RevisionState::ALL.iter().filter(|from| may_become(**from, to)).map(|from| from.as_str()).collect();
    Err(Error::state(
        facts.state,
        format!(
            "This revision is {}. Only a revision that is {} can become {to}.",
            facts.state,
            wanted.join(" or ")
        ),
    ))
}

/// Proposes a draft: freezes its content, and stores its digest and its first caution set.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, [`Error::Forbidden`] if the caller is not its
/// author, [`Error::State`] if it is not a draft, [`Error::PreconditionFailed`] if `version` is not the current one,
/// [`Error::Invalid`] if it cannot be evaluated, [`Error::Conflict`] if an ingredient may no longer be used, and
/// [`Error::GateClosed`] if the author no longer holds a grant for a nested revision.
pub async fn propose(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
    version: i64,
) -> Result<Versioned<Revision>> {
    store
        .write(credentials, async |tx| {
            may_be_proposed(tx, id, version).await?;
            let me = tx.instructor()?;
            let nested = nested_in_draft(tx, me, id).await?;
            let settled = Locks::new().settling(Mode::Shared);
            lock(tx, settled.revision(id, Mode::Exclusive).revisions(nested, Mode::Shared)).await?;
            let facts = may_be_proposed(tx, id, version).await?;
            let digest = freeze(tx, me, &facts).await?;
            let now = tx.now();
            diesel::update(revision::table.find(id.0))
                .set((
                    revision::state.eq("proposed"),
                    revision::digest.eq(&digest[..]),
                    revision::proposed_at.eq(now),
                    revision::version.eq(version + 1),
                ))
                .execute(tx.conn())
                .await?;
            tx.record(
                NewEvent::new("revision", id.0, "proposed")
                    .after(digest)
                    .keeps(&REVISION, [id.0])
                    .keeps(&CONTENT, [id.0])
                    .keeps(&CAUTION_SET, [id.0.to_string(), "1".to_owned()])
                    .keeps(&CAUTION_READING, [id.0.to_string(), "1".to_owned()])
                    .keeps(&GATE, [id.0]),
            );
            revisions::show(tx, id).await
        })
        .await
}

/// The facts of a draft that the caller wrote and that is in this version.
async fn may_be_proposed(tx: &mut Tx<'_>, id: RevisionId, version: i64) -> Result<Facts> {
    let facts = visible(tx, id).await?;
    if tx.instructor()?.id() != facts.author {
        return Err(Error::Forbidden("Only the author may propose this draft.".into()));
    }
    check(&facts, RevisionState::Proposed)?;
    if facts.version != version {
        return Err(Error::PreconditionFailed);
    }
    Ok(facts)
}

/// Locks the formula, then the revision with the approved one and everything that it is directly made from, all by ID.
async fn locked(tx: &mut Tx<'_>, id: RevisionId) -> Result<Facts> {
    let formula = visible(tx, id).await?.formula;
    lock(tx, Locks::new().formula(formula)).await?;
    let approved = approved(tx, formula).await?;
    let revisions = Locks::new().revisions(directly_nested(tx, id).await?, Mode::Shared);
    lock(tx, revisions.revisions(approved, Mode::Exclusive).revision(id, Mode::Exclusive)).await?;
    visible(tx, id).await
}

/// The approved revision of a formula.
async fn approved(tx: &mut Tx<'_>, id: FormulaId) -> Result<Option<Uuid>> {
    Ok(formula::table.find(id.0).select(formula::approved_revision_id).first(tx.conn()).await?)
}

/// Returns or approves a proposed revision. The caller must hold a grant for it, which requires acknowledging its
/// cautions.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, and for an approval by the author while the policy
/// demands a second person. Returns [`Error::State`] if the revision is not proposed or a stop blocks its approval,
/// [`Error::Conflict`] if an ingredient may no longer be used, [`Error::GateClosed`] without a grant, and
/// [`Error::Invalid`] for a refused comment.
pub async fn decide(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
    request: &Decide,
) -> Result<Versioned<Revision>> {
    store
        .write(credentials, async |tx| {
            if request.decision == Decision::Approve {
                signing::lock_rules(tx).await?;
            }
            let facts = locked(tx, id).await?;
            let me = tx.instructor()?;
            let to = match request.decision {
                Decision::Return => RevisionState::Returned,
                Decision::Approve => RevisionState::Approved,
            };
            check(&facts, to)?;
            let own = me.id() == facts.author;
            if own && request.decision == Decision::Approve {
                own_approval(tx, request).await?;
            }
            if request.decision == Decision::Return && request.comment.trim().is_empty() {
                return Err(Error::field(
                    "/comment",
                    "Describe the change you want, in 1 to 4000 characters.",
                ));
            }
            if request.comment.chars().count() > 4000 {
                return Err(Error::field("/comment", "Enter at most 4000 characters."));
            }
            // A decision requires a grant, so that the caller has seen the content and its cautions.
            let passed = gate::open(tx, id).await?;
            if !request.comment.trim().is_empty() {
                content::comment_insert(tx, id, me, request.decision.as_str(), request.comment.trim())
                    .await?;
            }
            match request.decision {
                Decision::Return => send_back(tx, &facts, me.id()).await?,
                Decision::Approve => approve(tx, &facts, me.id(), own, &passed.grant).await?,
            }
            revisions::show(tx, id).await
        })
        .await
}

/// Checks an approval by the author: the policy must permit it, and the author must give a reason.
async fn own_approval(tx: &mut Tx<'_>, request: &Decide) -> Result<()> {
    if policy::rules(tx).await?.second_person {
        return Err(Error::Forbidden("You may not approve your own formula. Ask another instructor.".into()));
    }
    if request.comment.trim().is_empty() {
        return Err(Error::field(
            "/comment",
            "State why you approve your own formula, in 1 to 4000 characters.",
        ));
    }
    Ok(())
}

async fn set(tx: &mut Tx<'_>, facts: &Facts, to: RevisionState, by: PersonId, own: bool) -> Result<()> {
    let now = tx.now();
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
    let mut event = NewEvent::new("revision", facts.id.0, to.as_str())
        .before(facts.digest)
        .after(facts.digest)
        .keeps(&REVISION, [facts.id.0])
        .keeps(&FORMULA, [facts.formula.0]);
    if own {
        event = event.detail(json!({ "note": "approved by its author" }));
    }
    tx.record(event);
    Ok(())
}

async fn send_back(tx: &mut Tx<'_>, facts: &Facts, by: PersonId) -> Result<()> {
    set(tx, facts, RevisionState::Returned, by, false).await?;
    formulas::draft_again(tx, facts).await
}

async fn approve(
    tx: &mut Tx<'_>,
    approved: &Facts,
    by: PersonId,
    own: bool,
    grant: &Grant<'_>,
) -> Result<()> {
    may_be_approved(tx, approved.id, grant).await?;
    let before = self::approved(tx, approved.formula).await?;
    lock(tx, Locks::new().grants(before.into_iter().chain([approved.id.0]))).await?;
    if let Some(before) = before {
        let before = facts(tx, RevisionId(before)).await?;
        check(&before, RevisionState::Superseded)?;
        let by_before = before.decided_by.unwrap_or(by);
        let own_before = before.own_approval;
        set(tx, &before, RevisionState::Superseded, by_before, own_before).await?;
        close(tx, before.id, "superseded").await?;
    }
    set(tx, approved, RevisionState::Approved, by, own).await?;
    diesel::update(formula::table.find(approved.formula.0))
        .set((
            formula::approved_revision_id.eq(approved.id.0),
            formula::title.eq(&approved.title),
            formula::preparation.eq(&approved.preparation),
        ))
        .execute(tx.conn())
        .await?;
    let unsigned = signing::unsigned(tx, approved.id).await?;
    grants::decided_to_make(tx, approved.id, &unsigned).await
}

/// Deletes every grant for a revision and ends its withholding. For a withdrawn revision, the grants for all revisions
/// that contain it are deleted too.
async fn close(tx: &mut Tx<'_>, id: RevisionId, why: &'static str) -> Result<()> {
    let mut ids = vec![id.0];
    withholding::ended(tx, id).await?;
    if why == "withdrawn" {
        let made_from: Vec<Uuid> = revision_nested::table
            .filter(revision_nested::nested_id.eq(id.0))
            .select(revision_nested::revision_id)
            .load(tx.conn())
            .await?;
        ids.extend(made_from);
    }
    grants::close_revisions(tx, &ids, why).await
}

/// Withdraws an approved revision. Deletes the grants for it and for all revisions that contain it in the same
/// transaction.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, [`Error::Forbidden`] unless the caller is an
/// instructor, [`Error::State`] if the revision is not approved, and [`Error::Invalid`] for a refused reason.
pub async fn withdraw(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
    request: &Withdraw,
) -> Result<Versioned<Revision>> {
    store
        .write(credentials, async |tx| {
            let facts = locked(tx, id).await?;
            let me = tx.instructor()?;
            check(&facts, RevisionState::Withdrawn)?;
            if !(1..=4000).contains(&request.reason.trim().chars().count()) {
                return Err(Error::field("/reason", "State the reason, in 1 to 4000 characters."));
            }
            content::comment_insert(tx, id, me, "withdraw", request.reason.trim()).await?;
            diesel::update(formula::table.find(facts.formula.0))
                .set(formula::approved_revision_id.eq(None::<Uuid>))
                .execute(tx.conn())
                .await?;
            let own = facts.own_approval;
            set(tx, &facts, RevisionState::Withdrawn, facts.decided_by.unwrap_or(me.id()), own).await?;
            close(tx, id, "withdrawn").await?;
            revisions::show(tx, id).await
        })
        .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_final_state_permits_no_transition() {
        for from in RevisionState::ALL {
            assert!(!may_become(*from, RevisionState::Draft));
            for end in [RevisionState::Returned, RevisionState::Superseded, RevisionState::Withdrawn] {
                assert!(!may_become(end, *from));
            }
        }
    }
}
