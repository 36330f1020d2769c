//! From the sums over all lines to the figures of an evaluation, each with its rule.

use std::sync::Arc;

use rust_decimal::Decimal;

use super::{
    content::{Content, HerbMass, LeafMass},
    done::Done,
    ratio::ratio_of,
    result::{Evaluation, HerbEquivalent, Leaf, MakeUp, PhaseTotal},
    solids::emulsifier_to_oil,
    weigh::add,
    yields::against_yield,
};
use crate::{
    Density, ExtractBasis, Figure, Formula, Input, MaterialFacts, Measure, ProblemKind, Rule, Source,
    Sourced, Status, Text, Unknown, number::divide, units,
};

static PRODUCT: Rule = Rule::definition("mass_made", "total of all lines: {=}");
static MENSTRUUM: Rule =
    Rule::definition("mass_made_before_pressing", "product after removal of the marc: at most {=}");
static STATED_YIELD: Rule =
    Rule::definition("mass_made_as_stated", "yield stated by the formula: {yield}, {=}");
static ADDITIVE: Rule = Rule::definition(
    "volume_additive",
    "total of the volumes that stay in the product, taken as additive: {=}",
);
static CONTRACTED: Rule = Rule::new(
    "volume_contracted",
    "total of the volumes that stay in the product, less {lost} of contraction of ethanol and water: {=}",
    CONTRACTS,
);
const CONTRACTS: Source =
    Source::fixed("OIML R 22, density formula; other materials by their own volume", Status::Verified);
static MADE_UP: Rule = Rule::definition("volume_made_up_to", "made up to {=}");
static BY_DENSITY: Rule = Rule::definition("volume_by_density", "{mass} at {density}: {=}");
static MEASURED_DENSITY: Rule = Rule::new(
    "density_measured",
    "measured: {=}",
    Source::fixed("measured on the preparation", Status::Entered),
);
static ADDITIVE_DENSITY: Rule = Rule::new(
    "density_additive",
    "{mass} in {volume}, volumes taken as additive: {=}",
    Source::fixed("volumes taken as additive", Status::CommonPractice),
);
static CONTRACTED_DENSITY: Rule = Rule::new(
    "density_contracted",
    "{mass} in {volume}, after {lost} of contraction of ethanol and water: {=}",
    CONTRACTS,
);
static LEAF: Rule = Rule::definition("share_of_mass_made", "{material} in the product: {=}");
static HERB_STAYS: Rule = Rule::definition(
    "dried_herb_in_product",
    "{herb} of dried herb in {whole} of \
     product: {=}",
);
static HERB_BY_SOLVENT: Rule = Rule::new(
    "dried_herb_by_solvent",
    "{herb} of dried herb in {whole} of menstruum, pressed out or left in the marc: {=}",
    Source::fixed("drug to solvent reckoning, evenly through the menstruum", Status::CommonPractice),
);
static HERB_BY_PRODUCT: Rule = Rule::new(
    "dried_herb_by_product",
    "{herb} of dried herb for {whole} of product: {=}",
    Source::fixed("drug to product reckoning, the herb taken as exhausted", Status::CommonPractice),
);
static OIL: Rule = Rule::definition(
    "share_of_oil",
    "oils, butters, paraffins, waxes, fatty alcohols, fatty acids and essential oils in the product: {=}",
);
static WATER: Rule = Rule::definition(
    "share_of_water",
    "water in the product, including that of spirits, vinegar, honey, fresh plants and other solutions: {=}",
);
static EMULSIFIER: Rule = Rule::definition("share_of_emulsifier", "emulsifiers in the product: {=}");
static EMULSIFYING_OIL: Rule =
    Rule::definition("share_of_emulsifying_oil", "oil or wax in the product that acts as emulsifier: {=}");

impl Evaluation {
    /// The same with the density of what is made as it was measured, which volumes of it are reckoned by. What is in it
    /// stays as it was worked out; where its mass is not known, so does all.
    #[must_use]
    pub fn measured(&self, density: &Sourced<Density>) -> Self {
        let mut measured = self.clone();
        if self.product.value().is_some() {
            measured.density = measured_density(density);
            measured.volume = volume_by_density(&self.title, &self.product, &measured.density);
        }
        measured
    }
}

pub(super) fn measured_density(measured: &Sourced<Density>) -> Figure {
    let value = measured.value;
    let at = Input::number("temperature", value.at().c(), units::CELSIUS);
    let source = Input::constant("density", value.g_per_ml(), units::GRAM_PER_ML, measured.source.clone());
    Figure::number(value.g_per_ml(), units::GRAM_PER_ML, &MEASURED_DENSITY, vec![source, at])
}

pub(super) fn volume_by_density(title: &Text, product: &Figure, density: &Figure) -> Figure {
    match (product.known(), density.known()) {
        (Ok(mass), Ok(value)) => {
            let volume = divide(mass, value).ok_or_else(|| Unknown::of(format!("volume of {title}")));
            let inputs = vec![Input::number("mass", mass, units::GRAM), Input::figure("density", density)];
            Figure::from_result(volume, units::MILLILITRE, &BY_DENSITY, inputs)
        }
        (Err(unknown), _) | (_, Err(unknown)) => {
            Figure::unknown_for(unknown, units::MILLILITRE, &BY_DENSITY, Vec::new())
        }
    }
}

impl Content {
    /// What is made, in g: what stays, or the stated yield where the marc is pressed off.
    fn product(&self, formula: &Formula, density: &Figure) -> Figure {
        let stated = formula.yields.as_ref().filter(|_| self.strained);
        let Some(stated) = stated else {
            let rule = if self.strained { &MENSTRUUM } else { &PRODUCT };
            return Figure::from_result(self.kept.clone(), units::GRAM, rule, Vec::new());
        };
        let inputs = vec![Input::words("yield", Text::from(stated.text().to_owned()))];
        let mass = match stated.quantity().measure() {
            Measure::Mass(mass) => Ok(mass.g()),
            Measure::Volume(volume) => density.known().and_then(|density| {
                volume
                    .ml()
                    .checked_mul(density)
                    .ok_or_else(|| Unknown::of(format!("mass of {}", formula.title)))
            }),
            Measure::Drops { .. } => Err(Unknown::of(format!("yield of {}", formula.title))),
        };
        Figure::from_result(mass, units::GRAM, &STATED_YIELD, inputs)
    }

    pub(super) fn density(&self, formula: &Formula) -> Figure {
        if let Some(measured) = &formula.density {
            return measured_density(measured);
        }
        match (&self.kept, &self.kept_volume) {
            (Ok(mass), Ok(volume)) => {
                let value = divide(*mass, *volume)
                    .ok_or_else(|| Unknown::of(format!("density of {}", formula.title)));
                let mut inputs = vec![
                    Input::number("mass", *mass, units::GRAM),
                    Input::number("volume", *volume, units::MILLILITRE),
                ];
                inputs.extend(self.lost());
                inputs.extend(self.sugar());
                let rule = if self.contracted.is_zero() { &ADDITIVE_DENSITY } else { &CONTRACTED_DENSITY };
                Figure::from_result(value, units::GRAM_PER_ML, rule, inputs)
            }
            (Err(unknown), _) | (_, Err(unknown)) => {
                Figure::unknown_for(unknown.clone(), units::GRAM_PER_ML, &ADDITIVE_DENSITY, Vec::new())
            }
        }
    }

    fn volume(&self, formula: &Formula, product: &Figure, density: &Figure) -> Figure {
        if let Some(volume) = self.made_up_to.volume {
            return Figure::number(volume, units::MILLILITRE, &MADE_UP, Vec::new());
        }
        if formula.density.is_none() && !self.strained {
            let rule = if self.contracted.is_zero() { &ADDITIVE } else { &CONTRACTED };
            let inputs = self.lost().into_iter().chain(self.sugar()).collect();
            return Figure::from_result(self.kept_volume.clone(), units::MILLILITRE, rule, inputs);
        }
        volume_by_density(&formula.title, product, density)
    }

    /// The density of a dissolved solid, where one was counted by it.
    fn sugar(&self) -> Option<Input> {
        let of = self.dissolved.as_ref()?;
        let density = of.value.g_per_ml();
        Some(Input::constant("dissolved solid", density, units::GRAM_PER_ML, of.source.clone()))
    }

    /// What ethanol and water lose by being put together, where they do.
    fn lost(&self) -> Option<Input> {
        (!self.contracted.is_zero()).then(|| Input::number("lost", self.contracted, units::MILLILITRE))
    }

    /// The share of what stays that a mass is.
    fn part(&self, mass: &Result<Decimal, Unknown>) -> Result<Decimal, Unknown> {
        match (mass, &self.kept) {
            (Ok(mass), Ok(kept)) => divide(*mass, *kept).ok_or_else(|| Unknown::of("total mass")),
            (Err(a), Err(b)) => Err(a.and(b)),
            (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown.clone()),
        }
    }

    /// The share of what stays that is a part of its materials: `part` says how much of a gram of each.
    fn parts_of(&self, part: fn(&MaterialFacts) -> Result<Decimal, Unknown>, rule: &'static Rule) -> Figure {
        let mut sum = Ok(Decimal::ZERO);
        let mut inputs = Vec::new();
        for leaf in &self.leaves {
            let counted = match part(&leaf.material) {
                Ok(of) if of.is_zero() => continue,
                Ok(of) => leaf
                    .mass
                    .clone()
                    .and_then(|mass| mass.checked_mul(of).ok_or_else(|| Unknown::of("total mass"))),
                Err(unknown) => Err(unknown),
            };
            if add(&mut sum, &counted).is_none() {
                sum = Err(Unknown::of("total mass"));
            }
            if let Ok(mass) = counted {
                inputs.push(Input::number(leaf.material.name.clone(), mass, units::GRAM));
            }
        }
        Figure::from_result(self.part(&sum), units::SHARE_OF_MASS, rule, inputs)
    }

    fn herb_equivalents(&self, formula: &Formula, product: &Figure) -> Vec<HerbEquivalent> {
        let (whole, rule) = match (self.strained, formula.extract_basis) {
            (false, _) => (self.kept.clone(), &HERB_STAYS),
            (true, ExtractBasis::Product) => (product.known(), &HERB_BY_PRODUCT),
            // More product than menstruum would carry more herb than went in.
            (true, ExtractBasis::Solvent) => match (&self.kept, product.known()) {
                (Ok(kept), Ok(product)) => (Ok(product.max(*kept)), &HERB_BY_SOLVENT),
                (kept, _) => (kept.clone(), &HERB_BY_SOLVENT),
            },
        };
        let equivalent = |herb: &HerbMass| {
            let per_gram = match (&herb.dried, &whole) {
                (Ok(dried), Ok(whole)) => divide(*dried, *whole)
                    .and_then(|share| share.checked_mul(Decimal::ONE_THOUSAND))
                    .ok_or_else(|| Unknown::of("total mass")),
                (Err(a), Err(b)) => Err(a.and(b)),
                (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown.clone()),
            };
            let mut inputs = Vec::with_capacity(herb.from.len() + 2);
            if let (Ok(dried), Ok(whole)) = (&herb.dried, &whole) {
                inputs.push(Input::number("herb", *dried, units::GRAM));
                inputs.push(Input::number("whole", *whole, units::GRAM));
            }
            inputs.extend(herb.from.iter().cloned());
            let per_gram = Figure::from_result(per_gram, units::MILLIGRAM_PER_GRAM, rule, inputs);
            HerbEquivalent { material: Arc::clone(&herb.material), per_gram }
        };
        self.herbs.iter().map(equivalent).collect()
    }

    /// The formula worked out, with the places in the graph of what is listed.
    pub(super) fn done(
        mut self,
        formula: &Formula,
        charged: Figure,
        phases: Vec<PhaseTotal>,
        make_up: Option<MakeUp>,
    ) -> Result<Done, ProblemKind> {
        let boiling = self.boiling(formula);
        let evaporated = {
            let leaves = self.leaves.iter().map(|leaf| (&*leaf.material, &leaf.mass));
            self.maybe_gone.bounds(leaves, &self.kept)
        };
        let density = self.density(formula);
        let product = self.product(formula, &density);
        let volume = self.volume(formula, &product, &density);
        let oil = self.parts_of(|facts| Ok(Decimal::from(u8::from(facts.kind.is_oil()))), &OIL);
        let water = self.parts_of(|facts| facts.solution().map(|of| of.water), &WATER);
        let emulsifier =
            Figure::from_result(self.part(&self.emulsifier), units::SHARE_OF_MASS, &EMULSIFIER, Vec::new());
        let emulsifying_oil = Figure::from_result(
            self.part(&self.emulsifying_oil),
            units::SHARE_OF_MASS,
            &EMULSIFYING_OIL,
            Vec::new(),
        );
        let oil_to_water = ratio_of(&oil, &water);
        let herbs = self.herb_equivalents(formula, &product);
        let leaf_places = self.leaves.iter().map(|leaf| leaf.of).collect();
        let herb_places = self.herbs.iter().map(|herb| herb.place).collect();
        let leaves = std::mem::take(&mut self.leaves);
        let leaf = |leaf: LeafMass| {
            let share = Figure::from_result(self.part(&leaf.mass), units::SHARE_OF_MASS, &LEAF, leaf.from);
            Leaf { material: leaf.material, share }
        };
        let composition: Vec<Leaf> = leaves.into_iter().map(leaf).collect();
        let emulsifier_to_oil =
            emulsifier_to_oil(&composition, (&emulsifier, &emulsifying_oil), &oil, &water);
        let expected_yield = self.expected_yield(formula);
        let against_stated_yield = against_yield(formula, &product, self.strained);

        let mut unknown = Vec::new();
        let lines = phases.iter().flat_map(|phase| phase.lines.iter().map(|line| &line.mass));
        let rest = [&charged, &product, &oil, &water, &emulsifier];
        for figure in lines.chain(rest).chain(herbs.iter().map(|herb| &herb.per_gram)) {
            note_missing(&mut unknown, figure.unknown());
        }
        let evaluation = Evaluation {
            id: formula.id.clone(),
            title: formula.title.clone(),
            preparation: formula.preparation,
            charged,
            product,
            against_stated_yield,
            expected_yield,
            volume,
            density,
            phases,
            composition,
            herbs,
            oil,
            water,
            emulsifier,
            emulsifying_oil,
            oil_to_water,
            emulsifier_to_oil,
            contains: self.contains,
            evaporated,
            boiled_off: None,
            make_up,
            formulas: self.formulas,
            unknown,
        };
        let evaluation = match (boiling, &formula.yields) {
            (Some(boiling), Some(stated)) => boiling.down(formula, stated, evaluation)?,
            _ => evaluation,
        };
        Ok(Done {
            evaluation,
            leaves: leaf_places,
            herbs: herb_places,
            contains: self.contains_places,
            formulas: self.formula_places,
        })
    }
}

/// Adds what one figure misses to a list of all that is missing.
fn note_missing(all: &mut Vec<Text>, unknown: Option<&Unknown>) {
    for missing in unknown.map(Unknown::missing).unwrap_or_default() {
        if !all.contains(missing) {
            all.push(missing.clone());
        }
    }
}
