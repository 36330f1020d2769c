//! What is in what is made, summed over its lines: the leaf materials through every nested level, the dried herb
//! behind it, emulsifiers, and everything that went in.

use std::sync::Arc;

use rust_decimal::Decimal;

use crate::{
    Density, Formula, Function, Graph, Ingredient, Input, MaterialFacts, MaterialKind, Nested, ProblemKind,
    Sourced, Text, Unknown,
    graph::{Node, Slot},
    interrupt, units,
};

use super::{
    contraction::{Contraction, Liquor},
    done::{Done, LeafOf},
    masses::MadeUpTo,
    maybe_gone::MaybeGone,
    result::Contained,
    weigh::{Charge, Weighed, add},
};

/// Where a material stands in the sums; nowhere yet where there is nothing.
#[derive(Clone, Copy, Default)]
pub(super) struct Places {
    leaf: Option<usize>,
    water: Option<usize>,
    pub(super) herb: Option<usize>,
    contained: Option<usize>,
}

/// A material in what is made, with its name and what each line gives to it.
pub(super) struct LeafMass {
    pub(super) of: LeafOf,
    pub(super) material: Arc<MaterialFacts>,
    pub(super) mass: Result<Decimal, Unknown>,
    pub(super) from: Vec<Input>,
}

/// A herb behind what is made.
pub(super) struct HerbMass {
    pub(super) place: usize,
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
    pub(super) contains_places: Vec<usize>,
    pub(super) formulas: Vec<(Text, Vec<Text>)>,
    pub(super) formula_places: Vec<usize>,
    /// For each material of the graph, where it stands in these sums.
    pub(super) places: Vec<Places>,
    /// For each formula of the graph, whether it stands in `formulas`.
    has_formula: Vec<bool>,
    pub(super) emulsifier: Result<Decimal, Unknown>,
    pub(super) emulsifying_oil: Result<Decimal, Unknown>,
    /// What stays, in g; before pressing where the preparation is strained.
    pub(super) kept: Result<Decimal, Unknown>,
    /// Its volume in mL, less what ethanol and water lose by being put together.
    pub(super) kept_volume: Result<Decimal, Unknown>,
    pub(super) contraction: Contraction,
    /// The density by which a dissolved solid was counted into the volume.
    pub(super) dissolved: Option<Sourced<Density>>,
    /// What ethanol and water lose by being put together, in mL.
    pub(super) contracted: Decimal,
    pub(super) strained: bool,
    pub(super) made_up_to: MadeUpTo,
    /// Spirit of nested preparations that may be gone.
    pub(super) maybe_gone: MaybeGone,
}

impl Content {
    pub(super) fn of(
        graph: &Graph<'_>,
        node: &Node<'_>,
        charges: &[Charge<'_>],
        weighed: &[Weighed],
        made_up_to: MadeUpTo,
    ) -> Result<Self, ProblemKind> {
        let formula = node.formula;
        let mut content = Self {
            leaves: Vec::with_capacity(charges.len()),
            herbs: Vec::new(),
            contains: Vec::with_capacity(charges.len()),
            contains_places: Vec::with_capacity(charges.len()),
            formulas: Vec::new(),
            formula_places: Vec::new(),
            places: vec![Places::default(); graph.materials().len()],
            has_formula: vec![false; graph.formulas()],
            emulsifier: Ok(Decimal::ZERO),
            emulsifying_oil: Ok(Decimal::ZERO),
            kept: Ok(Decimal::ZERO),
            kept_volume: Ok(Decimal::ZERO),
            contraction: Contraction::new(),
            dissolved: None,
            contracted: Decimal::ZERO,
            strained: charges.iter().any(|charge| !charge.stays),
            made_up_to,
            maybe_gone: MaybeGone::default(),
        };
        content.formula(node.id, &formula.id, || vec![formula.title.clone()]);
        for (charge, line) in charges.iter().zip(weighed) {
            interrupt::visit().map_err(|_| ProblemKind::Interrupted)?;
            let mass = line.mass.known();
            if let (Ingredient::Material(facts), Slot::Material(place)) = (&charge.of.ingredient, charge.slot)
            {
                content.contain(place, facts, Vec::new, !charge.stays);
            }
            if charge.stays {
                content.stay(charge, line, &mass).ok_or(ProblemKind::OutOfRange)?;
            }
            match (&charge.of.ingredient, charge.slot, charge.nested) {
                (Ingredient::Material(facts), Slot::Material(place), _)
                    if facts.kind == MaterialKind::Herb =>
                {
                    content.herb(formula, charge, (place, facts), &mass).ok_or(ProblemKind::OutOfRange)?;
                }
                (Ingredient::Nested(inner), _, Some(nested)) => {
                    content.nested(formula, inner, nested, charge, &mass).ok_or(ProblemKind::OutOfRange)?;
                }
                _ => {}
            }
        }
        if let (Err(_), Some(made_up_to)) = (&content.kept, made_up_to.mass) {
            content.kept = Ok(made_up_to);
        }
        content.contract();
        match &content.kept {
            Ok(kept) if kept.is_zero() => Err(ProblemKind::NothingStays),
            Ok(_) | Err(_) => Ok(content),
        }
    }

    /// Takes off the volume what ethanol and water lose by being put together.
    fn contract(&mut self) {
        self.kept_volume = match (&self.kept_volume, self.contraction.lost()) {
            (Ok(volume), Ok(lost)) => {
                self.contracted = lost;
                volume.checked_sub(lost).ok_or_else(|| Unknown::of("volume of the mixture"))
            }
            (Ok(_), Err(unknown)) => Err(unknown),
            (Err(unknown), _) => Err(unknown.clone()),
        };
    }

    /// Counts a line into what stays.
    fn stay(&mut self, charge: &Charge<'_>, line: &Weighed, mass: &Result<Decimal, Unknown>) -> Option<()> {
        if charge.is_to_ph() {
            // It is in what is made, nobody knows how much of it; it is too little to change the sums.
            return match (&charge.of.ingredient, charge.slot) {
                (Ingredient::Material(facts), Slot::Material(place)) => {
                    self.leaf(LeafOf::Material(place), facts, facts.name.clone(), mass)
                }
                _ => Some(()),
            };
        }
        add(&mut self.kept, mass)?;
        let volume = match line.volume {
            Some(volume) => Ok(volume),
            None => Err(charge.filling().err().or_else(|| mass.clone().err())?),
        };
        add(&mut self.kept_volume, &volume)?;
        if let Some(dissolved) = charge.dissolved() {
            self.dissolved.get_or_insert_with(|| dissolved.clone());
        }
        let liquor = match mass {
            Ok(mass) => Liquor::of_charge(charge).map(|of| of.times(*mass)),
            // The volume is unknown with the mass.
            Err(_) => Ok(Liquor::default()),
        };
        self.contraction.add(liquor);
        let emulsifies = charge.of.function == Some(Function::Emulsifier);
        match (&charge.of.ingredient, charge.slot, charge.nested) {
            (Ingredient::Material(facts), Slot::Material(place), _) => {
                self.leaf(LeafOf::Material(place), facts, facts.name.clone(), mass)?;
                let by_kind = charge.of.function.is_none() && facts.kind == MaterialKind::Emulsifier;
                if emulsifies || by_kind {
                    add(&mut self.emulsifier, mass)?;
                    if facts.kind.is_oil() {
                        add(&mut self.emulsifying_oil, mass)?;
                    }
                }
            }
            (Ingredient::Nested(inner), _, Some(Done { evaluation: nested, leaves, .. })) => {
                for (leaf, of) in nested.composition.iter().zip(leaves) {
                    self.leaf(
                        *of,
                        &leaf.material,
                        inner.title().clone(),
                        &times(mass, &leaf.share.known())?,
                    )?;
                }
                let (emulsifier, oil) = if emulsifies {
                    (mass.clone(), times(mass, &nested.oil.known())?)
                } else {
                    (times(mass, &nested.emulsifier.known())?, times(mass, &nested.emulsifying_oil.known())?)
                };
                add(&mut self.emulsifier, &emulsifier)?;
                add(&mut self.emulsifying_oil, &oil)?;
                self.maybe_gone.add(nested, mass);
            }
            _ => {}
        }
        Some(())
    }

    /// Counts a mass of a material.
    pub(super) fn leaf(
        &mut self,
        of: LeafOf,
        material: &Arc<MaterialFacts>,
        from: Text,
        mass: &Result<Decimal, Unknown>,
    ) -> Option<()> {
        let input = mass.as_ref().ok().map(|mass| Input::number(from, *mass, units::GRAM));
        let next = self.leaves.len();
        let place = match of {
            LeafOf::Material(place) => self.places.get_mut(place)?.leaf.get_or_insert(next),
            LeafOf::WaterOf(place) => self.places.get_mut(place)?.water.get_or_insert(next),
        };
        match self.leaves.get_mut(*place) {
            Some(leaf) => {
                add(&mut leaf.mass, mass)?;
                leaf.from.extend(input);
            }
            None => {
                let mut inputs = Vec::with_capacity(2);
                inputs.push(Input::words("material", material.name.clone()));
                inputs.extend(input);
                let material = Arc::clone(material);
                self.leaves.push(LeafMass { of, material, mass: mass.clone(), from: inputs });
            }
        }
        Some(())
    }

    /// Notes that a material went in, and the way on which it was met first.
    fn contain(
        &mut self,
        place: usize,
        material: &Arc<MaterialFacts>,
        through: impl FnOnce() -> Vec<Text>,
        left_with_marc: bool,
    ) {
        let next = self.contains.len();
        let Some(places) = self.places.get_mut(place) else { return };
        match self.contains.get_mut(*places.contained.get_or_insert(next)) {
            Some(known) => known.left_with_marc &= left_with_marc,
            None => {
                let material = Arc::clone(material);
                self.contains.push(Contained { material, through: through(), left_with_marc });
                self.contains_places.push(place);
            }
        }
    }

    /// Notes that a formula is in it, and the way on which it was met first.
    fn formula(&mut self, place: usize, id: &Text, way: impl FnOnce() -> Vec<Text>) {
        if self.has_formula.get_mut(place).is_some_and(|has| !std::mem::replace(has, true)) {
            self.formulas.push((id.clone(), way()));
            self.formula_places.push(place);
        }
    }

    fn nested(
        &mut self,
        formula: &Formula,
        inner: &Nested,
        nested: &Done,
        charge: &Charge<'_>,
        mass: &Result<Decimal, Unknown>,
    ) -> Option<()> {
        let longer = |first: &Text, rest: &[Text]| std::iter::once(first).chain(rest).cloned().collect();
        let Done { evaluation, herbs, contains, formulas, .. } = nested;
        for (contained, place) in evaluation.contains.iter().zip(contains) {
            let through = || longer(inner.title(), &contained.through);
            self.contain(*place, &contained.material, through, contained.left_with_marc || !charge.stays);
        }
        for ((id, way), place) in evaluation.formulas.iter().zip(formulas) {
            self.formula(*place, id, || longer(&formula.title, way));
        }
        for (herb, place) in evaluation.herbs.iter().zip(herbs) {
            let per_gram = herb.per_gram.known().map(|milligrams| milligrams / Decimal::ONE_THOUSAND);
            let dried = times(mass, &per_gram)?;
            let from = vec![Input::figure(inner.title().clone(), &herb.per_gram)];
            self.add_herb(*place, &herb.material, &dried, from)?;
        }
        Some(())
    }
}

pub(super) fn times(
    mass: &Result<Decimal, Unknown>,
    share: &Result<Decimal, Unknown>,
) -> Option<Result<Decimal, Unknown>> {
    Some(match (mass, share) {
        (Ok(mass), Ok(share)) => Ok(mass.checked_mul(*share)?),
        (Err(a), Err(b)) => Err(a.and(b)),
        (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown.clone()),
    })
}
