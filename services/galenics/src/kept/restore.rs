//! From what was kept back to an evaluation, without evaluating anything.

use std::sync::Arc;

use rust_decimal::Decimal;

use super::{
    document::{
        Answer, ContainedEntry, DensityEntry, Exact, Fact, FigureEntry, Herb, HerbEntry, InputEntry,
        KeptEvaluation, LineEntry, MaterialEntry, Share,
    },
    problem::KeptProblem,
};
use crate::evaluation::Evaporated;
use crate::{
    Contained, Density, Evaluation, Fate, Figure, Formula, Fraction, HerbEquivalent, HerbState, Input, Leaf,
    LineFigures, MaterialFacts, PhaseTotal, Source, Sourced, Text, Unit, Unknown, Value,
    evaluation::{AsWritten, MakeUp, Written},
    explain::KeptRule,
    units,
};

impl KeptEvaluation {
    /// The evaluation that was kept, of the formula that it was made from. Nothing is computed: every figure,
    /// sentence, material fact and missing datum is as it was, whatever this program would work out today.
    ///
    /// # Errors
    /// `NotItsFormula` where the formula has another id, other phases or lines, or other amounts as typed.
    /// `NoSuch` and `UnknownUnit` where the kept result is damaged.
    pub fn restore(&self, formula: &Formula) -> Result<Evaluation, KeptProblem> {
        self.belongs_to(formula)?;
        let tables = Tables::read(self)?;
        let mut phases = Vec::with_capacity(self.phases.len());
        for phase in &self.phases {
            let lines = phase.lines.iter().map(|line| tables.line(line)).collect::<Result<_, _>>()?;
            phases.push(PhaseTotal {
                name: phase.name.clone(),
                mass: tables.figure(phase.mass)?,
                share: tables.figure(phase.share)?,
                lines,
            });
        }
        let leaf = |it: &Share| {
            Ok(Leaf { material: tables.material(it.material)?, share: tables.figure(it.share)? })
        };
        let herb = |it: &Herb| {
            Ok(HerbEquivalent {
                material: tables.material(it.material)?,
                per_gram: tables.figure(it.per_gram)?,
            })
        };
        let contained = |it: &ContainedEntry| {
            Ok(Contained {
                material: tables.material(it.material)?,
                through: it.through.clone(),
                left_with_marc: it.fate == Fate::Marc,
            })
        };
        Ok(Evaluation {
            id: self.id.clone(),
            title: self.title.clone(),
            preparation: self.preparation,
            charged: tables.figure(self.charged)?,
            product: tables.figure(self.product)?,
            against_stated_yield: self.against_stated_yield.map(|at| tables.figure(at)).transpose()?,
            volume: tables.figure(self.volume)?,
            density: tables.figure(self.density)?,
            phases,
            composition: self.composition.iter().map(leaf).collect::<Result<_, KeptProblem>>()?,
            herbs: self.herbs.iter().map(herb).collect::<Result<_, KeptProblem>>()?,
            oil: tables.figure(self.oil)?,
            evaporated: self.evaporated.map(|(of_spirit, ethanol, water)| Evaporated {
                of_spirit,
                ethanol_at_least: ethanol.0,
                water_at_most: water.0,
            }),
            boiled_off: self.boiled_off.map(|at| tables.figure(at)).transpose()?,
            expected_yield: self.expected_yield.map(|at| tables.figure(at)).transpose()?,
            water: tables.figure(self.water)?,
            emulsifier: tables.figure(self.emulsifier)?,
            emulsifying_oil: tables.figure(self.emulsifying_oil)?,
            oil_to_water: tables.figure(self.oil_to_water)?,
            emulsifier_to_oil: tables.figure(self.emulsifier_to_oil)?,
            contains: self.contains.iter().map(contained).collect::<Result<_, KeptProblem>>()?,
            make_up: self.make_up.as_ref().map(make_up).transpose()?,
            formulas: self.formulas.clone(),
            unknown: self.unknown.clone(),
        })
    }

    fn belongs_to(&self, formula: &Formula) -> Result<(), KeptProblem> {
        if self.id != formula.id {
            return Err(KeptProblem::NotItsFormula("the id of the formula"));
        }
        let kept = self.phases.iter().map(|phase| phase.lines.len());
        if !kept.eq(formula.phases.iter().map(|phase| phase.lines.len())) {
            return Err(KeptProblem::NotItsFormula("the number of phases or lines"));
        }
        let lines = self.phases.iter().flat_map(|phase| &phase.lines);
        if !lines.zip(formula.lines()).all(|(kept, (_, _, line))| kept.amount == line.amount.typed()) {
            return Err(KeptProblem::NotItsFormula("the amount of a line"));
        }
        Ok(())
    }
}

fn make_up((phase, line, value, given): &(usize, usize, Exact, Text)) -> Result<MakeUp, KeptProblem> {
    Ok(MakeUp { phase: *phase, line: *line, value: value.0, unit: unit(given)? })
}

/// The tables of a kept result with everything in them resolved.
struct Tables<'a> {
    kept: &'a KeptEvaluation,
    /// The rules met so far, each by its number and the unit of its figures.
    rules: Vec<(usize, Arc<KeptRule>)>,
    materials: Vec<Arc<MaterialFacts>>,
    figures: Vec<Figure>,
}

impl<'a> Tables<'a> {
    fn read(kept: &'a KeptEvaluation) -> Result<Self, KeptProblem> {
        let mut tables = Self {
            kept,
            rules: Vec::with_capacity(kept.rules.len()),
            materials: Vec::with_capacity(kept.materials.len()),
            figures: Vec::with_capacity(kept.figures.len()),
        };
        for material in &kept.materials {
            let facts = tables.facts(material)?;
            tables.materials.push(Arc::new(facts));
        }
        for figure in &kept.figures {
            let figure = tables.resolve(figure)?;
            tables.figures.push(figure);
        }
        Ok(tables)
    }

    fn source(&self, at: usize) -> Result<Source, KeptProblem> {
        self.kept.sources.get(at).cloned().ok_or(KeptProblem::NoSuch { what: "source", number: at })
    }

    fn figure(&self, at: usize) -> Result<Figure, KeptProblem> {
        self.figures.get(at).cloned().ok_or(KeptProblem::NoSuch { what: "figure", number: at })
    }

    fn material(&self, at: usize) -> Result<Arc<MaterialFacts>, KeptProblem> {
        self.materials.get(at).cloned().ok_or(KeptProblem::NoSuch { what: "material", number: at })
    }

    /// A figure whose inputs stand before it.
    fn resolve(&mut self, entry: &FigureEntry) -> Result<Figure, KeptProblem> {
        let rule = self.rule(entry.rule, unit(&entry.unit)?)?;
        let inputs = entry.inputs.iter().map(|input| self.input(input)).collect::<Result<_, _>>()?;
        let value = match &entry.value {
            Answer::Number(value) => Value::Number(value.0),
            Answer::Words(words) => Value::Words(words.clone()),
            Answer::Day(day) => Value::Day(*day),
            Answer::Unknown(missing) => Value::Unknown(Unknown::kept(missing.clone())),
        };
        Ok(Figure::kept(value, rule, inputs))
    }

    /// A rule of the table for figures of a unit.
    fn rule(&mut self, at: usize, unit: &'static str) -> Result<Arc<KeptRule>, KeptProblem> {
        if let Some((_, rule)) = self.rules.iter().find(|(number, rule)| *number == at && rule.unit == unit) {
            return Ok(Arc::clone(rule));
        }
        let missing = KeptProblem::NoSuch { what: "rule", number: at };
        let entry = self.kept.rules.get(at).ok_or(missing)?;
        let (key, says, source) = (entry.key.clone(), entry.says.clone(), self.source(entry.source)?);
        let rule = Arc::new(KeptRule { unit, key, says, source });
        self.rules.push((at, Arc::clone(&rule)));
        Ok(rule)
    }

    fn input(&self, entry: &InputEntry) -> Result<Input, KeptProblem> {
        Ok(match entry {
            InputEntry::Number(name, value, given) => Input::number(name.clone(), value.0, unit(given)?),
            InputEntry::Words(name, value) => Input::words(name.clone(), value.clone()),
            InputEntry::Constant(name, value, given, source) => {
                Input::constant(name.clone(), value.0, unit(given)?, self.source(*source)?)
            }
            InputEntry::Figure(name, at) => Input::Figure { name: name.clone(), figure: self.figure(*at)? },
        })
    }

    fn line(&self, line: &LineEntry) -> Result<LineFigures, KeptProblem> {
        let number = line.number.as_ref().map(|(value, given)| Ok((value.0, unit(given)?)));
        let density = line.density.map(|density| density.0);
        let written = Written::Kept(Box::new(AsWritten {
            amount: line.amount.clone(),
            number: number.transpose()?,
            density: density.ok_or_else(|| line.density_misses.clone().map(Unknown::kept)),
            drops_per_ml: line.drops_per_ml.map(|drops| drops.0),
        }));
        Ok(LineFigures {
            name: line.name.clone(),
            mass: self.figure(line.mass)?,
            share: self.figure(line.share)?,
            volume: line.volume.map(|at| self.figure(at)).transpose()?,
            stays: line.fate == Fate::Stays,
            written,
        })
    }

    fn facts(&self, entry: &MaterialEntry) -> Result<MaterialFacts, KeptProblem> {
        let density = |it: &DensityEntry| {
            let value = Density::kept(it.g_per_ml.0, it.celsius.0);
            Ok(Sourced::new(value, self.source(it.source)?))
        };
        let herb = |it: &HerbEntry| {
            Ok(match it {
                HerbEntry::Dried => HerbState::Dried,
                HerbEntry::Fresh { water, dried_water } => HerbState::Fresh {
                    water: self.fact(*water, Fraction::kept)?,
                    dried_water: self.fact(*dried_water, Fraction::kept)?,
                },
            })
        };
        Ok(MaterialFacts {
            id: entry.id.clone(),
            name: entry.name.clone(),
            kind: entry.kind,
            dissolved: None,
            density: entry.density.as_ref().map(density).transpose()?,
            drops_per_ml: self.fact(entry.drops_per_ml, |drops| drops)?,
            herb: entry.herb.as_ref().map(herb).transpose()?,
            ethanol_by_volume: self.fact(entry.ethanol_by_volume, Fraction::kept)?,
            water: self.fact(entry.water, Fraction::kept)?,
        })
    }

    fn fact<T>(
        &self,
        entry: Option<Fact>,
        number: fn(Decimal) -> T,
    ) -> Result<Option<Sourced<T>>, KeptProblem> {
        entry.map(|Fact(value, source)| Ok(Sourced::new(number(value.0), self.source(source)?))).transpose()
    }
}

/// The one spelling of a unit that the program has.
fn unit(given: &Text) -> Result<&'static str, KeptProblem> {
    let signs = units::ALL.iter().copied().chain(Unit::ALL.iter().map(|unit| unit.symbol()));
    signs
        .into_iter()
        .find(|sign| *sign == given.as_str())
        .ok_or_else(|| KeptProblem::UnknownUnit(given.clone()))
}
