//! From what was written to what can be calculated: facts of every material, and every nested formula, in place.

use std::collections::HashMap;
use std::sync::Arc;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::{Amount, Evaluation, Formula, Function, Line, MaterialFacts, Phase, Yield};
use materia::Material;
use schema::{revision, revision_nested};
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::ids::{FormulaId, RevisionId};
use wire::problem::FieldError;

use super::store;
use formulary::{Ingredient, Written};
use materials;

/// Assembles and evaluates. Cost: three statements, whatever the depth.
///
/// # Errors
/// Every amount that was not accepted and everything that is wrong with the formula as a whole.
pub(super) async fn assemble(tx: &mut Tx<'_>, id: FormulaId, written: &Written) -> Result<Assembled> {
    with_facts(tx, id, written, FactsAsOf::Writing).await
}

/// Which facts of the materials are calculated with.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum FactsAsOf {
    /// Those that the formula was written with: it comes out as it was approved.
    Writing,
    /// Those that are known now: what it has to be warned of.
    Now,
}

/// As [`assemble`], with facts as of a time.
pub(super) async fn with_facts(
    tx: &mut Tx<'_>,
    id: FormulaId,
    written: &Written,
    as_of: FactsAsOf,
) -> Result<Assembled> {
    let direct: Vec<Uuid> = written.nested().map(|id| id.0).collect();
    let below: Vec<Uuid> = revision_nested::table
        .filter(revision_nested::revision_id.eq_any(&direct))
        .select(revision_nested::nested_id)
        .distinct()
        .load(tx.conn())
        .await?;
    let mut ids = direct;
    ids.extend(below);
    ids.sort_unstable();
    ids.dedup();
    let (nested, formulas) = if ids.is_empty() {
        (HashMap::new(), HashMap::new())
    } else {
        let formulas: HashMap<Uuid, Uuid> = revision::table
            .filter(revision::id.eq_any(&ids))
            .select((revision::id, revision::formula_id))
            .load::<(Uuid, Uuid)>(tx.conn())
            .await?
            .into_iter()
            .collect();
        (store::all_written(tx, &ids).await?, formulas)
    };
    let wanted: Vec<(Uuid, i32)> =
        nested.values().chain(std::iter::once(written)).flat_map(Written::materials).collect();
    if as_of == FactsAsOf::Writing {
        let materials = materials::facts_of(tx, wanted).await?;
        return put_together(id, written, nested, &formulas, materials);
    }
    let now = materials::facts_now(tx, wanted.iter().copied()).await?;
    match put_together(id, written, nested.clone(), &formulas, now.clone()) {
        // What is wrong tells amounts, and whoever changed a fact is no reader of every formula.
        Err(Error::Invalid(_)) => {
            let then = materials::facts_of(tx, wanted).await?;
            let whole = put_together(id, written, nested, &formulas, then)?;
            Ok(Assembled { materials: now, worked_out: false, ..whole })
        }
        other => other,
    }
}

/// Refuses a draft that cannot be evaluated, before anything is written.
///
/// # Errors
/// As [`assemble`].
pub(crate) async fn check(tx: &mut Tx<'_>, id: FormulaId, written: &Written) -> Result<()> {
    assemble(tx, id, written).await.map(drop)
}

