//! A line as the formula has it: what scaling needs beside the figures of the line.

use rust_decimal::Decimal;

use crate::{AmountKind, Figure, Ingredient, Line, Text, Unknown};

/// Where scaling finds a line as the formula has it.
#[derive(Debug, Clone)]
pub(crate) enum Written {
    /// In the formula itself, which was evaluated by this program.
    InFormula {
        /// Of a nested preparation, its density as evaluated.
        nested_density: Option<Figure>,
    },
    /// As it was read when the evaluation was kept: nothing is read anew.
    Kept(Box<AsWritten>),
}

/// A line as the formula has it.
#[derive(Debug, Clone)]
pub(crate) struct AsWritten {
    /// The amount as typed.
    pub(crate) amount: Text,
    /// The number and unit, where the amount is a single one.
    pub(crate) number: Option<(Decimal, &'static str)>,
    /// g/mL; else what a nested preparation misses for it, nothing of a material, which misses just that.
    pub(crate) density: Result<Decimal, Option<Unknown>>,
    /// Drops in a millilitre, where they were counted.
    pub(crate) drops_per_ml: Option<Decimal>,
}

impl Written {
    /// The line as the formula has it; `line` is the line of the formula.
    pub(crate) fn of(&self, line: &Line) -> AsWritten {
        let nested_density = match self {
            Self::Kept(kept) => return AsWritten::clone(kept),
            Self::InFormula { nested_density } => nested_density.as_ref(),
        };
        let drops = line.drops_per_ml().map(|drops| drops.value);
        let density = match &line.ingredient {
            Ingredient::Material(facts) => {
                let density = facts.density.as_ref().map(|density| density.value.g_per_ml());
                density.ok_or(None)
            }
            Ingredient::Nested(_) => {
                let density = nested_density.and_then(Figure::value);
                density.ok_or_else(|| nested_density.and_then(Figure::unknown).cloned())
            }
        };
        AsWritten { amount: self.amount(line), number: self.number(line), density, drops_per_ml: drops }
    }

    /// The amount as typed.
    pub(crate) fn amount(&self, line: &Line) -> Text {
        match self {
            Self::Kept(kept) => kept.amount.clone(),
            Self::InFormula { .. } => line.amount.typed(),
        }
    }

    /// The number and unit, where the amount is a single one.
    pub(crate) fn number(&self, line: &Line) -> Option<(Decimal, &'static str)> {
        match self {
            Self::Kept(kept) => kept.number,
            Self::InFormula { .. } => match line.amount.kind() {
                AmountKind::Quantity(quantity) => match quantity.parts() {
                    [part] => Some((part.number, part.unit.symbol())),
                    _ => None,
                },
                _ => None,
            },
        }
    }
}
