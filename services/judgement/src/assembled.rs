//! Assembly of a stored formula into one that can be calculated, with the facts of every material and every nested
//! formula.
//!
//! The caller supplies every nested revision and material. Never here: a query, or a fact that the caller did not
//! supply.

use std::collections::HashMap;
use std::sync::Arc;

use galenics::kept::{KeptEvaluation, KeptProblem};
use galenics::{
    Amount, Decimal, Evaluated, Evaluation, Formula, FormulaProblem, Function, Line, MaterialFacts, Nested,
    Phase, ProblemKind, Sourced, Yield, evaluate_each,
};
use materia::Material;
use uuid::Uuid;
use wire::ids::FormulaId;
use wire::problem::FieldError;

use crate::error::{Error, Result};
use crate::facts;
use crate::nested::NestedRevisions;
use crate::written::{Dropper, Ingredient, Written};

/// A formula that can be calculated, with the revisions and materials that it contains at every level.
pub struct Assembled {
    /// The formula in the types of the calculations, its nested formulas included.
    pub formula: Arc<Formula>,
    /// Masses, shares and composition of the formula as written.
    pub evaluation: Evaluation,
    /// Every revision nested at any level.
    pub nested: NestedRevisions,
    /// The facts of every material at every level, by material ID and version.
    pub materials: HashMap<(Uuid, i32), Arc<Material>>,
    /// Whether `evaluation` uses the facts in `materials`. It does not if a frozen formula cannot be evaluated with the
    /// current facts, for example because its lines now exceed its q.s.; `evaluation` is then that of the frozen facts.
    pub worked_out: bool,
    /// What each nested revision comes to: the result stored when it was frozen, otherwise computed with the formula.
    evaluations: HashMap<Uuid, Evaluation>,
}

impl Assembled {
    /// The same beside other facts of its materials, with which it cannot be evaluated.
    #[must_use]
    pub fn not_worked_out_with(self, materials: HashMap<(Uuid, i32), Arc<Material>>) -> Self {
        Self { materials, worked_out: false, ..self }
    }

    /// The same formula with another evaluation: after evaporation, or as a batch was made.
    #[must_use]
    pub fn evaluated_as(&self, evaluation: Evaluation) -> Self {
        Self {
            formula: Arc::clone(&self.formula),
            evaluation,
            nested: self.nested.clone(),
            materials: self.materials.clone(),
            worked_out: self.worked_out,
            evaluations: self.evaluations.clone(),
        }
    }

    /// The evaluation of a nested revision.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if it was frozen and cannot be evaluated.
    pub fn evaluation_of(&self, id: Uuid) -> Result<&Evaluation> {
        let frozen = || Error::internal(format!("revision {id} was frozen and cannot be evaluated"));
        self.evaluations.get(&id).ok_or_else(frozen)
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
    let nested = NestedRevisions::of(written, nested)?;
    let (formula, made) = Builder::new(formulas, &materials).whole(id, written, &nested)?;
    let Evaluated { whole, nested: each } = evaluate_each(&formula).map_err(refused)?;
    let evaluations = by_revision(&made, each);
    Ok(Assembled { formula, evaluation: whole, nested, materials, worked_out: true, evaluations })
}

fn refused(problems: Vec<FormulaProblem>) -> Error {
    if problems.iter().any(|problem| problem.kind == ProblemKind::Interrupted) {
        return Error::Interrupted;
    }
    let told = problems
        .into_iter()
        .map(|problem| FieldError::new(format!("/content{}", problem.at.pointer()), problem.to_string()));
    Error::Invalid(told.collect())
}

/// What the nested formulas come to, by their revisions.
fn by_revision(made: &HashMap<Uuid, Nested>, each: Vec<(Nested, Evaluation)>) -> HashMap<Uuid, Evaluation> {
    let revisions: HashMap<usize, Uuid> = made.iter().map(|(id, nested)| (nested.address(), *id)).collect();
    let each = each.into_iter();
    each.filter_map(|(nested, evaluation)| Some((*revisions.get(&nested.address())?, evaluation))).collect()
}

/// Assembles a frozen formula with the results stored when it was frozen, so that a later version of the calculations
/// does not change them.
///
/// `results` holds the stored results by revision; that of the formula itself is under `revision`. Nested revisions without
/// a stored result are computed.
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
    let nested = NestedRevisions::of(written, nested)?;
    let (formula, made) = Builder::new(formulas, &materials).whole(id, written, &nested)?;
    let unreadable = |problem: KeptProblem| Error::internal(format!("a kept result: {problem}"));
    let restore = |text: &str, formula: &Formula| {
        galenics::interrupt::visit()?;
        KeptEvaluation::from_json(text).and_then(|kept| kept.restore(formula)).map_err(unreadable)
    };
    let own = results.get(&revision).ok_or_else(|| Error::internal("a revision without its result"))?;
    let evaluation = restore(own, &formula)?;
    let mut evaluations = HashMap::with_capacity(made.len());
    if !made.keys().all(|id| results.contains_key(id)) {
        // From before results were stored. Those that cannot be computed are said to be so when they are needed.
        match evaluate_each(&formula).map_err(refused) {
            Ok(each) => evaluations = by_revision(&made, each.nested),
            Err(Error::Interrupted) => return Err(Error::Interrupted),
            Err(Error::Invalid(_) | Error::Internal(_)) => {}
        }
    }
    for (id, nested) in &made {
        if let Some(kept) = results.get(id) {
            evaluations.insert(*id, nested.restored(|formula| restore(kept, formula))?);
        }
    }
    Ok(Assembled { formula, evaluation, nested, materials, worked_out: true, evaluations })
}

struct Builder<'a> {
    formulas: &'a HashMap<Uuid, Uuid>,
    materials: &'a HashMap<(Uuid, i32), Arc<Material>>,
    made: HashMap<Uuid, Nested>,
    facts: HashMap<(Uuid, i32), Arc<MaterialFacts>>,
}

impl<'a> Builder<'a> {
    fn new(formulas: &'a HashMap<Uuid, Uuid>, materials: &'a HashMap<(Uuid, i32), Arc<Material>>) -> Self {
        Self { formulas, materials, made: HashMap::new(), facts: HashMap::new() }
    }

    /// The formula, and what it nests by revision: each is built after what it nests itself.
    fn whole(
        mut self,
        id: FormulaId,
        written: &Written,
        nested: &NestedRevisions,
    ) -> Result<(Arc<Formula>, HashMap<Uuid, Nested>)> {
        for (revision, written) in nested.innermost_first() {
            let missing = || Error::internal(format!("the formula of nested revision {revision} is missing"));
            let formula = FormulaId(*self.formulas.get(&revision).ok_or_else(missing)?);
            let made = Arc::new(self.formula(formula, written)?);
            self.made.insert(revision, made.into());
        }
        let formula = Arc::new(self.formula(id, written)?);
        Ok((formula, self.made))
    }

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
                galenics::interrupt::visit()?;
                let drops_per_ml = written.dropper.as_ref().and_then(|of| self.drops(of, ingredient));
                let ingredient = self.ingredient(ingredient)?;
                match Amount::parse_with(&line.amount, family) {
                    Ok(amount) => {
                        let function: Option<Function> =
                            line.function.as_deref().and_then(|text| text.parse().ok());
                        lines.push(Line { ingredient, amount, function, fate: None, drops_per_ml });
                    }
                    Err(error) => {
                        let pointer = format!("/content/phases/{p}/lines/{l}/amount");
                        let meant = Amount::meant(&line.amount, family);
                        errors.push(FieldError::new(pointer, error.to_string()).or(meant));
                    }
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

    /// The drops of an ingredient from the clinic's own dropper.
    fn drops(&self, of: &Dropper, ingredient: &Ingredient) -> Option<Sourced<Decimal>> {
        match ingredient {
            Ingredient::Material { id, version, .. } => of.of_material(self.materials.get(&(*id, *version))?),
            Ingredient::Revision { id, .. } => of.of_preparation(self.made.get(id)?.preparation()),
        }
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
            Ingredient::Revision { id, .. } => {
                let made = self.made.get(id).cloned();
                let made = made.ok_or_else(|| Error::internal(format!("nested revision {id} is missing")))?;
                Ok(galenics::Ingredient::Nested(made))
            }
        }
    }
}
