//! How far two markers agree, beyond what chance would bring: weighted kappa with its interval.
//!
//! The weights are linear: two levels apart count twice as much as one. Quadratic weights would let a single far miss
//! outweigh many near ones, and grow with the number of levels (Brenner and Kliebsch, Epidemiology 7 (1996) 199, from memory).

use rust_decimal::{Decimal, MathematicalOps};
use thiserror::Error;

use crate::number::dec;

/// From how many pairs on kappa is worked out: below, its interval says nothing (common practice, no source).
pub const PAIRS_NEEDED: usize = 30;

/// The most levels of a criterion, and the most pairs: what a decimal holds without loss.
const MOST_LEVELS: usize = 10;
const MOST_PAIRS: usize = 10_000;

/// The 97.5 % quantile of the standard normal distribution; `tests/reference/crosscheck.py` holds it against a library.
const QUANTILE: Decimal = dec("1.959963984540054");

/// The rule, in a sentence.
pub const RULE: &str = "Weighted kappa with linear weights by the number of the level (Cohen 1968); 95 % interval by the \
    large-sample standard error of Fleiss, Cohen and Everitt (1969).";

/// Why there is no kappa.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoKappa {
    /// Too few pairs.
    #[error("Kappa needs at least {PAIRS_NEEDED} pairs of marks. Compare the marks one by one until then.")]
    TooFew,
    /// All marks alike.
    #[error(
        "All marks are of one level, so agreement by chance cannot be told apart. Compare other criteria."
    )]
    OneLevel,
    /// A level that the criterion does not have, or fewer than two levels.
    #[error(
        "A mark has a level that the criterion lacks. Compare only marks that were given by the same levels."
    )]
    Level,
    /// More than can be worked out.
    #[error("Kappa takes at most {MOST_PAIRS} pairs of {MOST_LEVELS} levels. Compare fewer marks at once.")]
    TooMany,
}

/// Weighted kappa with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kappa {
    /// 1 where the two always agree, 0 where they agree as often as by chance.
    pub value: Decimal,
    /// The lower end of the interval.
    pub low: Decimal,
    /// The upper end of the interval.
    pub high: Decimal,
}

impl Kappa {
    /// Kappa of pairs of levels, each counted from 0 and below `levels`.
    ///
    /// # Errors
    /// Says why there is none.
    pub fn of(levels: usize, pairs: &[(usize, usize)]) -> Result<Self, NoKappa> {
        if pairs.len() < PAIRS_NEEDED {
            return Err(NoKappa::TooFew);
        }
        if pairs.len() > MOST_PAIRS || levels > MOST_LEVELS {
            return Err(NoKappa::TooMany);
        }
        if levels < 2 || pairs.iter().any(|pair| pair.0 >= levels || pair.1 >= levels) {
            return Err(NoKappa::Level);
        }
        Counts::of(levels, pairs).and_then(|counts| counts.kappa()).ok_or(NoKappa::OneLevel)
    }
}

/// How often each level stands beside each other one, in whole numbers, so that nothing is rounded before the end.
struct Counts {
    pairs: i128,
    levels: usize,
    /// By the first level, then by the second.
    joint: Vec<Vec<i128>>,
    first: Vec<i128>,
    second: Vec<i128>,
}

impl Counts {
    fn of(levels: usize, pairs: &[(usize, usize)]) -> Option<Self> {
        let mut joint = vec![vec![0_i128; levels]; levels];
        for (first, second) in pairs {
            let count = joint.get_mut(*first)?.get_mut(*second)?;
            *count = count.checked_add(1)?;
        }
        let first = joint.iter().map(|row| row.iter().sum()).collect();
        let second = (0..levels).map(|at| joint.iter().filter_map(|row| row.get(at)).sum()).collect();
        Some(Self { pairs: i128::try_from(pairs.len()).ok()?, levels, joint, first, second })
    }

    /// The steps from the lowest level to the highest: the weight of the same level.
    fn steps(&self) -> Option<i128> {
        i128::try_from(self.levels.checked_sub(1)?).ok()
    }

    /// A weight in steps: none for the levels that are farthest apart.
    fn weight(&self, one: usize, other: usize) -> Option<i128> {
        self.steps()?.checked_sub(i128::try_from(one.abs_diff(other)).ok()?)
    }

    /// The weights of a level against all levels of the other marker together.
    fn weights(&self, level: usize, others: &[i128]) -> Option<i128> {
        sum(others.iter().enumerate().map(|(at, count)| self.weight(level, at)?.checked_mul(*count)))
    }

    /// Nothing where all marks are of one level.
    fn kappa(&self) -> Option<Kappa> {
        let cells = || (0..self.levels).flat_map(|one| (0..self.levels).map(move |other| (one, other)));
        let count = |one: usize, other: usize| self.joint.get(one)?.get(other).copied();
        let whole = self.steps()?.checked_mul(self.pairs)?;
        let observed =
            sum(cells().map(|(one, other)| count(one, other)?.checked_mul(self.weight(one, other)?)))?;
        let of_level = |(level, of): (usize, &i128)| of.checked_mul(self.weights(level, &self.second)?);
        let by_chance = sum(self.first.iter().enumerate().map(of_level))?;
        let room = whole.checked_mul(self.pairs)?.checked_sub(by_chance)?;
        let value = decimal(observed.checked_mul(self.pairs)?.checked_sub(by_chance)?)?
            .checked_div(decimal(room)?)?;
        // Fleiss, Cohen and Everitt, Psychological Bulletin 72 (1969) 323: the standard error where kappa is not 0. All of it
        // is multiplied by what makes it whole.
        let missed = whole.checked_sub(observed)?;
        let squares = sum(cells().map(|(one, other)| {
            let beside = self.weights(one, &self.second)?.checked_add(self.weights(other, &self.first)?)?;
            let inner =
                self.weight(one, other)?.checked_mul(room)?.checked_sub(beside.checked_mul(missed)?)?;
            count(one, other)?.checked_mul(inner.checked_mul(inner)?)
        }))?;
        let less = observed
            .checked_mul(by_chance)?
            .checked_sub(by_chance.checked_mul(whole)?.checked_mul(2)?)?
            .checked_add(observed.checked_mul(whole)?.checked_mul(self.pairs)?)?;
        let above = squares.checked_mul(self.pairs)?.checked_sub(less.checked_mul(less)?)?;
        let square = decimal(room.checked_mul(room)?)?;
        let variance = decimal(above)?
            .checked_div(square)?
            .checked_mul(decimal(self.pairs)?)?
            .checked_div(square)?
            .max(Decimal::ZERO);
        let reach = QUANTILE.checked_mul(variance.sqrt()?)?;
        Some(Kappa {
            value,
            low: value.checked_sub(reach)?.max(Decimal::NEGATIVE_ONE),
            high: value.checked_add(reach)?.min(Decimal::ONE),
        })
    }
}

fn decimal(number: i128) -> Option<Decimal> {
    Decimal::try_from_i128_with_scale(number, 0).ok()
}

fn sum(parts: impl Iterator<Item = Option<i128>>) -> Option<i128> {
    let mut sum = 0_i128;
    for part in parts {
        sum = sum.checked_add(part?)?;
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(one: Decimal, other: Decimal) -> bool {
        (one - other).abs() < dec("0.000000000000001")
    }

    fn counted(counts: &[&[usize]]) -> Vec<(usize, usize)> {
        let mut pairs = Vec::new();
        for (one, row) in counts.iter().enumerate() {
            for (other, count) in row.iter().enumerate() {
                pairs.extend(std::iter::repeat_n((one, other), *count));
            }
        }
        pairs
    }

    #[test]
    fn two_levels_come_out_as_kappa_without_weights() {
        // po = 35/50, pe = (25 * 30 + 25 * 20) / 2500 = 1/2, worked out by hand.
        let pairs = counted(&[&[20, 5], &[10, 15]]);
        let kappa = Kappa::of(2, &pairs).unwrap();
        assert!(near(kappa.value, dec("0.4")), "{kappa:?}");
    }

    #[test]
    fn near_misses_count_less_than_far_ones() {
        let near_misses = Kappa::of(3, &counted(&[&[12, 3, 0], &[0, 12, 3], &[0, 0, 10]])).unwrap();
        let far_misses = Kappa::of(3, &counted(&[&[12, 0, 3], &[0, 12, 0], &[3, 0, 10]])).unwrap();
        assert!(near_misses.value > far_misses.value);
        assert!(near_misses.low < near_misses.value && near_misses.value < near_misses.high);
    }

    /// The most that is taken can be worked out.
    #[test]
    fn as_many_marks_as_are_taken_have_a_kappa() {
        for apart in 1..MOST_LEVELS {
            let half = MOST_PAIRS / 2;
            let mut pairs = vec![(0, 0); half];
            pairs.extend(vec![(apart, MOST_LEVELS - 1); MOST_PAIRS - half]);
            assert!(Kappa::of(MOST_LEVELS, &pairs).is_ok(), "{apart}");
            let crossed: Vec<_> =
                (0..MOST_PAIRS).map(|at| (at % MOST_LEVELS, (at + apart) % MOST_LEVELS)).collect();
            assert!(Kappa::of(MOST_LEVELS, &crossed).is_ok(), "{apart}");
        }
    }

    #[test]
    fn there_is_no_kappa_of_few_pairs_or_of_one_level() {
        assert_eq!(Kappa::of(3, &[(0, 0); 29]), Err(NoKappa::TooFew));
        assert_eq!(Kappa::of(3, &[(1, 1); 30]), Err(NoKappa::OneLevel));
        assert_eq!(Kappa::of(3, &[(1, 3); 30]), Err(NoKappa::Level));
        assert_eq!(Kappa::of(1, &[(0, 0); 30]), Err(NoKappa::Level));
        assert_eq!(Kappa::of(11, &[(0, 0); 30]), Err(NoKappa::TooMany));
    }

    fn marks() -> impl Strategy<Value = (usize, Vec<(usize, usize)>)> {
        (2_usize..8).prop_flat_map(|levels| {
            (Just(levels), proptest::collection::vec((0..levels, 0..levels), PAIRS_NEEDED..200))
        })
    }

    proptest! {
        /// Who is called the first does not matter, nor from which end the levels are counted.
        #[test]
        fn kappa_is_the_same_from_either_side((levels, pairs) in marks()) {
            let here = Kappa::of(levels, &pairs);
            let swapped: Vec<_> = pairs.iter().map(|(one, other)| (*other, *one)).collect();
            let turned: Vec<_> =
                pairs.iter().map(|(one, other)| (levels - 1 - one, levels - 1 - other)).collect();
            for there in [Kappa::of(levels, &swapped), Kappa::of(levels, &turned)] {
                match (here, there) {
                    (Ok(here), Ok(there)) => {
                        prop_assert!(near(here.value, there.value) && near(here.low, there.low)
                            && near(here.high, there.high), "{here:?} {there:?}");
                    }
                    (here, there) => prop_assert_eq!(here, there),
                }
            }
        }

        /// It lies within its interval and within its bounds, and is 1 of marks that are alike.
        #[test]
        fn kappa_lies_between_minus_one_and_one((levels, pairs) in marks()) {
            if let Ok(kappa) = Kappa::of(levels, &pairs) {
                prop_assert!(kappa.low <= kappa.value && kappa.value <= kappa.high, "{kappa:?}");
                prop_assert!(kappa.low >= Decimal::NEGATIVE_ONE && kappa.high <= Decimal::ONE, "{kappa:?}");
            }
            let alike: Vec<_> = pairs.iter().map(|(one, _)| (*one, *one)).collect();
            if let Ok(kappa) = Kappa::of(levels, &alike) {
                prop_assert!(near(kappa.value, Decimal::ONE) && near(kappa.low, Decimal::ONE), "{kappa:?}");
            }
        }
    }
}
