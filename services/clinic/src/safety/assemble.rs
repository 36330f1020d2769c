//! From what was written to what can be calculated: facts of every material, and every nested formula, in place.

use std::collections::HashMap;
use std::sync::Arc;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::{Amount, Evaluation, Formula, Function, Line, MaterialFacts, Phase, Yield};
use materia::Material;
use schema::{revision, revision_nested};
use uuid::Uuid;
use wire::ids::{FormulaId, RevisionId};
use wire::problem::FieldError;

use super::store;
use crate::error::{Error, Result};
use crate::formulary::{Ingredient, Written};
use crate::materials;
use crate::tx::Tx;

/// A formula ready to be calculated with, and what it contains at every level.
pub(super) struct Assembled {
    pub(super) formula: Arc<Formula>,
    pub(super) evaluation: Evaluation,
    /// Every revision nested at any level, with what was written in it.
    pub(super) nested: HashMap<Uuid, Written>,
    /// The facts of every material at every level.
    pub(super) materials: HashMap<(Uuid, i32), Arc<Material>>,
    /// Whether the evaluation is by these facts. A frozen formula that cannot be worked out with the facts of now (its
    /// lines come to more than its q.s., say) is evaluated as it was written.
    pub(super) worked_out: bool,
}

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

/// Assembles and evaluates what is known: every nested revision with its formula's id, and the facts of every material.
///
/// # Errors
/// As [`assemble`].
pub(super) fn put_together(
    id: FormulaId,
    written: &Written,
    nested: HashMap<Uuid, Written>,
    formulas: &HashMap<Uuid, Uuid>,
    materials: HashMap<(Uuid, i32), Arc<Material>>,
) -> Result<Assembled> {
    let mut builder = Builder {
        nested: &nested,
        formulas,
        materials: &materials,
        made: HashMap::new(),
        facts: HashMap::new(),
    };
    let formula = Arc::new(builder.formula(id, written)?);
    let evaluation = galenics::evaluate(&formula).map_err(|problems| {
        Error::Invalid(
            problems
                .into_iter()
                .map(|problem| {
                    FieldError::new(format!("/content{}", problem.at.pointer()), problem.to_string())
                })
                .collect(),
        )
    })?;
    Ok(Assembled { formula, evaluation, nested, materials, worked_out: true })
}

/// Refuses a draft that cannot be evaluated, before anything is written.
///
/// # Errors
/// As [`assemble`].
pub(crate) async fn check(tx: &mut Tx<'_>, id: FormulaId, written: &Written) -> Result<()> {
    assemble(tx, id, written).await.map(drop)
}

struct Builder<'a> {
    nested: &'a HashMap<Uuid, Written>,
    formulas: &'a HashMap<Uuid, Uuid>,
    materials: &'a HashMap<(Uuid, i32), Arc<Material>>,
    made: HashMap<Uuid, Arc<Formula>>,
    facts: HashMap<(Uuid, i32), Arc<MaterialFacts>>,
}

impl Builder<'_> {
    fn formula(&mut self, id: FormulaId, written: &Written) -> Result<Formula> {
        let family = match written.customary {
            wire::policy::Customary::Us => galenics::Customary::Us,
            wire::policy::Customary::Imperial => galenics::Customary::Imperial,
            wire::policy::Customary::Metric => galenics::Customary::Metric,
        };
        let mut errors = Vec::new();
        let preparation = written.preparation.parse().map_err(|error: galenics::UnknownWord| {
            Error::field("/content/preparation", error.to_string())
        })?;
        let mut formula = Formula::new(id.to_string(), written.content.title.trim().to_owned(), preparation);
        for (p, phase) in written.content.phases.iter().enumerate() {
            let mut lines = Vec::with_capacity(phase.lines.len());
            for (l, line) in phase.lines.iter().enumerate() {
                let ingredient = written
                    .ingredients
                    .get(p)
                    .and_then(|of| of.get(l))
                    .ok_or_else(|| Error::internal("a line without its ingredient"))?;
                let ingredient = self.ingredient(ingredient)?;
                match Amount::parse_with(&line.amount, family) {
                    Ok(amount) => {
                        let function: Option<Function> =
                            line.function.as_deref().and_then(|text| text.parse().ok());
                        lines.push(Line { ingredient, amount, function, fate: None });
                    }
                    Err(error) => errors.push(FieldError::new(
                        format!("/content/phases/{p}/lines/{l}/amount"),
                        error.to_string(),
                    )),
                }
            }
            formula.phases.push(Phase { name: phase.name.clone().into(), lines });
        }
        match written.content.yield_.as_deref().map(|text| Yield::parse_with(text, family)).transpose() {
            Ok(yields) => formula.yields = yields,
            Err(error) => errors.push(FieldError::new("/content/yield", error.to_string())),
        }
        if errors.is_empty() { Ok(formula) } else { Err(Error::Invalid(errors)) }
    }

    fn ingredient(&mut self, ingredient: &Ingredient) -> Result<galenics::Ingredient> {
        match ingredient {
            Ingredient::Material { id, version, name } => {
                let key = (id.0, *version);
                if let Some(facts) = self.facts.get(&key) {
                    return Ok(galenics::Ingredient::Material(Arc::clone(facts)));
                }
                let material = self
                    .materials
                    .get(&key)
                    .ok_or_else(|| Error::internal(format!("no facts of {name} in version {version}")))?;
                let facts = Arc::new(materials::calculable(id.0, material)?);
                self.facts.insert(key, Arc::clone(&facts));
                Ok(galenics::Ingredient::Material(facts))
            }
            Ingredient::Revision { id, .. } => self.nested(*id).map(galenics::Ingredient::Nested),
        }
    }

    /// Ends: a frozen revision nests only revisions that were frozen before it.
    fn nested(&mut self, id: RevisionId) -> Result<Arc<Formula>> {
        if let Some(made) = self.made.get(&id.0) {
            return Ok(Arc::clone(made));
        }
        let missing = || Error::internal(format!("nested revision {id} is missing"));
        let nested = self.nested;
        let written = nested.get(&id.0).ok_or_else(missing)?;
        let formula = FormulaId(*self.formulas.get(&id.0).ok_or_else(missing)?);
        let made = Arc::new(self.formula(formula, written)?);
        self.made.insert(id.0, Arc::clone(&made));
        Ok(made)
    }
}
