//! The way through nested formulas: each is worked out once, and a formula that contains itself is refused
//! with the way on which it does.

use std::sync::Arc;

use rust_decimal::Decimal;

use crate::{
    AmountKind, Fate, Figure, Formula, FormulaProblem, Ingredient, Input, Location, MaterialKind, Measure,
    ProblemKind, Rule, Text, number::divide, units,
};

use super::{
    content::Content,
    masses::{self, MadeUpTo},
    result::{Evaluation, LineFigures, MakeUp, PhaseTotal},
    weigh::{self, Charge, Weighed},
    written::Written,
};

/// The most lines that a formula may have with all that it contains.
pub const MOST_LINES: usize = 5000;

/// The deepest nesting that is worked with.
pub const DEEPEST: usize = 12;

static PHASE: Rule = Rule::definition("phase_mass", "the lines of the phase are {=}");
static CHARGED: Rule = Rule::definition("mass_put_in", "all lines together are {=}");
static SHARE: Rule = Rule::definition("share_of_mass_put_in", "{part} of {whole} is {=}");
static MEASURED: Rule = Rule::definition("volume_as_written", "{amount} is {=}");

/// One walk through a formula and all that it contains.
#[derive(Default)]
pub(super) struct Walk<'a> {
    /// The formulas that are being worked out, the outermost first.
    on_the_way: Vec<&'a Formula>,
    /// The nested formulas worked out so far.
    done: Vec<(&'a Arc<Formula>, Arc<Evaluation>)>,
    lines: usize,
}

impl<'a> Walk<'a> {
    pub(super) fn formula(&mut self, formula: &'a Formula) -> Result<Arc<Evaluation>, Vec<FormulaProblem>> {
        let whole = |kind| vec![FormulaProblem { at: Location::formula("phases"), kind }];
        if self.on_the_way.len() >= DEEPEST {
            return Err(whole(ProblemKind::TooDeep(DEEPEST)));
        }
        let count: usize = formula.phases.iter().map(|phase| phase.lines.len()).sum();
        self.lines = self.lines.saturating_add(count);
        if count == 0 {
            return Err(whole(ProblemKind::NoLines));
        }
        if self.lines > MOST_LINES {
            return Err(whole(ProblemKind::TooManyLines(MOST_LINES)));
        }
        self.on_the_way.push(formula);
        let nested = self.nested(formula, count);
        self.on_the_way.pop();
        let nested = nested?;

        let charges: Vec<Charge<'_>> = formula
            .lines()
            .zip(&nested)
            .map(|((phase, line, of), nested)| Charge {
                phase,
                line,
                of,
                nested: nested.as_deref(),
                stays: stays(formula, of),
            })
            .collect();
        let (weighed, made_up_to) = masses::resolve(formula, &charges)?;
        assemble(formula, &charges, &weighed, made_up_to).map(Arc::new)
    }

    fn nested(
        &mut self,
        formula: &'a Formula,
        count: usize,
    ) -> Result<Vec<Option<Arc<Evaluation>>>, Vec<FormulaProblem>> {
        let mut found = Vec::with_capacity(count);
        let mut problems = Vec::new();
        for (phase, line, of) in formula.lines() {
            let Ingredient::Nested(inner) = &of.ingredient else {
                found.push(None);
                continue;
            };
            let at = Location::line(phase, line, "formula");
            match self.once(inner) {
                Ok(evaluation) => match self.cycle(&evaluation) {
                    Some(way) => problems.push(FormulaProblem { at, kind: ProblemKind::Cycle(way) }),
                    None => found.push(Some(evaluation)),
                },
                Err(inside) => problems.extend(inside.into_iter().map(|problem| {
                    let kind = match problem.kind {
                        kind @ (ProblemKind::Cycle(_)
                        | ProblemKind::TooDeep(_)
                        | ProblemKind::Nested { .. }) => kind,
                        kind => ProblemKind::Nested { title: inner.title.clone(), problem: Box::new(kind) },
                    };
                    FormulaProblem { at, kind }
                })),
            }
        }
        if problems.is_empty() { Ok(found) } else { Err(problems) }
    }

    /// Works out a nested formula the first time that it is met.
    fn once(&mut self, inner: &'a Arc<Formula>) -> Result<Arc<Evaluation>, Vec<FormulaProblem>> {
        if let Some((_, evaluation)) = self.done.iter().find(|(done, _)| Arc::ptr_eq(done, inner)) {
            return Ok(Arc::clone(evaluation));
        }
        let evaluation = self.formula(inner)?;
        self.done.push((inner, Arc::clone(&evaluation)));
        Ok(evaluation)
    }

    /// The way on which a nested formula comes back to one that is being worked out, by their titles.
    fn cycle(&self, nested: &Evaluation) -> Option<String> {
        let (from, way) = nested.formulas.iter().find_map(|(id, way)| {
            self.on_the_way.iter().position(|outer| outer.id == *id).map(|from| (from, way))
        })?;
        let titles: Vec<&str> = self
            .on_the_way
            .iter()
            .skip(from)
            .map(|formula| formula.title.as_str())
            .chain(way.iter().map(Text::as_str))
            .collect();
        Some(titles.join(" > "))
    }
}

/// Whether a line stays in what is made: as it says, or else herbs leave where the preparation is strained.
fn stays(formula: &Formula, line: &crate::Line) -> bool {
    match (line.fate, &line.ingredient) {
        (Some(fate), _) => fate == Fate::Stays,
        (None, Ingredient::Material(facts)) => {
            !(facts.kind == MaterialKind::Herb && formula.preparation.leaves_marc())
        }
        (None, Ingredient::Nested(_)) => true,
    }
}

fn assemble(
    formula: &Formula,
    charges: &[Charge<'_>],
    weighed: &[Weighed],
    made_up_to: MadeUpTo,
) -> Result<Evaluation, Vec<FormulaProblem>> {
    let problem = |kind| vec![FormulaProblem { at: Location::formula("phases"), kind }];
    let out_of_range = || problem(ProblemKind::OutOfRange);

    let mut total = Ok(Decimal::ZERO);
    for line in weighed {
        weigh::add(&mut total, &line.mass.known()).ok_or_else(out_of_range)?;
    }
    if let (Err(_), Some(made_up_to), true) =
        (&total, made_up_to.mass, charges.iter().all(|charge| charge.stays))
    {
        total = Ok(made_up_to);
    }
    match &total {
        Ok(total) if total.is_zero() => return Err(problem(ProblemKind::ZeroTotal)),
        Ok(total) if crate::Mass::grams(*total).is_err() => return Err(out_of_range()),
        Ok(_) | Err(_) => {}
    }
    let inputs = charges
        .iter()
        .zip(weighed)
        .filter_map(|(charge, line)| {
            Some(Input::number(charge.of.ingredient.name().clone(), line.mass.value()?, units::GRAM))
        })
        .collect();
    let charged = Figure::from_result(total, units::GRAM, &CHARGED, inputs);

    let mut phases = Vec::with_capacity(formula.phases.len());
    let mut rows = charges.iter().zip(weighed);
    for phase in &formula.phases {
        let mut lines = Vec::with_capacity(phase.lines.len());
        let mut sum = Ok(Decimal::ZERO);
        for (charge, line) in rows.by_ref().take(phase.lines.len()) {
            weigh::add(&mut sum, &line.mass.known()).ok_or_else(out_of_range)?;
            lines.push(LineFigures {
                name: charge.of.ingredient.name().clone(),
                share: share(&line.mass, &charged).ok_or_else(out_of_range)?,
                volume: measured(charge, line),
                mass: line.mass.clone(),
                stays: charge.stays,
                written: Written::InFormula {
                    nested_density: charge.nested.map(|nested| nested.density.clone()),
                },
            });
        }
        let mass = Figure::from_result(sum, units::GRAM, &PHASE, Vec::new());
        let share = share(&mass, &charged).ok_or_else(out_of_range)?;
        phases.push(PhaseTotal { name: phase.name.clone(), mass, share, lines });
    }
    let content = Content::of(formula, charges, weighed, made_up_to).map_err(problem)?;
    Ok(content.evaluation(formula, charged, phases, make_up(formula, charges)))
}

/// What the q.s. line makes up to: what it says itself, or the stated yield.
fn make_up(formula: &Formula, charges: &[Charge<'_>]) -> Option<MakeUp> {
    let (charge, quantity) = charges.iter().find_map(|charge| match charge.of.amount.kind() {
        AmountKind::MakeUpTo(quantity) => Some((charge, Some(quantity))),
        AmountKind::MakeUp => Some((charge, formula.yields.as_ref().map(crate::Yield::quantity))),
        _ => None,
    })?;
    let (value, unit) = match quantity?.measure() {
        Measure::Mass(mass) => (mass.g(), units::GRAM),
        Measure::Volume(volume) => (volume.ml(), units::MILLILITRE),
        Measure::Drops { .. } => return None,
    };
    Some(MakeUp { phase: charge.phase, line: charge.line, value, unit })
}

/// The volume of a line that is measured rather than weighed.
fn measured(charge: &Charge<'_>, line: &Weighed) -> Option<Figure> {
    let quantity = charge.of.amount.quantity()?;
    if quantity.dimension() == crate::Dimension::Mass {
        return None;
    }
    let inputs = vec![Input::words("amount", charge.of.amount.typed())];
    Some(Figure::number(line.volume?, units::MILLILITRE, &MEASURED, inputs))
}

/// A mass as a share of another; `None` beyond the range of a decimal.
fn share(part: &Figure, whole: &Figure) -> Option<Figure> {
    let value = match (part.known(), whole.known()) {
        (Ok(part), Ok(whole)) => Ok((divide(part, whole)?, part, whole)),
        (Err(a), Err(b)) => Err(a.and(&b)),
        (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown),
    };
    Some(match value {
        Ok((value, part, whole)) => Figure::number(
            value,
            units::SHARE_OF_MASS,
            &SHARE,
            vec![Input::number("part", part, units::GRAM), Input::number("whole", whole, units::GRAM)],
        ),
        Err(unknown) => Figure::unknown_for(unknown, units::SHARE_OF_MASS, &SHARE, Vec::new()),
    })
}
