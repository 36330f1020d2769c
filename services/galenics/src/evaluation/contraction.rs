//! What ethanol and water lose in volume by being put together (OIML R 22).
//!
//! Each line fills what its own density says. From the sum goes what its ethanol and water would lose against the room
//! that they take within each line: one line alone loses nothing, and a nested tincture has lost its part before. What
//! is neither counts with its own volume.

use rust_decimal::Decimal;

use crate::{
    Ingredient, MaterialFacts, Unknown,
    alcohol::volume_together,
    number::{from_f64, to_f64},
};

use super::weigh::Charge;

/// Ethanol and water, in g or as shares.
#[derive(Clone, Copy, Default)]
pub(super) struct Liquor {
    ethanol: f64,
    water: f64,
}

impl Liquor {
    /// Ethanol and water of a gram of a material; nothing of what does not contract.
    ///
    /// # Errors
    /// The strength of a spirit that is not known.
    pub(super) fn of_material(facts: &MaterialFacts) -> Result<Self, Unknown> {
        if !facts.contracts() {
            return Ok(Self::default());
        }
        let of = facts.solution()?;
        Ok(Self { ethanol: to_f64(of.ethanol), water: to_f64(of.water) })
    }

    /// Ethanol and water of a gram of what a line puts in.
    ///
    /// # Errors
    /// The strength or share of a spirit that is not known.
    pub(super) fn of_charge(charge: &Charge<'_>) -> Result<Self, Unknown> {
        let nested = match (&charge.of.ingredient, charge.nested) {
            (Ingredient::Material(facts), _) => return Self::of_material(facts),
            (Ingredient::Nested(formula), None) => {
                return Err(Unknown::of(format!("composition of {}", formula.title())));
            }
            (Ingredient::Nested(_), Some(nested)) => &nested.evaluation,
        };
        let mut sum = Self::default();
        for leaf in nested.composition.iter().filter(|leaf| leaf.material.contracts()) {
            sum = sum.and(Self::of_material(&leaf.material)?.times(leaf.share.known()?));
        }
        Ok(sum)
    }

    pub(super) fn times(self, by: Decimal) -> Self {
        let by = to_f64(by);
        Self { ethanol: self.ethanol * by, water: self.water * by }
    }

    fn and(self, other: Self) -> Self {
        Self { ethanol: self.ethanol + other.ethanol, water: self.water + other.water }
    }

    fn is_nothing(self) -> bool {
        self.ethanol + self.water <= 0.0
    }

    fn volume(self) -> f64 {
        volume_together(self.ethanol, self.water)
    }
}

/// The ethanol and water of all lines.
#[derive(Clone)]
pub(super) struct Contraction {
    together: Liquor,
    /// In mL.
    apart: f64,
    lines: usize,
    unknown: Option<Unknown>,
}

impl Contraction {
    pub(super) const fn new() -> Self {
        Self { together: Liquor { ethanol: 0.0, water: 0.0 }, apart: 0.0, lines: 0, unknown: None }
    }

    /// Adds the ethanol and water of a line, in g.
    pub(super) fn add(&mut self, line: Result<Liquor, Unknown>) {
        match line {
            Ok(line) if line.is_nothing() => {}
            Ok(line) => {
                self.together = self.together.and(line);
                self.apart += line.volume();
                self.lines += 1;
            }
            Err(unknown) => {
                self.unknown = Some(self.unknown.take().map_or(unknown.clone(), |known| known.and(&unknown)));
                self.lines += 1;
            }
        }
    }

    /// What they lose by being put together, in mL; a single line loses nothing, whatever it is.
    ///
    /// # Errors
    /// The strength of a spirit that is not known.
    pub(super) fn lost(&self) -> Result<Decimal, Unknown> {
        if self.lines < 2 || self.together.ethanol <= 0.0 && self.unknown.is_none() {
            return Ok(Decimal::ZERO);
        }
        match &self.unknown {
            Some(unknown) => Err(unknown.clone()),
            None => from_f64(self.apart - self.together.volume())
                .ok_or_else(|| Unknown::of("contraction of the mixture")),
        }
    }
}
