//! Drafts: reading, changing and evaluating them. Only the author may do so.

use std::collections::HashMap;
use std::sync::Arc;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::dating::{Dated, switched_off, use_by};
use judgement::figures::Detail;
use judgement::{Observed, Written, evaluation};
use locks::{Locks, Mode, lock};
use release::{Draft, ForRules, Released, content};
use schema::revision;
use store::{Credentials, Error, NewEvent, Result, Store, Tx, Versioned};
use uuid::Uuid;
use wire::calculations::use_by::UseByAnswer;
use wire::formulary::{FormulaContent, RevisionState};
use wire::ids::{FormulaId, RevisionId};
use wire::people::Scope;
use wire::recipe::{CompositionBasis, Evaluate, Evaluation};

use crate::assemble::{self, FactsAsOf, Gathered};
use crate::facts::{Facts, visible};
use crate::gate;
use crate::kept::REVISION;
use crate::names::preparation_name;
use crate::resolve::{resolve, resolve_trial};

/// The caller's own draft with the proof of authorship.
async fn own<'t>(tx: &mut Tx<'t>, id: RevisionId) -> Result<(Facts, Draft<'t>)> {
    let facts = visible(tx, id).await?;
    let me = tx.instructor()?;
    if facts.author != me.id() {
        return Err(Error::NotFound("draft"));
    }
    if facts.state != RevisionState::Draft {
        return Err(Error::state(
            facts.state,
            format!("This revision is {} and can no longer be edited. Start a new revision.", facts.state),
        ));
    }
    let draft = content::draft(tx, me, id).await?.ok_or(Error::NotFound("draft"))?;
    Ok((facts, draft))
}

/// The content of the caller's own draft, as entered.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller is not its author, and [`Error::State`] if it is no longer a draft.
pub async fn draft(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<Versioned<Released<FormulaContent>>> {
    store
        .read(credentials, async |tx| {
            let (facts, draft) = own(tx, id).await?;
            let written = content::draft_content::<Written>(tx, &draft).await?;
            Ok(Versioned { version: facts.version, value: written.map(|written| written.content.into()) })
        })
        .await
}

/// Replaces the content of the caller's own draft.
///
/// # Errors
/// As [`draft`], [`Error::PreconditionFailed`] if `version` is not the current one, and [`Error::Invalid`] with every
/// refused field. The draft is then unchanged.
pub async fn draft_change(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
    version: i64,
    content: &FormulaContent,
) -> Result<Versioned<Released<FormulaContent>>> {
    store
        .write(credentials, async |tx| {
            lock(tx, Locks::new().revision(id, Mode::Exclusive)).await?;
            let (facts, draft) = own(tx, id).await?;
            if facts.version != version {
                return Err(Error::PreconditionFailed);
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
            // No digest before the proposal: without its salt, small content could be guessed from the digest.
            tx.record(NewEvent::new("revision", id.0, "draft_changed").keeps(&REVISION, [id.0]));
            let stored = content::draft_content::<Written>(tx, &draft).await?;
            Ok(Versioned { version: version + 1, value: stored.map(|written| written.content.into()) })
        })
        .await
}

/// Adapts the JSON pointers of refused fields: the body of this request is the content itself, without a `content`
/// field.
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

/// The evaluation of the caller's own draft.
///
/// # Errors
/// As [`draft`], and [`Error::GateClosed`] if the author no longer holds a grant for a nested revision.
pub async fn draft_evaluation(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
    basis: CompositionBasis,
    detail: Detail,
) -> Result<Released<Evaluation>> {
    let gathered = store
        .read(credentials, async |tx| {
            let (facts, draft) = own(tx, id).await?;
            let written = content::draft_content::<Written>(tx, &draft).await?;
            released(tx, facts.formula, written.content()).await
        })
        .await?;
    evaluated(store, gathered, basis, detail).await
}

/// Evaluates a formula without storing it. It may nest drafts of the caller's own, which need no approval: their author
/// knows what they hold. What these nest is released as for any other formula.
///
/// # Errors
/// Returns [`Error::Invalid`] with every refused field, [`Error::GateClosed`] if the caller holds no grant for a nested
/// revision, and [`Error::Forbidden`] if an API client lacks the scope.
pub async fn evaluate(
    store: &Store,
    credentials: &Credentials,
    request: &Evaluate,
    detail: Detail,
) -> Result<Released<Evaluation>> {
    let gathered = store.read(credentials, async |tx| trial(tx, request).await).await?;
    evaluated(store, gathered, request.composition, detail).await
}

/// As [`evaluate`], with the use-by date of what would be made on `made_on`, by the rules of the clinic that are in force.
///
/// # Errors
/// As [`evaluate`].
pub async fn evaluate_dated(
    store: &Store,
    credentials: &Credentials,
    request: &Evaluate,
    made_on: NaiveDate,
    detail: Detail,
) -> Result<Released<(Evaluation, UseByAnswer)>> {
    let (gathered, rules) =
        store.read(credentials, async |tx| Ok((trial(tx, request).await?, policy::rules(tx).await?))).await?;
    let (reference, basis) = (Arc::clone(&store.reference), request.composition);
    let work = move |gathered: Gathered| {
        let written = gathered.written.clone();
        let whole = gathered.evaluate()?;
        let of = Dated {
            made_on,
            evaluation: &whole.evaluation,
            observed: &Observed::as_written(&written.content),
            lots: Vec::new(),
            switched_off: &switched_off(&rules.dating_sets_off),
        };
        let dated = use_by(&reference, &written, &whole, of, detail)?;
        Ok((evaluation::of_formula(&reference, &written, &whole, basis, detail)?, dated))
    };
    store.calculations.run(move || gathered.try_map(work)).await
}

/// A formula that is not stored, with what its evaluation needs.
async fn trial(tx: &mut Tx<'_>, request: &Evaluate) -> Result<Released<Gathered>> {
    // The evaluation reveals the content of nested revisions, so it requires the scope for recipes.
    tx.require_scope(Scope::RecipesRead)?;
    let written = resolve_trial(tx, &request.content).await?;
    let id = FormulaId(tx.new_id());
    let nested = nested_of_trial(tx, &written).await?;
    let of = nested.content().clone();
    let gathered = assemble::gathered(tx, id, written, of, FactsAsOf::Writing).await?;
    Ok(nested.map(|_| gathered))
}

/// The revisions nested in a trial at every level: the caller's own drafts, and frozen ones with a grant for each.
async fn nested_of_trial(tx: &mut Tx<'_>, written: &Written) -> Result<Released<HashMap<Uuid, Written>>> {
    let (mut drafts, mut frozen) = (HashMap::new(), Vec::new());
    for id in written.nested() {
        match own_content(tx, id).await? {
            Some(draft) => {
                frozen.extend(draft.nested().map(|id| id.0));
                drafts.insert(id.0, draft);
            }
            None => frozen.push(id.0),
        }
    }
    let ids = assemble::and_below(tx, frozen).await?;
    let open = gate::open_all(tx, ids).await?;
    let released = content::nested_released::<Written>(tx, &open).await?;
    Ok(released.map(|mut all| {
        all.extend(drafts);
        all
    }))
}

/// The content of a draft, for its author; `None` where it is no draft of the caller's.
async fn own_content(tx: &mut Tx<'_>, id: RevisionId) -> Result<Option<Written>> {
    let Ok(me) = tx.instructor() else { return Ok(None) };
    let Some(draft) = content::draft(tx, me, id).await? else { return Ok(None) };
    let written = content::draft_content::<Written>(tx, &draft).await?;
    Ok(Some(written.content().clone()))
}

/// Checks that a formula can be evaluated and that its author holds a grant for every nested revision.
///
/// # Errors
/// Returns [`Error::Invalid`] with every refused amount and every problem of the formula, and [`Error::GateClosed`] or
/// [`Error::State`] for a nested revision.
pub(crate) async fn check(tx: &mut Tx<'_>, id: FormulaId, written: &Written) -> Result<()> {
    let gathered = released(tx, id, written).await?;
    tx.calculate(move || gathered.try_map(|gathered| Ok(gathered.evaluate()?)).map(drop)).await
}

/// The formula with what its evaluation needs. Requires a grant for every revision nested at any level, because the shares
/// of the leaves reveal their amounts.
async fn released(tx: &mut Tx<'_>, id: FormulaId, written: &Written) -> Result<Released<Gathered>> {
    let nested = nested_released(tx, written).await?;
    let of = nested.content().clone();
    let gathered = assemble::gathered(tx, id, written.clone(), of, FactsAsOf::Writing).await?;
    Ok(nested.map(|_| gathered))
}

/// The revisions nested in an author's formula at every level. Requires a grant for each.
///
/// # Errors
/// Returns [`Error::GateClosed`] or [`Error::State`] for a nested revision.
pub(crate) async fn nested_released(
    tx: &mut Tx<'_>,
    written: &Written,
) -> Result<Released<HashMap<Uuid, Written>>> {
    let ids = assemble::below(tx, written).await?;
    let open = gate::open_all(tx, ids).await?;
    content::nested_released(tx, &open).await
}

/// The evaluation of a formula, after the transaction that it was read in: no connection waits for it.
async fn evaluated(
    store: &Store,
    gathered: Released<Gathered>,
    basis: CompositionBasis,
    detail: Detail,
) -> Result<Released<Evaluation>> {
    let reference = Arc::clone(&store.reference);
    let work = move |gathered: Gathered| {
        let written = gathered.written.clone();
        let whole = gathered.evaluate()?;
        Ok(evaluation::of_formula(&reference, &written, &whole, basis, detail)?)
    };
    store.calculations.run(move || gathered.try_map(work)).await
}
