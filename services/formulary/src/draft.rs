//! Drafts: their authors read, change and evaluate them. Nobody else does.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::revision;
use store::{Claim, Error, NewEvent, Result, Store, Tx, Versioned};
use wire::formulary::{FormulaContent, RevisionState};
use wire::ids::{FormulaId, RevisionId};
use wire::people::Scope;
use wire::recipe::{Evaluate, Evaluation};

use super::{Released, assemble, evaluation, gate, store};
use formulary::{self, Facts, Written};

/// The caller's own draft. A revision that is no longer a draft is read as everybody reads it.
async fn own(tx: &mut Tx<'_>, id: RevisionId, lock: bool) -> Result<Facts> {
    let facts = formulary::visible(tx, id, lock).await?;
    let me = tx.instructor()?;
    if facts.author != me.id {
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
    Ok(facts)
}

/// Keeps the first content of a draft.
pub(crate) async fn draft_insert(tx: &mut Tx<'_>, id: RevisionId, written: &Written) -> Result<()> {
    store::insert(tx, id, written).await
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
            let facts = own(tx, id, false).await?;
            let content = store::written(tx, id).await?.content;
            Ok(Versioned { version: facts.version, value: Released::new(content) })
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
            let facts = own(tx, id, true).await?;
            if facts.version != version {
                return Err(Error::Stale);
            }
            let written = formulary::resolve(tx, content).await.map_err(whole_body)?;
            assemble::check(tx, facts.formula, &written).await.map_err(whole_body)?;
            store::replace(tx, id, &written).await?;
            diesel::update(revision::table.find(id.0))
                .set((
                    revision::title.eq(content.title.trim()),
                    revision::preparation.eq(formulary::preparation_name(tx, &written)),
                    revision::route.eq(&content.route),
                    revision::regime.eq(content.regime.as_str()),
                    revision::version.eq(version + 1),
                ))
                .execute(tx.conn())
                .await?;
            // No digest yet: without the random part that comes with proposing, small content could be guessed.
            tx.record(NewEvent::new("revision", id.0, "draft_changed"));
            Ok(Versioned { version: version + 1, value: Released::new(written.content) })
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
pub async fn draft_evaluation(
    store: &Store,
    claim: &Claim,
    id: RevisionId,
) -> Result<Released<Evaluation>> {
    store
        .read(claim, async |tx| {
            let facts = own(tx, id, false).await?;
            let written = store::written(tx, id).await?;
            evaluated(tx, facts.formula, &written).await
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
            let written = formulary::resolve(tx, &request.content).await?;
            let id = FormulaId(tx.new_id());
            evaluated(tx, id, &written).await
        })
        .await
}

/// Needs the door of every revision nested at any level: the leaves tell their amounts too.
async fn evaluated(tx: &mut Tx<'_>, id: FormulaId, written: &Written) -> Result<Released<Evaluation>> {
    let whole = assemble::assemble(tx, id, written).await?;
    for nested in whole.nested.keys() {
        gate::open_nested(tx, RevisionId(*nested)).await?;
    }
    Ok(Released::new(evaluation::of_formula(tx.reference, written, &whole)?))
}
