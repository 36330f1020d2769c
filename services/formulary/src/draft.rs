//! Drafts: their authors read, change and evaluate them. Nobody else does.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::{Assembled, Observed, Written, evaluation};
use release::{Draft, ForRules, Released, content};
use schema::revision;
use store::{Claim, Error, NewEvent, Result, Store, Tx, Versioned};
use wire::formulary::{FormulaContent, RevisionState};
use wire::ids::{FormulaId, RevisionId};
use wire::people::Scope;
use wire::recipe::{Evaluate, Evaluation};

use crate::assemble::{self, FactsAsOf};
use crate::facts::{Facts, visible};
use crate::gate;
use crate::kept::REVISION;
use crate::names::preparation_name;
use crate::resolve::resolve;

/// The caller's own draft. A revision that is no longer a draft is read as everybody reads it.
async fn own<'t>(tx: &mut Tx<'t>, id: RevisionId, lock: bool) -> Result<(Facts, Draft<'t>)> {
    let facts = visible(tx, id, lock).await?;
    let me = tx.instructor()?;
    if facts.author != me.id() {
        return Err(Error::NotFound("draft"));
    }
    if facts.state != RevisionState::Draft {
        return Err(Error::state(
            facts.state,
            format!(
                "this revision is {}: what was proposed never changes; begin a further revision",
                facts.state
            ),
        ));
    }
    let draft = content::draft(tx, me, id).await?.ok_or(Error::NotFound("draft"))?;
    Ok((facts, draft))
}

/// What the author wrote, as it was written.
///
/// # Errors
/// When it is not the caller's own draft.
pub async fn draft(
    store: &Store,
    claim: &Claim,
    id: RevisionId,
) -> Result<Versioned<Released<FormulaContent>>> {
    store
        .read(claim, async |tx| {
            let (facts, draft) = own(tx, id, false).await?;
            let written = content::draft_content::<Written>(tx, &draft).await?;
            Ok(Versioned { version: facts.version, value: written.map(|written| written.content.into()) })
        })
        .await
}

/// Replaces a draft's content.
///
/// # Errors
/// When it is not the caller's own draft, the version is stale, or a field was not accepted; the draft stays as it
/// was then.
pub async fn draft_change(
    store: &Store,
    claim: &Claim,
    id: RevisionId,
    version: i64,
    content: &FormulaContent,
) -> Result<Versioned<Released<FormulaContent>>> {
    store
        .write(claim, async |tx| {
            let (facts, draft) = own(tx, id, true).await?;
            if facts.version != version {
                return Err(Error::Stale);
            }
            let written = resolve(tx, content).await.map_err(whole_body)?;
            check(tx, facts.formula, &written).await.map_err(whole_body)?;
            content::draft_replace(tx, &draft, &written).await?;
            diesel::update(revision::table.find(id.0))
                .set((
                    revision::title.eq(written.content.title.trim()),
                    revision::preparation.eq(preparation_name(tx, &written)),
                    revision::route.eq(&written.content.route),
                    revision::regime.eq(written.content.regime.as_str()),
                    revision::version.eq(version + 1),
                ))
                .execute(tx.conn())
                .await?;
            // No digest yet: without the random part that comes with proposing, small content could be guessed.
            tx.record(NewEvent::new("revision", id.0, "draft_changed").keeps(&REVISION, [id.0]));
            let stored = content::draft_content::<Written>(tx, &draft).await?;
            Ok(Versioned { version: version + 1, value: stored.map(|written| written.content.into()) })
        })
        .await
}

/// A draft is sent as it is, not as the `content` of something: the pointers to its fields begin at its own root.
fn whole_body(error: Error) -> Error {
    match error {
        Error::Invalid(mut errors) => {
            for error in &mut errors {
                if let Some(within) = error.pointer.strip_prefix("/content") {
                    error.pointer = within.to_owned();
                }
            }
            Error::Invalid(errors)
        }
        other => other,
    }
}

/// How the caller's own draft comes out now.
///
/// # Errors
/// When it is not the caller's own draft, or the gate of something nested in it has closed since.
pub async fn draft_evaluation(store: &Store, claim: &Claim, id: RevisionId) -> Result<Released<Evaluation>> {
    store
        .read(claim, async |tx| {
            let (facts, draft) = own(tx, id, false).await?;
            let written = content::draft_content::<Written>(tx, &draft).await?;
            evaluated(tx, facts.formula, written.content()).await
        })
        .await
}

/// Evaluates a formula without keeping anything.
///
/// # Errors
/// When a field was not accepted, the gate of something nested in it is closed, or an API client lacks the scope.
pub async fn evaluate(store: &Store, claim: &Claim, request: &Evaluate) -> Result<Released<Evaluation>> {
    store
        .read(claim, async |tx| {
            // What is nested is worked out too, so a key without this scope would read recipes through here.
            tx.require_scope(Scope::RecipesRead)?;
            let written = resolve(tx, &request.content).await?;
            let id = FormulaId(tx.new_id());
            evaluated(tx, id, &written).await
        })
        .await
}

/// Refuses a formula that cannot be evaluated, or that is made from something that is not released to its author.
///
/// # Errors
/// Every amount that was not accepted and everything that is wrong with the formula as a whole; the gate of something
/// that it is made from.
pub(crate) async fn check(tx: &mut Tx<'_>, id: FormulaId, written: &Written) -> Result<()> {
    assembled(tx, id, written).await.map(drop)
}

/// Needs a grant for every revision nested at any level: the leaves tell their amounts too.
async fn assembled(tx: &mut Tx<'_>, id: FormulaId, written: &Written) -> Result<Released<Assembled>> {
    let ids = assemble::below(tx, written).await?;
    let open = gate::open_all(tx, ids).await?;
    let nested = content::nested_released::<Written>(tx, &open).await?;
    let whole = assemble::with_facts(tx, id, written, nested.content().clone(), FactsAsOf::Writing).await?;
    Ok(nested.map(|_| whole))
}

async fn evaluated(tx: &mut Tx<'_>, id: FormulaId, written: &Written) -> Result<Released<Evaluation>> {
    let reference = tx.reference;
    assembled(tx, id, written).await?.try_map(|whole| Ok(evaluation::of_formula(reference, written, &whole)?))
}
