//! From what was written to what can be calculated: facts of every material, and every nested formula, in place.

use std::collections::HashMap;
use std::sync::Arc;

use galenics::{Amount, Evaluation, Formula, Function, Line, MaterialFacts, Phase, Yield};
use materia::Material;
use uuid::Uuid;
use wire::ids::FormulaId;
use wire::problem::FieldError;

use crate::error::{Error, Result};
use crate::facts;
use crate::written::{Ingredient, Written};

/// A formula ready to be calculated with, and what it contains at every level.
pub struct Assembled {
    pub formula: Arc<Formula>,
    pub evaluation: Evaluation,
    /// Every revision nested at any level, with what was written in it.
    pub nested: HashMap<Uuid, Written>,
    /// The facts of every material at every level.
    pub materials: HashMap<(Uuid, i32), Arc<Material>>,
    /// Whether the evaluation is by these facts. A frozen formula that cannot be worked out with the facts of now (its
    /// lines come to more than its q.s., say) is evaluated as it was written.
    pub worked_out: bool,
}

/// Assembles and evaluates what is known: every nested revision with its formula's id, and the facts of every material.
///
/// # Errors
/// Every amount that was not accepted and everything that is wrong with the formula as a whole.
pub fn assemble_and_evaluate(
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

struct Builder<'a> {
    nested: &'a HashMap<Uuid, Written>,
    formulas: &'a HashMap<Uuid, Uuid>,
    materials: &'a HashMap<(Uuid, i32), Arc<Material>>,
    made: HashMap<Uuid, Arc<Formula>>,
    facts: HashMap<(Uuid, i32), Arc<MaterialFacts>>,
}

impl Builder<'_> {
    fn formula(&mut self, id: FormulaId, written: &Written) -> Result<Formula> {
        let family = written.customary.into();
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
                let key = (*id, *version);
                if let Some(facts) = self.facts.get(&key) {
                    return Ok(galenics::Ingredient::Material(Arc::clone(facts)));
                }
                let material = self
                    .materials
                    .get(&key)
                    .ok_or_else(|| Error::internal(format!("no facts of {name} in version {version}")))?;
                let facts = Arc::new(facts::calculable(*id, material)?);
                self.facts.insert(key, Arc::clone(&facts));
                Ok(galenics::Ingredient::Material(facts))
            }
            Ingredient::Revision { id, .. } => self.nested(*id).map(galenics::Ingredient::Nested),
        }
    }

    /// Ends: a frozen revision nests only revisions that were frozen before it.
    fn nested(&mut self, id: Uuid) -> Result<Arc<Formula>> {
        if let Some(made) = self.made.get(&id) {
            return Ok(Arc::clone(made));
        }
        let missing = || Error::internal(format!("nested revision {id} is missing"));
        let nested = self.nested;
        let written = nested.get(&id).ok_or_else(missing)?;
        let formula = FormulaId(*self.formulas.get(&id).ok_or_else(missing)?);
        let made = Arc::new(self.formula(formula, written)?);
        self.made.insert(id, Arc::clone(&made));
        Ok(made)
    }
}
