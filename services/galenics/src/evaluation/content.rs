//! What is in what is made, summed over its lines: the leaf materials through every nested level, the dried herb
//! behind it, emulsifiers, and everything that went in.

use std::sync::Arc;

use rust_decimal::Decimal;

use crate::{
    Formula, Function, HerbState, Ingredient, Input, MaterialFacts, MaterialKind, ProblemKind, Text, Unknown,
    number::{dec, divide},
    units,
};

use super::{
    masses::MadeUpTo,
    result::{Contained, Evaluation},
    weigh::{self, Charge, Weighed, add},
};

/// The density of water at 20 C, for the water that a fresh herb gives to its menstruum.
const WATER_20: Decimal = dec("0.9982067");

/// A material in what is made, with what each line gives to it.
pub(super) struct LeafMass {
    pub(super) material: Arc<MaterialFacts>,
    pub(super) mass: Result<Decimal, Unknown>,
    pub(super) from: Vec<Input>,
}

/// A herb behind what is made.
pub(super) struct HerbMass {
    pub(super) material: Arc<MaterialFacts>,
    /// As dried herb, in g.
    pub(super) dried: Result<Decimal, Unknown>,
    pub(super) from: Vec<Input>,
}

/// The sums over all lines.
pub(super) struct Content {
    pub(super) leaves: Vec<LeafMass>,
    pub(super) herbs: Vec<HerbMass>,
    pub(super) contains: Vec<Contained>,
    pub(super) formulas: Vec<(Text, Vec<Text>)>,
    pub(super) emulsifier: Result<Decimal, Unknown>,
    pub(super) emulsifying_oil: Result<Decimal, Unknown>,
    /// What stays, in g; before pressing where the preparation is strained.
    pub(super) kept: Result<Decimal, Unknown>,
    pub(super) kept_volume: Result<Decimal, Unknown>,
    pub(super) strained: bool,
    pub(super) made_up_to: MadeUpTo,
}

impl Content {
    pub(super) fn of(
        formula: &Formula,
        charges: &[Charge<'_>],
        weighed: &[Weighed],
        made_up_to: MadeUpTo,
    ) -> Result<Self, ProblemKind> {
        let mut content = Self {
            leaves: Vec::with_capacity(charges.len()),
            herbs: Vec::new(),
            contains: Vec::with_capacity(charges.len()),
            formulas: vec![(formula.id.clone(), vec![formula.title.clone()])],
            emulsifier: Ok(Decimal::ZERO),
            emulsifying_oil: Ok(Decimal::ZERO),
            kept: Ok(Decimal::ZERO),
            kept_volume: Ok(Decimal::ZERO),
            strained: charges.iter().any(|charge| !charge.stays),
            made_up_to,
        };
        for (charge, line) in charges.iter().zip(weighed) {
            let mass = line.mass.known();
            let first = match &charge.of.ingredient {
                Ingredient::Material(facts) => content.contain(facts, &[], !charge.stays),
                Ingredient::Nested(_) => false,
            };
            if charge.stays {
                content.stay(charge, line, &mass, first).ok_or(ProblemKind::OutOfRange)?;
            }
            match (&charge.of.ingredient, charge.nested) {
                (Ingredient::Material(facts), _) => {
                    if facts.kind == MaterialKind::Herb {
                        content.herb(formula, charge, facts, &mass).ok_or(ProblemKind::OutOfRange)?;
                    }
                }
                (Ingredient::Nested(inner), Some(nested)) => {
                    content.nested(formula, inner, nested, charge, &mass).ok_or(ProblemKind::OutOfRange)?;
                }
                (Ingredient::Nested(_), None) => {}
            }
        }
        if let (Err(_), Some(made_up_to)) = (&content.kept, made_up_to.mass) {
            content.kept = Ok(made_up_to);
        }
        match &content.kept {
            Ok(kept) if kept.is_zero() => Err(ProblemKind::NothingStays),
            Ok(_) | Err(_) => Ok(content),
        }
    }

    /// Counts a line into what stays; `first` where it is the first line that its material is in.
    fn stay(
        &mut self,
        charge: &Charge<'_>,
        line: &Weighed,
        mass: &Result<Decimal, Unknown>,
        first: bool,
    ) -> Option<()> {
        add(&mut self.kept, mass)?;
        let volume = match line.volume {
            Some(volume) => Ok(volume),
            None => Err(weigh::g_per_ml(charge.of, charge.nested).err().or_else(|| mass.clone().err())?),
        };
        add(&mut self.kept_volume, &volume)?;
        let emulsifies = charge.of.function == Some(Function::Emulsifier);
        match (&charge.of.ingredient, charge.nested) {
            (Ingredient::Material(facts), _) => {
                self.leaf(facts, facts.name.clone(), mass, first)?;
                let by_kind = charge.of.function.is_none() && facts.kind == MaterialKind::Emulsifier;
                if emulsifies || by_kind {
                    add(&mut self.emulsifier, mass)?;
                    if facts.kind.is_oil() {
                        add(&mut self.emulsifying_oil, mass)?;
                    }
                }
            }
            (Ingredient::Nested(inner), Some(nested)) => {
                for leaf in &nested.composition {
                    self.leaf(
                        &leaf.material,
                        inner.title.clone(),
                        &times(mass, &leaf.share.known())?,
                        false,
                    )?;
                }
                let (emulsifier, oil) = if emulsifies {
                    (mass.clone(), times(mass, &nested.oil.known())?)
                } else {
                    (times(mass, &nested.emulsifier.known())?, times(mass, &nested.emulsifying_oil.known())?)
                };
                add(&mut self.emulsifier, &emulsifier)?;
                add(&mut self.emulsifying_oil, &oil)?;
            }
            (Ingredient::Nested(_), None) => {}
        }
        Some(())
    }

    /// Counts a mass of a material. A material that is met for the `first` time is not looked for.
    fn leaf(
        &mut self,
        material: &Arc<MaterialFacts>,
        from: Text,
        mass: &Result<Decimal, Unknown>,
        first: bool,
    ) -> Option<()> {
        let input = mass.as_ref().ok().map(|mass| Input::number(from, *mass, units::GRAM));
        let known = match first {
            true => None,
            false => self.leaves.iter_mut().find(|leaf| same(&leaf.material, material)),
        };
        if let Some(leaf) = known {
            add(&mut leaf.mass, mass)?;
            leaf.from.extend(input);
        } else {
            self.leaves.push(LeafMass {
                material: Arc::clone(material),
                mass: mass.clone(),
                from: input.into_iter().collect(),
            });
        }
        Some(())
    }

    /// Notes that a material went in; answers whether it is met for the first time.
    fn contain(&mut self, material: &Arc<MaterialFacts>, through: &[Text], left_with_marc: bool) -> bool {
        if let Some(known) = self.contains.iter_mut().find(|known| same(&known.material, material)) {
            known.left_with_marc &= left_with_marc;
            return false;
        }
        let through = through.to_vec();
        self.contains.push(Contained { material: Arc::clone(material), through, left_with_marc });
        true
    }

    /// Counts a herb line: as dried herb and, of a fresh one that is strained off, its water into the rest.
    fn herb(
        &mut self,
        formula: &Formula,
        charge: &Charge<'_>,
        facts: &Arc<MaterialFacts>,
        mass: &Result<Decimal, Unknown>,
    ) -> Option<()> {
        let (dried, from) = match &facts.herb {
            None | Some(HerbState::Dried) => (mass.clone(), Vec::new()),
            Some(HerbState::Fresh { water, dried_water }) => {
                if !charge.stays && !formula.preparation.extracts_with_oil() {
                    self.fresh_water(facts, mass, water.as_ref().map(|water| water.value.get()))?;
                }
                match (mass, water, dried_water) {
                    (Ok(fresh), Some(water), Some(dried)) => {
                        let solids = fresh.checked_mul(water.value.rest().get())?;
                        let value = match divide(solids, dried.value.rest().get()) {
                            Some(value) => Ok(value),
                            None => Err(Unknown::of(format!("dry matter of dried {}", facts.name))),
                        };
                        let inputs = vec![
                            Input::number("fresh herb", *fresh, units::GRAM),
                            Input::constant(
                                "water of the fresh herb",
                                water.value.get(),
                                units::SHARE_OF_MASS,
                                water.source.clone(),
                            ),
                            Input::constant(
                                "water of the dried herb",
                                dried.value.get(),
                                units::SHARE_OF_MASS,
                                dried.source.clone(),
                            ),
                        ];
                        (value, inputs)
                    }
                    (Err(unknown), ..) => (Err(unknown.clone()), Vec::new()),
                    _ => (
                        Err(Unknown::of(format!("water content of {}, fresh and dried", facts.name))),
                        Vec::new(),
                    ),
                }
            }
        };
        self.add_herb(facts, &dried, from)
    }

    fn fresh_water(
        &mut self,
        facts: &Arc<MaterialFacts>,
        mass: &Result<Decimal, Unknown>,
        water: Option<Decimal>,
    ) -> Option<()> {
        let share = water.ok_or_else(|| Unknown::of(format!("water content of {}, fresh", facts.name)));
        let water = times(mass, &share)?;
        add(&mut self.kept, &water)?;
        let volume = match &water {
            Ok(water) => Ok(divide(*water, WATER_20)?),
            Err(unknown) => Err(unknown.clone()),
        };
        add(&mut self.kept_volume, &volume)?;
        let name = format!("water of {}", facts.name);
        let leaf = MaterialFacts::new(format!("{}#water", facts.id), name.clone(), MaterialKind::Water);
        self.leaf(&Arc::new(leaf), name.into(), &water, false)
    }

    fn add_herb(
        &mut self,
        facts: &Arc<MaterialFacts>,
        dried: &Result<Decimal, Unknown>,
        from: Vec<Input>,
    ) -> Option<()> {
        if let Some(herb) = self.herbs.iter_mut().find(|herb| same(&herb.material, facts)) {
            add(&mut herb.dried, dried)?;
            herb.from.extend(from);
        } else {
            self.herbs.push(HerbMass { material: Arc::clone(facts), dried: dried.clone(), from });
        }
        Some(())
    }

    fn nested(
        &mut self,
        formula: &Formula,
        inner: &Arc<Formula>,
        nested: &Evaluation,
        charge: &Charge<'_>,
        mass: &Result<Decimal, Unknown>,
    ) -> Option<()> {
        for contained in &nested.contains {
            let mut through = Vec::with_capacity(contained.through.len() + 1);
            through.push(inner.title.clone());
            through.extend_from_slice(&contained.through);
            self.contain(&contained.material, &through, contained.left_with_marc || !charge.stays);
        }
        for (id, way) in &nested.formulas {
            if !self.formulas.iter().any(|(known, _)| known == id) {
                let mut longer = Vec::with_capacity(way.len() + 1);
                longer.push(formula.title.clone());
                longer.extend_from_slice(way);
                self.formulas.push((id.clone(), longer));
            }
        }
        for herb in &nested.herbs {
            let per_gram = herb.per_gram.known().map(|milligrams| milligrams / Decimal::ONE_THOUSAND);
            let dried = times(mass, &per_gram)?;
            self.add_herb(&herb.material, &dried, vec![Input::figure(inner.title.clone(), &herb.per_gram)])?;
        }
        Some(())
    }
}

fn times(
    mass: &Result<Decimal, Unknown>,
    share: &Result<Decimal, Unknown>,
) -> Option<Result<Decimal, Unknown>> {
    Some(match (mass, share) {
        (Ok(mass), Ok(share)) => Ok(mass.checked_mul(*share)?),
        (Err(a), Err(b)) => Err(a.and(b)),
        (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown.clone()),
    })
}

fn same(a: &Arc<MaterialFacts>, b: &Arc<MaterialFacts>) -> bool {
    Arc::ptr_eq(a, b) || a.id == b.id
}
