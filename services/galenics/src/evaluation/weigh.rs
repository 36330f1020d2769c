//! One line in grams: as weighed, or through the density of what is measured or counted in drops.

use rust_decimal::Decimal;

use super::done::Done;
use crate::{
    AmountKind, Density, Figure, HerbRatio, Ingredient, Input, Line, Measure, Quantity, Rule, Source,
    Sourced, Text, Unknown, graph::Slot, number::divide, units,
};

/// One line with what its mass depends on.
pub(super) struct Charge<'a> {
    pub(super) phase: usize,
    pub(super) line: usize,
    pub(super) of: &'a Line,
    /// What it puts in, by its place in the graph.
    pub(super) slot: Slot,
    pub(super) nested: Option<&'a Done>,
    /// Whether it stays in what is made.
    pub(super) stays: bool,
    /// Whether it goes into something wet, in which a solid such as sugar fills no more than it does dissolved.
    pub(super) wet: bool,
}

impl Charge<'_> {
    /// What a solid that dissolves fills in something wet, where its density is not known.
    pub(super) fn dissolved(&self) -> Option<&Sourced<Density>> {
        match &self.of.ingredient {
            Ingredient::Material(facts) if self.wet && facts.density.is_none() => facts.dissolved.as_ref(),
            _ => None,
        }
    }

    /// Grams of it that fill a mL of what is made: by its density, or as it fills once dissolved.
    pub(super) fn filling(&self) -> Result<Decimal, Unknown> {
        match self.dissolved() {
            Some(dissolved) => Ok(dissolved.value.g_per_ml()),
            None => g_per_ml(self.of, self.nested),
        }
    }

    /// Whether it is a herb that is strained off.
    pub(super) fn is_drawn_out(&self) -> bool {
        let herb = matches!(&self.of.ingredient, Ingredient::Material(facts) if facts.herb.is_some());
        herb && !self.stays
    }

    /// Its ratio to the menstruum or the extract, where it is a herb that is written so.
    pub(super) fn herb_ratio(&self) -> Option<HerbRatio> {
        self.of.amount.kind().herb_ratio(self.is_drawn_out())
    }

    /// Whether so much of it is put in as brings the whole to a pH.
    pub(super) const fn is_to_ph(&self) -> bool {
        matches!(self.of.amount.kind(), AmountKind::ToPh(_))
    }
}

/// A line's mass, and its volume where it was measured or the density is known.
pub(super) struct Weighed {
    pub(super) mass: Figure,
    pub(super) volume: Option<Decimal>,
}

impl Weighed {
    /// One that is worked out when the others are known.
    pub(super) fn to_come() -> Self {
        Self {
            mass: Figure::unknown_for(Unknown::of("mass"), units::GRAM, &AS_WEIGHED, Vec::new()),
            volume: None,
        }
    }
}

static TO_PH: Rule = Rule::definition("mass_to_ph", "amount that brings the whole to {ph}: {=}");
static AS_WEIGHED: Rule = Rule::definition("mass_as_written", "{amount}: {=}");
static FROM_VOLUME: Rule = Rule::definition("mass_from_volume", "{amount}, {volume}, at {density}: {=}");

/// A line of which so much is put in as brings the whole to a pH: known when it is done.
pub(super) fn not_fixed(charge: &Charge<'_>) -> Weighed {
    let ph = match charge.of.amount.kind() {
        AmountKind::ToPh(Some(target)) => target.typed(),
        _ => Text::fixed("the target pH of the formula"),
    };
    let unknown = Unknown::of(format!(
        "amount of {} to reach {ph}. Weigh it at the bench.",
        charge.of.ingredient.name()
    ));
    let mass = Figure::unknown_for(unknown, units::GRAM, &TO_PH, vec![Input::words("ph", ph)]);
    Weighed { mass, volume: None }
}

/// The density of what a line puts in: of a material as its source gives it, of a nested preparation as
/// measured or else from its parts.
pub(super) fn g_per_ml(line: &Line, nested: Option<&Done>) -> Result<Decimal, Unknown> {
    match &line.ingredient {
        Ingredient::Material(facts) => match &facts.density {
            Some(density) => Ok(density.value.g_per_ml()),
            None => Err(Unknown::of(format!("density of {}", facts.name))),
        },
        Ingredient::Nested(formula) => match nested {
            Some(nested) => nested.evaluation.density.known(),
            None => Err(Unknown::of(format!("density of {}", formula.title()))),
        },
    }
}

/// That density with its source.
pub(super) fn density(line: &Line, nested: Option<&Done>) -> Result<(Decimal, Source), Unknown> {
    let value = g_per_ml(line, nested)?;
    let source = match (&line.ingredient, nested) {
        (Ingredient::Material(facts), _) => facts.density.as_ref().map(|density| &density.source),
        (Ingredient::Nested(_), nested) => nested.map(|nested| nested.evaluation.density.source()),
    };
    source.map(|source| (value, source.clone())).ok_or_else(|| Unknown::of("source of the density"))
}

/// A line of a known mass, with its volume where its density is known.
pub(super) fn weighed_by_mass(
    charge: &Charge<'_>,
    mass: Decimal,
    rule: &'static Rule,
    inputs: Vec<Input>,
) -> Option<Weighed> {
    let volume = match charge.filling() {
        Ok(density) => Some(divide(mass, density)?),
        Err(_) => None,
    };
    Some(Weighed { mass: Figure::number(mass, units::GRAM, rule, inputs), volume })
}

/// A quantity in grams: as weighed, or through the density of what is measured.
pub(super) fn weigh(charge: &Charge<'_>, quantity: &Quantity) -> Option<Weighed> {
    let mut inputs = Vec::with_capacity(3);
    inputs.push(Input::words("amount", quantity.typed()));
    if let Some(family) = quantity.taken_within() {
        inputs.push(Input::words("household measures taken as", family.as_str()));
    }
    for part in quantity.parts() {
        let factor = part.unit.factor();
        if factor.times != Decimal::ONE {
            let unit =
                if quantity.dimension() == crate::Dimension::Mass { units::GRAM } else { units::MILLILITRE };
            let value = factor.to_base(Decimal::ONE)?;
            inputs.push(Input::constant(part.unit.name(), value, unit, part.unit.source().clone()));
        }
    }
    if let Measure::Mass(mass) = quantity.measure() {
        return weighed_by_mass(charge, mass.g(), &AS_WEIGHED, inputs);
    }
    let drops = charge.of.drops_per_ml();
    if let (Measure::Drops { per_ml: None, .. }, Some(drops)) = (quantity.measure(), drops) {
        inputs.push(Input::constant("drops per mL", drops.value, units::RATIO, drops.source.clone()));
    }
    let Some(volume) = quantity.volume(drops.map(|drops| drops.value)) else {
        let unknown = Unknown::of(format!(
            "drops per mL of {} (write 30 drops at 20 per mL)",
            charge.of.ingredient.name()
        ));
        let mass = Figure::unknown_for(unknown, units::GRAM, &FROM_VOLUME, inputs);
        return Some(Weighed { mass, volume: None });
    };
    inputs.push(Input::number("volume", volume.ml(), units::MILLILITRE));
    let mass = match density(charge.of, charge.nested) {
        Ok((density, source)) => {
            inputs.push(Input::constant("density", density, units::GRAM_PER_ML, source));
            Ok(volume.ml().checked_mul(density)?)
        }
        Err(unknown) => Err(unknown),
    };
    let mass = Figure::from_result(mass, units::GRAM, &FROM_VOLUME, inputs);
    Some(Weighed { mass, volume: Some(volume.ml()) })
}

/// Adds to a sum that becomes unknown with any of its parts, and then collects all that is missing.
pub(super) fn add(sum: &mut Result<Decimal, Unknown>, part: &Result<Decimal, Unknown>) -> Option<()> {
    *sum = match (&*sum, part) {
        (Ok(a), Ok(b)) => Ok(a.checked_add(*b)?),
        (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown.clone()),
        (Err(a), Err(b)) => Err(a.and(b)),
    };
    Some(())
}
