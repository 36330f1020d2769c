//! Freezing of a draft: digest, caution set, open part and index of ingredients.

use std::collections::BTreeSet;

use canonical::Sha;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::kept::KeptEvaluation;
use judgement::cautions::contained_materials;
use judgement::{Assembled, Ingredient, Written};
use locks::require_revision;
use release::content::Computed;
use release::{ForRules, Grant, content};
use schema::{revision, revision_ingredient, revision_material, revision_nested};
use store::{Error, Instructor, Result, Tx};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::RevisionId;
use wire::safety::CautionLevel;

use crate::assemble::{self, FactsAsOf};
use crate::draft::nested_released;
use crate::facts::Facts;
use crate::present::present;
use crate::sets;
use crate::withholding::withheld_since;

/// Freezes the content of the author's draft and returns its digest.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no draft, [`Error::Conflict`] if an ingredient is no longer approved,
/// [`Error::GateClosed`] if the author no longer holds a grant for a nested revision, and [`Error::Invalid`] if the
/// formula cannot be evaluated.
pub(crate) async fn freeze<'t>(tx: &mut Tx<'t>, author: Instructor<'t>, facts: &Facts) -> Result<Sha> {
    let draft = content::draft(tx, author, facts.id).await?.ok_or(Error::NotFound("draft"))?;
    let draft_content = content::draft_content::<Written>(tx, &draft).await?;
    let written = draft_content.content();
    for nested in written.nested().collect::<BTreeSet<_>>() {
        still_approved(tx, nested).await?;
    }
    let nested = nested_released(tx, written).await?;
    let nested = nested.content().clone();
    let whole = assemble::with_facts(tx, facts.formula, written, nested.clone(), FactsAsOf::Writing).await?;
    let (whole, computed) = computed(tx, whole).await?;
    let digest = content::freeze(tx, &draft, written, &computed).await?;
    open_face(tx, facts.id, written).await?;
    contains(tx, facts.id, written, &whole).await?;
    // The cautions use the current facts, the frozen evaluation those that the draft was saved with.
    let present = present(tx, facts, written, nested).await?;
    sets::put(tx, facts.id, 1, &present).await?;
    Ok(digest)
}

/// The stored form of an evaluation, with the version of the calculations.
///
/// # Errors
/// Returns [`Error::Internal`] if the evaluation cannot be stored.
pub(crate) async fn computed(tx: &Tx<'_>, whole: Assembled) -> Result<(Assembled, Computed)> {
    tx.calculate(move || {
        let (engine, result) = KeptEvaluation::of(&whole.formula, &whole.evaluation)
            .and_then(|kept| Ok((kept.engine(), kept.to_json()?)))
            .map_err(|problem| Error::internal(problem.to_string()))?;
        Ok((whole, Computed { engine: i32::try_from(engine).unwrap_or(i32::MAX), result }))
    })
    .await
}

/// The revisions that the author's draft nests directly.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no draft.
pub(crate) async fn nested_in_draft<'t>(
    tx: &mut Tx<'t>,
    author: Instructor<'t>,
    id: RevisionId,
) -> Result<Vec<Uuid>> {
    let draft = content::draft(tx, author, id).await?.ok_or(Error::NotFound("draft"))?;
    let content = content::draft_content::<Written>(tx, &draft).await?;
    Ok(content.content().nested().map(|id| id.0).collect())
}

/// The revisions that a frozen revision nests directly.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn directly_nested(tx: &mut Tx<'_>, id: RevisionId) -> Result<Vec<Uuid>> {
    Ok(revision_ingredient::table
        .filter(revision_ingredient::revision_id.eq(id.0))
        .filter(revision_ingredient::nested_revision_id.is_not_null())
        .select(revision_ingredient::nested_revision_id.assume_not_null())
        .distinct()
        .load(tx.conn())
        .await?)
}

/// Checks that a nested revision is approved. The transaction holds it as it is.
async fn still_approved(tx: &mut Tx<'_>, nested: RevisionId) -> Result<()> {
    require_revision(tx, nested)?;
    let (state, title): (String, String) =
        revision::table.find(nested.0).select((revision::state, revision::title)).first(tx.conn()).await?;
    if state == RevisionState::Approved.as_str() {
        return match withheld_since(tx, nested).await? {
            None => Ok(()),
            Some(_) => Err(Error::Conflict(format!(
                "{title:?}, an ingredient of this formula, is withheld. An instructor must decide on it first."
            ))),
        };
    }
    Err(Error::Conflict(format!(
        "The revision of {title:?} used in this draft is now {state}. Save the draft again to use the approved revision."
    )))
}

/// Writes the open part of a revision: names and functions of its ingredients, in order.
async fn open_face(tx: &mut Tx<'_>, id: RevisionId, written: &Written) -> Result<()> {
    for (p, (phase, ingredients)) in written.content.phases.iter().zip(&written.ingredients).enumerate() {
        for (l, (line, ingredient)) in phase.lines.iter().zip(ingredients).enumerate() {
            let (material, version, nested) = match ingredient {
                Ingredient::Material { id, version, .. } => (Some(*id), Some(*version), None),
                Ingredient::Revision { id, .. } => (None, None, Some(*id)),
            };
            diesel::insert_into(revision_ingredient::table)
                .values((
                    revision_ingredient::revision_id.eq(id.0),
                    revision_ingredient::phase.eq(position(p)?),
                    revision_ingredient::line.eq(position(l)?),
                    revision_ingredient::phase_name.eq(&phase.name),
                    revision_ingredient::name.eq(ingredient.name()),
                    revision_ingredient::function.eq(&line.function),
                    revision_ingredient::material_id.eq(material),
                    revision_ingredient::material_version.eq(version),
                    revision_ingredient::nested_revision_id.eq(nested),
                ))
                .execute(tx.conn())
                .await?;
        }
    }
    Ok(())
}

/// A position counted from 1.
fn position(index: usize) -> Result<i16> {
    i16::try_from(index + 1).map_err(|_| Error::internal("more lines than a formula can have"))
}

async fn contains(tx: &mut Tx<'_>, id: RevisionId, written: &Written, whole: &Assembled) -> Result<()> {
    let materials: Vec<_> = contained_materials(written, whole)
        .into_iter()
        .map(|material| {
            (revision_material::revision_id.eq(id.0), revision_material::material_id.eq(material))
        })
        .collect();
    diesel::insert_into(revision_material::table).values(materials).execute(tx.conn()).await?;
    let nested: Vec<_> = whole
        .nested
        .keys()
        .map(|nested| (revision_nested::revision_id.eq(id.0), revision_nested::nested_id.eq(*nested)))
        .collect();
    if !nested.is_empty() {
        diesel::insert_into(revision_nested::table).values(nested).execute(tx.conn()).await?;
    }
    Ok(())
}

/// Checks that a revision may be approved: no stop applies, and every ingredient is still approved. The grant proves
/// that the approver has seen the cautions.
///
/// # Errors
/// Returns [`Error::State`] with the stops, or [`Error::Conflict`] with the ingredient.
pub(crate) async fn may_be_approved(tx: &mut Tx<'_>, id: RevisionId, _shown: &Grant<'_>) -> Result<()> {
    let current = sets::current(tx, id).await?;
    let stops: Vec<&str> = current
        .cautions
        .iter()
        .filter(|caution| caution.level == CautionLevel::Stop)
        .map(|caution| caution.text.as_str())
        .collect();
    if !stops.is_empty() {
        return Err(Error::state(
            RevisionState::Proposed,
            format!("Approval is blocked by these stops: {} Resolve them before approving.", stops.join(" ")),
        ));
    }
    for nested in directly_nested(tx, id).await? {
        still_approved(tx, RevisionId(nested)).await?;
    }
    // Deeper levels may contain a superseded revision, but not a withdrawn one.
    let withdrawn: Option<String> = revision_nested::table
        .inner_join(revision::table.on(revision::id.eq(revision_nested::nested_id)))
        .filter(revision_nested::revision_id.eq(id.0))
        .filter(revision::state.eq(RevisionState::Withdrawn.as_str()))
        .select(revision::title)
        .first(tx.conn())
        .await
        .optional()?;
    match withdrawn {
        None => Ok(()),
        Some(title) => Err(Error::Conflict(format!(
            "{title:?}, nested in an ingredient of this formula, was withdrawn. Return this revision, and revise that \
             ingredient first."
        ))),
    }
}
