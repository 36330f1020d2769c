//! Freezing a draft: its digest, its caution set, its open face, and the index of what it contains.

use canonical::Sha;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::cautions::contained_materials;
use judgement::{Assembled, Ingredient, Written, evaluation};
use release::{Exit, ForRules, Grant, content};
use schema::{revision, revision_ingredient, revision_material, revision_nested};
use serde_json::json;
use store::{Error, Instructor, Result, Tx};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::RevisionId;
use wire::safety::CautionLevel;

use crate::assemble::{self, FactsAsOf};
use crate::facts::Facts;
use crate::present::present;
use crate::sets;
use crate::turns::while_settled;
use crate::withholding::withheld_since;

/// The engine that evaluated, kept beside every evaluation.
const ENGINE: &str = concat!("galenics ", env!("CARGO_PKG_VERSION"));

/// Freezes what the author's draft holds now and answers its digest.
pub(crate) async fn freeze<'t>(tx: &mut Tx<'t>, author: Instructor<'t>, facts: &Facts) -> Result<Sha> {
    while_settled(tx).await?;
    let draft = content::draft(tx, author, facts.id).await?.ok_or(Error::NotFound("draft"))?;
    let draft_content = content::draft_content::<Written>(tx, &draft).await?;
    let written = draft_content.content();
    for nested in written.nested() {
        still_approved(tx, nested).await?;
    }
    let nested = content::draft_nested::<Written>(tx, &draft, Exit::Freezing).await?;
    let whole = assemble::with_facts(tx, facts.formula, written, nested.clone(), FactsAsOf::Writing).await?;
    let evaluated = json!({
        "engine": ENGINE,
        "reference": tx.reference.version.number.to_string(),
        "evaluation": evaluation::of_formula(tx.reference, written, &whole)?,
    });
    let digest = content::freeze(tx, &draft, written, &evaluated.to_string()).await?;
    open_face(tx, facts.id, written).await?;
    contains(tx, facts.id, written, &whole).await?;
    // The cautions are those of what is known now, the content is what was written.
    let present = present(tx, facts, written, nested).await?;
    sets::put(tx, facts.id, 1, &present).await?;
    Ok(digest)
}

async fn still_approved(tx: &mut Tx<'_>, nested: RevisionId) -> Result<()> {
    let (state, title): (String, String) = revision::table
        .find(nested.0)
        .select((revision::state, revision::title))
        .for_share()
        .first(tx.conn())
        .await?;
    if state == RevisionState::Approved.as_str() {
        return match withheld_since(tx, nested).await? {
            None => Ok(()),
            Some(_) => Err(Error::Conflict(format!(
                "{title:?}, which this is made from, is withheld: an instructor decides about it first"
            ))),
        };
    }
    Err(Error::Conflict(format!(
        "the revision of {title:?} that this draft is made from is {state} now: save the draft again to take the approved one"
    )))
}

/// Writes what members may see without acknowledging: names, functions and their order.
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

/// Refuses an approval while a `stop` stands, or while something it is made from is no longer approved.
/// The grant shows that whoever approves has been shown the cautions.
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
            format!("a stop blocks approval until it is resolved: {}", stops.join(" ")),
        ));
    }
    let direct: Vec<Uuid> = revision_ingredient::table
        .filter(revision_ingredient::revision_id.eq(id.0))
        .filter(revision_ingredient::nested_revision_id.is_not_null())
        .select(revision_ingredient::nested_revision_id.assume_not_null())
        .distinct()
        .load(tx.conn())
        .await?;
    for nested in direct {
        still_approved(tx, RevisionId(nested)).await?;
    }
    // Deeper down an older revision may stand, but not one that was taken back.
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
            "{title:?}, which this is made from at some depth, was withdrawn: return it, and revise what nests it first"
        ))),
    }
}
