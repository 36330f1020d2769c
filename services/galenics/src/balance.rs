//! A balance, and what it can show of an amount.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;
use thiserror::Error;

use crate::{Fraction, Mass, number::dec};

/// The error of a weighing that teaching texts allow where nothing else is stated: 5 %.
const USUAL_TOLERANCE: Decimal = dec("0.05");

/// Why a balance cannot be worked with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum BalanceError {
    /// No steps.
    #[error("The balance step must be above 0 g. Enter the smallest step it shows, such as 0.1 g or 0.01 g.")]
    Readability,
    /// No error allowed.
    #[error("A tolerance of 0 % allows no weighing. Enter one such as 1 % or 5 %.")]
    Tolerance,
    /// Takes less than one of its own steps.
    #[error("The balance's capacity is below one step. Enter its capacity, such as 500 g.")]
    Capacity,
}

/// A balance: the step it shows, the most it takes, and the relative error that is allowed of a weighing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Balance {
    readability: Mass,
    most: Option<Mass>,
    tolerance: Fraction,
}

/// An amount as a balance shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rounded {
    /// What to weigh, in g: a whole number of the balance's steps.
    pub weigh: Decimal,
    /// What to weigh less what was asked for, in g; never more than half a step.
    pub error: Decimal,
    /// Whether half a step is more than the tolerance of this amount.
    pub too_small: bool,
    /// Whether it is more than the balance takes.
    pub over_capacity: bool,
}

impl Balance {
    /// A balance with its step, the most it takes in g, and the relative error allowed of a weighing.
    ///
    /// # Errors
    /// Refuses a step or tolerance of zero, and a capacity below one step.
    pub fn new(readability: Mass, most: Option<Mass>, tolerance: Fraction) -> Result<Self, BalanceError> {
        if readability.g().is_zero() {
            return Err(BalanceError::Readability);
        }
        if tolerance.get().is_zero() {
            return Err(BalanceError::Tolerance);
        }
        if most.is_some_and(|most| most < readability) {
            return Err(BalanceError::Capacity);
        }
        Ok(Self { readability, most, tolerance })
    }

    /// A balance of which only the step is known; a weighing may be wrong by 5 %.
    ///
    /// # Errors
    /// Refuses a step of zero.
    pub fn reading(readability: Mass) -> Result<Self, BalanceError> {
        Self::new(readability, None, Fraction::new(USUAL_TOLERANCE).unwrap_or_default())
    }

    /// The step it shows.
    #[must_use]
    pub const fn readability(&self) -> Mass {
        self.readability
    }

    /// The most it takes.
    #[must_use]
    pub const fn most(&self) -> Option<Mass> {
        self.most
    }

    /// The relative error allowed of a weighing.
    #[must_use]
    pub const fn tolerance(&self) -> Fraction {
        self.tolerance
    }

    /// The least amount of which half a step is within the tolerance, in g.
    #[must_use]
    pub fn least(&self) -> Option<Decimal> {
        self.readability.g().checked_div(self.tolerance.get().checked_mul(Decimal::TWO)?)
    }

    /// An amount with the digits that the balance shows: 75.0 to a tenth of a gram.
    #[must_use]
    pub fn shows(&self, grams: Decimal) -> Decimal {
        let mut shown = grams;
        let places = self.readability.g().normalize().scale();
        if grams.normalize().scale() <= places {
            shown.rescale(places);
        }
        shown
    }

    /// An amount to the nearest step, halves up; `None` beyond the range of a decimal.
    #[must_use]
    pub fn round(&self, grams: Decimal) -> Option<Rounded> {
        let steps = grams
            .checked_div(self.readability.g())?
            .round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero);
        let weigh = steps.checked_mul(self.readability.g())?;
        Some(Rounded {
            weigh,
            error: weigh.checked_sub(grams)?,
            too_small: grams < self.least()?,
            over_capacity: self.most.is_some_and(|most| weigh > most.g()),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tenth() -> Balance {
        Balance::reading(Mass::grams(dec("0.1")).unwrap()).unwrap()
    }

    #[test]
    fn an_amount_goes_to_the_nearest_step_and_the_error_is_stated() {
        let rounded = tenth().round(dec("12.345")).unwrap();
        assert_eq!((rounded.weigh, rounded.error), (dec("12.3"), dec("-0.045")));
        assert!(!rounded.too_small);
    }

    #[test]
    fn an_amount_whose_half_step_is_past_the_tolerance_is_too_small() {
        assert_eq!(tenth().least(), Some(dec("1")));
        assert!(tenth().round(dec("0.99")).unwrap().too_small);
        assert!(!tenth().round(dec("1")).unwrap().too_small);
    }

    #[test]
    fn impossible_balances_are_refused() {
        let gram = Mass::grams(dec("1")).unwrap();
        assert_eq!(Balance::reading(Mass::grams(dec("0")).unwrap()), Err(BalanceError::Readability));
        assert_eq!(Balance::new(gram, None, Fraction::ZERO), Err(BalanceError::Tolerance));
        let tenth = Mass::grams(dec("0.1")).unwrap();
        assert_eq!(Balance::new(gram, Some(tenth), Fraction::ONE), Err(BalanceError::Capacity));
    }
}
