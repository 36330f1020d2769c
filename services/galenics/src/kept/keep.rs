//! From an evaluation to what is kept of it.

use std::{collections::HashMap, sync::Arc};

use rust_decimal::Decimal;

use super::{
    document::{
        Answer, ContainedEntry, DensityEntry, Exact, Fact, FigureEntry, Format, Herb, HerbEntry, InputEntry,
        KeptEvaluation, LineEntry, MaterialEntry, PhaseEntry, RuleEntry, Share,
    },
    problem::KeptProblem,
    version::{ENGINE, FORMAT},
};
use crate::{
    Evaluation, Fate, Figure, Formula, Fraction, HerbState, Input, Line, LineFigures, MaterialFacts, RuleRef,
    Source, Sourced, Value,
};

impl KeptEvaluation {
    /// What is kept of the evaluation of a formula: every figure with its explanation, every number as it is.
    ///
    /// An evaluation that was itself restored keeps its values, but the engine written is the one of this
    /// program: keep what was computed, and store what was read as it was read.
    ///
    /// # Errors
    /// `NotItsFormula` where the formula has another id or other phases or lines than the evaluation.
    pub fn of(formula: &Formula, evaluation: &Evaluation) -> Result<Self, KeptProblem> {
        if formula.id != evaluation.id {
            return Err(KeptProblem::NotItsFormula("the id of the formula"));
        }
        let lines = evaluation.phases.iter().map(|phase| phase.lines.len());
        if !lines.eq(formula.phases.iter().map(|phase| phase.lines.len())) {
            return Err(KeptProblem::NotItsFormula("the number of phases or lines"));
        }
        let mut tables = Tables::default();
        let phases = formula
            .phases
            .iter()
            .zip(&evaluation.phases)
            .map(|(of, phase)| PhaseEntry {
                name: phase.name.clone(),
                mass: tables.figure(&phase.mass),
                share: tables.figure(&phase.share),
                lines: of.lines.iter().zip(&phase.lines).map(|(of, line)| tables.line(of, line)).collect(),
            })
            .collect();
        let composition = evaluation
            .composition
            .iter()
            .map(|leaf| Share {
                material: tables.material(&leaf.material),
                share: tables.figure(&leaf.share),
            })
            .collect();
        let herbs = evaluation
            .herbs
            .iter()
            .map(|herb| Herb {
                material: tables.material(&herb.material),
                per_gram: tables.figure(&herb.per_gram),
            })
            .collect();
        let contains = evaluation
            .contains
            .iter()
            .map(|contained| ContainedEntry {
                material: tables.material(&contained.material),
                through: contained.through.clone(),
                fate: fate(!contained.left_with_marc),
            })
            .collect();
        Ok(Self {
            format: Format(FORMAT),
            engine: ENGINE,
            id: evaluation.id.clone(),
            title: evaluation.title.clone(),
            preparation: evaluation.preparation,
            charged: tables.figure(&evaluation.charged),
            product: tables.figure(&evaluation.product),
            against_stated_yield: evaluation
                .against_stated_yield
                .as_ref()
                .map(|figure| tables.figure(figure)),
            expected_yield: evaluation.expected_yield.as_ref().map(|figure| tables.figure(figure)),
            boiled_off: evaluation.boiled_off.as_ref().map(|figure| tables.figure(figure)),
            evaporated: evaluation
                .evaporated
                .map(|gone| (gone.of_spirit, Exact(gone.ethanol_at_least), Exact(gone.water_at_most))),
            volume: tables.figure(&evaluation.volume),
            density: tables.figure(&evaluation.density),
            oil: tables.figure(&evaluation.oil),
            water: tables.figure(&evaluation.water),
            emulsifier: tables.figure(&evaluation.emulsifier),
            emulsifying_oil: tables.figure(&evaluation.emulsifying_oil),
            oil_to_water: tables.figure(&evaluation.oil_to_water),
            emulsifier_to_oil: tables.figure(&evaluation.emulsifier_to_oil),
            phases,
            composition,
            herbs,
            contains,
            make_up: evaluation.make_up.map(|it| (it.phase, it.line, Exact(it.value), it.unit.into())),
            formulas: evaluation.formulas.clone(),
            unknown: evaluation.unknown.clone(),
            sources: tables.sources,
            rules: tables.rules,
            materials: tables.materials,
            figures: tables.figures,
        })
    }
}

pub(super) fn fate(stays: bool) -> Fate {
    if stays { Fate::Stays } else { Fate::Marc }
}

/// The tables of a kept result as they fill.
#[derive(Default)]
struct Tables {
    sources: Vec<Source>,
    rules: Vec<RuleEntry>,
    materials: Vec<MaterialEntry>,
    figures: Vec<FigureEntry>,
    /// Where a figure stands, by its address: the evaluation outlives the tables, so that none is reused.
    known: HashMap<usize, usize>,
    /// Where a material stands, by its address.
    known_materials: HashMap<usize, usize>,
}

impl Tables {
    fn source(&mut self, source: &Source) -> usize {
        place(&mut self.sources, |known| known == source, || source.clone())
    }

    fn rule(&mut self, rule: RuleRef<'_>) -> usize {
        let source = self.source(rule.source);
        let same = |known: &RuleEntry| {
            known.key.as_str() == rule.key && known.says.as_str() == rule.says && known.source == source
        };
        place(&mut self.rules, same, || RuleEntry {
            key: rule.key.to_owned().into(),
            says: rule.says.to_owned().into(),
            source,
        })
    }

    fn figure(&mut self, figure: &Figure) -> usize {
        if let Some(at) = self.known.get(&figure.address()) {
            return *at;
        }
        let rule = self.rule(figure.rule());
        // The inputs first: what a figure rests on stands before it.
        let inputs = figure.inputs().iter().map(|input| self.input(input)).collect();
        let value = match figure.answers() {
            Value::Number(value) => Answer::Number(Exact(*value)),
            Value::Words(words) => Answer::Words(words.clone()),
            Value::Day(day) => Answer::Day(*day),
            Value::Unknown(unknown) => Answer::Unknown(unknown.missing().to_vec()),
        };
        let at = self.figures.len();
        self.figures.push(FigureEntry { value, unit: figure.unit().into(), rule, inputs });
        self.known.insert(figure.address(), at);
        at
    }

    fn input(&mut self, input: &Input) -> InputEntry {
        match input {
            Input::Number { name, value, unit } => {
                InputEntry::Number(name.clone(), Exact(*value), (*unit).into())
            }
            Input::Words { name, value } => InputEntry::Words(name.clone(), value.clone()),
            Input::Constant { name, value, unit, source } => {
                InputEntry::Constant(name.clone(), Exact(*value), (*unit).into(), self.source(source))
            }
            Input::Figure { name, figure } => InputEntry::Figure(name.clone(), self.figure(figure)),
        }
    }

    fn line(&mut self, of: &Line, line: &LineFigures) -> LineEntry {
        let written = line.written.of(of);
        LineEntry {
            name: line.name.clone(),
            amount: written.amount,
            fate: fate(line.stays),
            mass: self.figure(&line.mass),
            share: self.figure(&line.share),
            volume: line.volume.as_ref().map(|volume| self.figure(volume)),
            number: written.number.map(|(value, unit)| (Exact(value), unit.into())),
            density: written.density.as_ref().ok().map(|density| Exact(*density)),
            density_misses: written
                .density
                .as_ref()
                .err()
                .and_then(|missing| missing.as_ref().map(|unknown| unknown.missing().to_vec())),
            drops_per_ml: written.drops_per_ml.map(Exact),
        }
    }

    fn material(&mut self, facts: &Arc<MaterialFacts>) -> usize {
        let address = Arc::as_ptr(facts).addr();
        if let Some(at) = self.known_materials.get(&address) {
            return *at;
        }
        let entry = MaterialEntry {
            id: facts.id.clone(),
            name: facts.name.clone(),
            kind: facts.kind,
            density: facts.density.as_ref().map(|density| DensityEntry {
                g_per_ml: Exact(density.value.g_per_ml()),
                celsius: Exact(density.value.at().c()),
                source: self.source(&density.source),
            }),
            drops_per_ml: self.fact(facts.drops_per_ml.as_ref(), |drops| drops),
            herb: facts.herb.as_ref().map(|herb| match herb {
                HerbState::Dried => HerbEntry::Dried,
                HerbState::Fresh { water, dried_water } => HerbEntry::Fresh {
                    water: self.fact(water.as_ref(), Fraction::get),
                    dried_water: self.fact(dried_water.as_ref(), Fraction::get),
                },
            }),
            ethanol_by_volume: self.fact(facts.ethanol_by_volume.as_ref(), Fraction::get),
            water: self.fact(facts.water.as_ref(), Fraction::get),
        };
        // Equal facts that were read twice are kept once.
        let at = self.materials.iter().position(|known| *known == entry).unwrap_or(self.materials.len());
        if at == self.materials.len() {
            self.materials.push(entry);
        }
        self.known_materials.insert(address, at);
        at
    }

    fn fact<T: Copy>(&mut self, of: Option<&Sourced<T>>, number: fn(T) -> Decimal) -> Option<Fact> {
        of.map(|of| Fact(Exact(number(of.value)), self.source(&of.source)))
    }
}

/// Where an entry stands in a table; it is added where it does not.
fn place<T>(table: &mut Vec<T>, same: impl FnMut(&T) -> bool, entry: impl FnOnce() -> T) -> usize {
    table.iter().position(same).unwrap_or_else(|| {
        table.push(entry());
        table.len() - 1
    })
}
