//! Assembly of a formula with the facts of its materials from the database.

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::assembled::{assemble_and_evaluate, assemble_and_restore};
use judgement::{Assembled, Written};
use materia::Material;
use release::Frozen;
use schema::{revision, revision_nested};
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::ids::FormulaId;

/// Which version of the facts of materials a calculation uses.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum FactsAsOf {
    /// The versions that the formula was saved with, so that the result is that of the approval.
    Writing,
    /// The current versions, which cautions must be based on.
    Now,
}

/// IDs of the revisions nested in a formula at every level, in ascending order.
///
/// # Errors
/// Returns the errors of the database.
pub async fn below(tx: &mut Tx<'_>, written: &Written) -> Result<Vec<Uuid>> {
    and_below(tx, written.nested().map(|id| id.0).collect()).await
}

/// These frozen revisions and those nested in them at every level, in ascending order.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn and_below(tx: &mut Tx<'_>, mut ids: Vec<Uuid>) -> Result<Vec<Uuid>> {
    if !ids.is_empty() {
        let deeper: Vec<Uuid> = revision_nested::table
            .filter(revision_nested::revision_id.eq_any(&ids))
            .select(revision_nested::nested_id)
            .distinct()
            .load(tx.conn())
            .await?;
        ids.extend(deeper);
        ids.sort_unstable();
        ids.dedup();
    }
    Ok(ids)
}

/// Assembles and evaluates a formula, off the executor, with its nested revisions and the facts `as_of`.
///
/// A formula that the current facts do not allow to be evaluated is evaluated with those it was saved with;
/// `worked_out` is then `false`.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every refused amount and every problem of the formula as a whole.
pub async fn with_facts(
    tx: &mut Tx<'_>,
    id: FormulaId,
    written: &Written,
    nested: impl Into<HashMap<Uuid, Written>>,
    as_of: FactsAsOf,
) -> Result<Assembled> {
    let gathered = gathered(tx, id, written.clone(), nested.into(), as_of).await?;
    if as_of == FactsAsOf::Writing {
        return tx.calculate(move || Ok(gathered.evaluate()?)).await;
    }
    let (first, now) = (gathered.clone(), gathered.materials.clone());
    match tx.calculate(move || Ok(first.evaluate()?)).await {
        // The problems reveal amounts, and the person who changed a fact may not read every formula.
        Err(Error::Invalid(_)) => {
            let then = materials::facts_of(tx, wanted(written, &gathered.nested)).await?;
            let gathered = Gathered { materials: then, ..gathered };
            let whole = tx.calculate(move || Ok(gathered.evaluate()?)).await?;
            Ok(whole.not_worked_out_with(now))
        }
        other => other,
    }
}

/// A formula with all that is needed to evaluate it, so that no database is asked meanwhile.
#[derive(Clone)]
pub(crate) struct Gathered {
    id: FormulaId,
    /// What was written in the formula itself.
    pub(crate) written: Written,
    nested: HashMap<Uuid, Written>,
    formulas: HashMap<Uuid, Uuid>,
    materials: HashMap<(Uuid, i32), Arc<Material>>,
}

impl Gathered {
    /// Assembles and evaluates the formula.
    ///
    /// # Errors
    /// As [`assemble_and_evaluate`].
    pub(crate) fn evaluate(self) -> judgement::Result<Assembled> {
        assemble_and_evaluate(self.id, &self.written, self.nested, &self.formulas, self.materials)
    }
}

/// Gathers what the evaluation of a formula needs. Cost: two statements, at any depth.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn gathered(
    tx: &mut Tx<'_>,
    id: FormulaId,
    written: Written,
    nested: HashMap<Uuid, Written>,
    as_of: FactsAsOf,
) -> Result<Gathered> {
    let formulas = formulas(tx, &nested).await?;
    let wanted = wanted(&written, &nested);
    let materials = match as_of {
        FactsAsOf::Writing => materials::facts_of(tx, wanted).await?,
        FactsAsOf::Now => materials::facts_now(tx, wanted.iter().copied()).await?,
    };
    Ok(Gathered { id, written, nested, formulas, materials })
}

/// Assembles a frozen formula with the facts it was saved with and the results stored when it was frozen. A revision
/// without a stored result is evaluated.
///
/// # Errors
/// Returns [`store::Error::Internal`] if a result cannot be read or belongs to another formula.
pub async fn restored(
    tx: &mut Tx<'_>,
    (id, revision): (FormulaId, Uuid),
    frozen: &Frozen<Written>,
) -> Result<Assembled> {
    let Frozen { written, nested, results } = frozen;
    if !results.contains_key(&revision) {
        return with_facts(tx, id, written, nested.clone(), FactsAsOf::Writing).await;
    }
    let formulas = formulas(tx, nested).await?;
    let materials = materials::facts_of(tx, wanted(written, nested)).await?;
    let (written, nested, results) = (written.clone(), nested.clone(), results.clone());
    tx.calculate(move || {
        Ok(assemble_and_restore((id, revision), &written, nested, &formulas, materials, &results)?)
    })
    .await
}

/// The formula of every nested revision.
async fn formulas(tx: &mut Tx<'_>, nested: &HashMap<Uuid, Written>) -> Result<HashMap<Uuid, Uuid>> {
    if nested.is_empty() {
        return Ok(HashMap::new());
    }
    let rows: Vec<(Uuid, Uuid)> = revision::table
        .filter(revision::id.eq_any(nested.keys()))
        .select((revision::id, revision::formula_id))
        .load(tx.conn())
        .await?;
    Ok(rows.into_iter().collect())
}

/// Every material at every level once, in the version it was saved with.
fn wanted(written: &Written, nested: &HashMap<Uuid, Written>) -> Vec<(Uuid, i32)> {
    let all = nested.values().chain(std::iter::once(written)).flat_map(Written::materials);
    all.collect::<BTreeSet<_>>().into_iter().collect()
}
