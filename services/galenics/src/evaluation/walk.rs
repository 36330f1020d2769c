//! The way through a formula and all that it contains: each formula is worked out once, after what it contains, and one
//! that contains itself is refused with the way on which it does.

use rust_decimal::Decimal;

use crate::{
    AmountKind, Fate, Figure, Formula, FormulaProblem, Graph, Ingredient, Input, Location, MaterialKind,
    Measure, ProblemKind, Rule,
    graph::{Node, Slot},
    interrupt,
    number::divide,
    units,
};

use super::{
    content::Content,
    done::Done,
    masses::{self, MadeUpTo},
    result::{Evaluated, LineFigures, MakeUp, PhaseTotal},
    weigh::{self, Charge, Weighed},
    written::Written,
};

static PHASE: Rule = Rule::definition("phase_mass", "total of the lines of the phase: {=}");
static CHARGED: Rule = Rule::definition("mass_put_in", "total of all lines: {=}");
static SHARE: Rule = Rule::definition("share_of_mass_put_in", "{part} of {whole}: {=}");
static MEASURED: Rule = Rule::definition("volume_as_written", "{amount}: {=}");

type Outcome = Result<Done, Vec<FormulaProblem>>;

/// Works out a formula and everything that it contains, in topological order.
pub(super) fn whole(formula: &Formula) -> Result<Evaluated, Vec<FormulaProblem>> {
    let graph = Graph::of(formula);
    graph.within_maxima().map_err(of_the_whole)?;
    let mut done: Vec<Outcome> = Vec::with_capacity(graph.nodes().len());
    for (place, node) in graph.nodes().iter().enumerate() {
        let next = one(&graph, place, node, &done);
        if let Err(problems) = &next
            && problems.iter().any(|problem| problem.kind == ProblemKind::Interrupted)
        {
            return Err(of_the_whole(ProblemKind::Interrupted));
        }
        done.push(next);
    }
    let outermost = done.pop().unwrap_or_else(|| Err(of_the_whole(ProblemKind::NoLines)));
    let whole = outermost?.evaluation;
    let nested = graph.nodes().iter().zip(done);
    let nested = nested.filter_map(|(node, done)| Some((node.nested?.clone(), done.ok()?.evaluation)));
    Ok(Evaluated { whole, nested: nested.collect() })
}

fn of_the_whole(kind: ProblemKind) -> Vec<FormulaProblem> {
    vec![FormulaProblem { at: Location::formula("phases"), kind }]
}

/// Works out one formula of the graph, of which everything that it contains is worked out.
fn one(graph: &Graph<'_>, place: usize, node: &Node<'_>, done: &[Outcome]) -> Outcome {
    let formula = node.formula;
    if node.lines.is_empty() {
        return Err(of_the_whole(ProblemKind::NoLines));
    }
    let mut problems = Vec::new();
    let mut charges = Vec::with_capacity(node.lines.len());
    for ((phase, line, of), slot) in formula.lines().zip(&node.lines) {
        interrupt::visit().map_err(|_| of_the_whole(ProblemKind::Interrupted))?;
        let nested = match slot {
            Slot::Material(_) => None,
            Slot::Nested(inner) => match done.get(*inner) {
                Some(Ok(done)) => Some(done),
                Some(Err(inside)) => {
                    let at = Location::line(phase, line, "formula");
                    // One for each line: all of them would be as many as there are ways to them.
                    problems.extend(inside.first().map(|problem| of_nested(of, problem, at)));
                    continue;
                }
                None => continue,
            },
        };
        let wet = !formula.preparation.may_be_loose();
        charges.push(Charge { phase, line, of, slot: *slot, nested, stays: stays(formula, of), wet });
    }
    problems.extend(contains_itself(graph, place, &charges));
    if !problems.is_empty() {
        return Err(problems);
    }
    let (weighed, made_up_to) = masses::resolve(formula, &charges)?;
    assemble(graph, node, &charges, &weighed, made_up_to)
}

/// A problem of a nested formula, told at the line that nests it.
fn of_nested(line: &crate::Line, problem: &FormulaProblem, at: Location) -> FormulaProblem {
    let kind = match &problem.kind {
        kind @ (ProblemKind::Cycle(_) | ProblemKind::Interrupted | ProblemKind::Nested { .. }) => {
            kind.clone()
        }
        kind => {
            ProblemKind::Nested { title: line.ingredient.name().clone(), problem: Box::new(kind.clone()) }
        }
    };
    FormulaProblem { at, kind }
}

/// That a formula contains another revision of itself, told at the first line on the way to it.
fn contains_itself(graph: &Graph<'_>, place: usize, charges: &[Charge<'_>]) -> Option<FormulaProblem> {
    let (first, way) = graph.way_back(place)?;
    let line = charges.iter().find(|charge| charge.slot == Slot::Nested(first));
    let at = line.map_or(Location::formula("phases"), |it| Location::line(it.phase, it.line, "formula"));
    Some(FormulaProblem { at, kind: ProblemKind::Cycle(way) })
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
    graph: &Graph<'_>,
    node: &Node<'_>,
    charges: &[Charge<'_>],
    weighed: &[Weighed],
    made_up_to: MadeUpTo,
) -> Outcome {
    let formula = node.formula;
    let out_of_range = || of_the_whole(ProblemKind::OutOfRange);

    let mut total = Ok(Decimal::ZERO);
    for (charge, line) in charges.iter().zip(weighed) {
        if charge.is_to_ph() {
            continue;
        }
        weigh::add(&mut total, &line.mass.known()).ok_or_else(out_of_range)?;
    }
    if let (Err(_), Some(made_up_to), true) =
        (&total, made_up_to.mass, charges.iter().all(|charge| charge.stays))
    {
        total = Ok(made_up_to);
    }
    match &total {
        Ok(total) if total.is_zero() => return Err(of_the_whole(ProblemKind::ZeroTotal)),
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
            if !charge.is_to_ph() {
                weigh::add(&mut sum, &line.mass.known()).ok_or_else(out_of_range)?;
            }
            lines.push(LineFigures {
                name: charge.of.ingredient.name().clone(),
                share: share(&line.mass, &charged).ok_or_else(out_of_range)?,
                volume: measured(charge, line),
                mass: line.mass.clone(),
                stays: charge.stays,
                written: Written::InFormula {
                    nested_density: charge.nested.map(|nested| nested.evaluation.density.clone()),
                },
            });
        }
        let mass = Figure::from_result(sum, units::GRAM, &PHASE, Vec::new());
        let share = share(&mass, &charged).ok_or_else(out_of_range)?;
        phases.push(PhaseTotal { name: phase.name.clone(), mass, share, lines });
    }
    let content = Content::of(graph, node, charges, weighed, made_up_to).map_err(of_the_whole)?;
    if let Some(kind) = content.yield_above_input(formula) {
        return Err(vec![FormulaProblem { at: Location::formula("yield"), kind }]);
    }
    content
        .done(formula, charged, phases, make_up(formula, charges))
        .map_err(|kind| vec![FormulaProblem { at: Location::formula("yield"), kind }])
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
