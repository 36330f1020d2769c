//! Assembly of a stored formula into one that can be calculated, with the facts of every material and every nested
//! formula.
//!
//! The caller supplies every nested revision and material. Never here: a query, or a fact that the caller did not
//! supply.

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::Arc;

use galenics::kept::{KeptEvaluation, KeptProblem};
use galenics::{Amount, Evaluation, Formula, Function, Line, MaterialFacts, Phase, Yield};
use materia::Material;
use uuid::Uuid;
use wire::ids::FormulaId;
use wire::problem::FieldError;

use crate::error::{Error, Result};
use crate::facts;
use crate::written::{Ingredient, Written};

/// A formula that can be calculated, with the revisions and materials that it contains at every level.
pub struct Assembled {
    /// The formula in the types of the calculations, its nested formulas included.
    pub formula: Arc<Formula>,
    /// Masses, shares and composition of the formula as written.
    pub evaluation: Evaluation,
    /// Every revision nested at any level, by its ID.
    pub nested: HashMap<Uuid, Written>,
    /// The facts of every material at every level, by material ID and version.
    pub materials: HashMap<(Uuid, i32), Arc<Material>>,
    /// Whether `evaluation` uses the facts in `materials`. It does not if a frozen formula cannot be evaluated with the
    /// current facts, for example because its lines now exceed its q.s.; `evaluation` is then that of the frozen facts.
    pub worked_out: bool,
    /// Stored results of the nested revisions, by their ID. Empty if everything was computed anew.
    pub results: HashMap<Uuid, Evaluation>,
}

impl Assembled {
    /// The evaluation of a nested formula: the result stored when it was frozen, otherwise computed now.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the formula was frozen and cannot be evaluated.
    pub fn evaluation_of(&self, id: Uuid, formula: &Formula) -> Result<Cow<'_, Evaluation>> {
        match self.results.get(&id) {
            Some(kept) => Ok(Cow::Borrowed(kept)),
            None => galenics::evaluate(formula).map(Cow::Owned).map_err(|_| {
                Error::internal(format!("{} was frozen and cannot be evaluated", formula.title))
            }),
        }
    }
}

/// Assembles a formula and evaluates it.
///
/// `nested` and `materials` must hold everything that `written` contains at any level; `formulas` maps each nested
/// revision to its formula.
///
/// # Errors
/// Returns [`Error::Invalid`] with every amount that cannot be read and every problem of the formula as a whole.
/// Returns [`Error::Internal`] if a nested revision or the facts of a material are missing.
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
    Ok(Assembled { formula, evaluation, nested, materials, worked_out: true, results: HashMap::new() })
}

/// Assembles a frozen formula with the results stored when it was frozen, so that a later version of the calculations
/// does not change them.
///
/// `results` holds the stored results by revision; that of the formula itself is under `revision`. A nested revision
/// without a stored result is computed on demand.
///
/// # Errors
/// As [`assemble_and_evaluate`]; returns [`Error::Internal`] if a result cannot be read or is not of its formula.
pub fn assemble_and_restore(
    (id, revision): (FormulaId, Uuid),
    written: &Written,
    nested: HashMap<Uuid, Written>,
    formulas: &HashMap<Uuid, Uuid>,
    materials: HashMap<(Uuid, i32), Arc<Material>>,
    results: &HashMap<Uuid, String>,
) -> Result<Assembled> {
    let mut builder = Builder {
        nested: &nested,
        formulas,
        materials: &materials,
        made: HashMap::new(),
        facts: HashMap::new(),
    };
    let formula = Arc::new(builder.formula(id, written)?);
    let unreadable = |problem: KeptProblem| Error::internal(format!("a kept result: {problem}"));
    let restore = |text: &str, formula: &Formula| {
        KeptEvaluation::from_json(text).and_then(|kept| kept.restore(formula)).map_err(unreadable)
    };
    let own = results.get(&revision).ok_or_else(|| Error::internal("a revision without its result"))?;
    let evaluation = restore(own, &formula)?;
    let made = std::mem::take(&mut builder.made);
    let of_nested = made.iter().filter_map(|(id, formula)| Some((*id, restore(results.get(id)?, formula))));
    let results = of_nested.map(|(id, found)| Ok((id, found?))).collect::<Result<_>>()?;
    Ok(Assembled { formula, evaluation, nested, materials, worked_out: true, results })
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

    /// The recursion ends, because a frozen revision can nest only revisions frozen before it.
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
