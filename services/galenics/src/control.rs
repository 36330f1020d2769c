//! Control charts of individual values: whether a process only varies as it always does, or something else was at work.
//!
//! Each value stands for itself, so the spread is taken from the moving range of two (Shewhart's individuals chart). The
//! constants are those published for samples of two, to three places: d2 = 1.128 and D4 = 3.267 (ISO 7870-2, and the manual
//! on presentation of data and control chart analysis of the American Society for Testing and Materials; both from memory).
//! `tests/reference/crosscheck.py` works both out from the normal distribution.

use rust_decimal::Decimal;
use thiserror::Error;

use crate::number::dec;

/// From how many points on there are limits: of fewer they say little (common practice, no source).
pub const POINTS_NEEDED: usize = 20;

/// The most points that are taken.
const MOST_POINTS: usize = 10_000;

/// The mean range of two values of a normal distribution, in standard deviations.
const D2: Decimal = dec("1.128");

/// The upper limit of the range of two, as a multiple of the mean range. The lower limit is nothing.
const D4: Decimal = dec("3.267");

/// The rule, in a sentence.
pub const RULE: &str = "Limits lie three times mean moving range / 1.128 from the mean, and at 3.267 mean ranges \
    (constants from memory of ISO 7870-2), from 20 points on.";

/// Why there are no limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoLimits {
    /// Too few points.
    #[error("Limits need at least {POINTS_NEEDED} points. Look at the points one by one until then.")]
    TooFew,
    /// More than can be worked out.
    #[error("Limits take at most {MOST_POINTS} points of common size. Look at fewer points at once.")]
    TooMany,
}

/// The lines of both charts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// The mean of the values.
    pub mean: Decimal,
    /// Three standard deviations below it.
    pub lower: Decimal,
    /// Three standard deviations above it.
    pub upper: Decimal,
    /// The mean of the moving ranges.
    pub mean_range: Decimal,
    /// The upper limit of the moving ranges.
    pub range_upper: Decimal,
}

/// The moving ranges: how far each value is from the one before it. Nothing for the first one, nor for what leaves the range
/// of a decimal.
#[must_use]
pub fn moving_ranges(values: &[Decimal]) -> Vec<Option<Decimal>> {
    let before = std::iter::once(None).chain(values.iter().map(Some));
    values.iter().zip(before).map(|(value, before)| Some(value.checked_sub(*before?)?.abs())).collect()
}

impl Limits {
    /// The limits of values in the order of their time.
    /// ```
    /// use galenics::{control::Limits, number::dec};
    /// let values: Vec<_> = (0..20).map(|at| if at % 2 == 0 { dec("9") } else { dec("11") }).collect();
    /// let limits = Limits::of(&values).expect("twenty points");
    /// assert_eq!((limits.mean, limits.mean_range, limits.range_upper), (dec("10"), dec("2"), dec("6.534")));
    /// assert!(!limits.is_beyond(dec("11")) && limits.is_beyond(dec("16")));
    /// ```
    ///
    /// # Errors
    /// Says why there are none.
    pub fn of(values: &[Decimal]) -> Result<Self, NoLimits> {
        match values.len() {
            ..POINTS_NEEDED => Err(NoLimits::TooFew),
            POINTS_NEEDED..=MOST_POINTS => worked_out(values).ok_or(NoLimits::TooMany),
            _ => Err(NoLimits::TooMany),
        }
    }

    /// Whether a value is beyond the limits. On a limit it is within.
    #[must_use]
    pub fn is_beyond(&self, value: Decimal) -> bool {
        value < self.lower || value > self.upper
    }

    /// Whether a moving range is beyond its limit.
    #[must_use]
    pub fn is_range_beyond(&self, range: Decimal) -> bool {
        range > self.range_upper
    }
}

/// Nothing where a result leaves the range of a decimal.
fn worked_out(values: &[Decimal]) -> Option<Limits> {
    let mean = mean(values.iter().copied())?;
    let ranges = moving_ranges(values).into_iter().skip(1).collect::<Option<Vec<_>>>()?;
    let mean_range = self::mean(ranges.into_iter())?;
    let reach = mean_range.checked_mul(Decimal::from(3))?.checked_div(D2)?;
    Some(Limits {
        mean,
        lower: mean.checked_sub(reach)?,
        upper: mean.checked_add(reach)?,
        mean_range,
        range_upper: mean_range.checked_mul(D4)?,
    })
}

fn mean(values: impl ExactSizeIterator<Item = Decimal>) -> Option<Decimal> {
    let count = Decimal::from(values.len());
    let mut sum = Decimal::ZERO;
    for value in values {
        sum = sum.checked_add(value)?;
    }
    sum.checked_div(count)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(one: Decimal, other: Decimal) -> bool {
        (one - other).abs() < dec("0.000000000000001")
    }

    #[test]
    fn there_are_no_limits_of_few_points() {
        assert_eq!(Limits::of(&[Decimal::ONE; 19]), Err(NoLimits::TooFew));
        assert_eq!(Limits::of(&[Decimal::ONE; 10_001]), Err(NoLimits::TooMany));
        assert_eq!(Limits::of(&[Decimal::MAX; 20]), Err(NoLimits::TooMany));
        let alike = Limits::of(&[Decimal::ONE; 20]).unwrap();
        assert_eq!(
            (alike.lower, alike.upper, alike.range_upper),
            (Decimal::ONE, Decimal::ONE, Decimal::ZERO)
        );
        assert!(!alike.is_beyond(Decimal::ONE));
    }

    #[test]
    fn one_wild_value_is_beyond_and_so_are_its_ranges() {
        let mut values = vec![dec("0.4"); 24];
        for (at, value) in values.iter_mut().enumerate() {
            *value += if at % 2 == 0 { dec("0.1") } else { dec("-0.1") };
        }
        values[12] = dec("9");
        let limits = Limits::of(&values).unwrap();
        let beyond: Vec<usize> = (0..24).filter(|at| limits.is_beyond(values[*at])).collect();
        assert_eq!(beyond, [12]);
        let ranges = moving_ranges(&values);
        assert_eq!(ranges[0], None);
        let wild = |at: &usize| ranges[*at].is_some_and(|range| limits.is_range_beyond(range));
        assert_eq!((0..24).filter(wild).collect::<Vec<_>>(), [12, 13]);
    }

    fn values() -> impl Strategy<Value = Vec<Decimal>> {
        let value = (-100_000_i64..100_000).prop_map(|value| Decimal::new(value, 4));
        proptest::collection::vec(value, POINTS_NEEDED..120)
    }

    proptest! {
        #[test]
        fn the_mean_lies_in_the_middle_of_the_limits(values in values()) {
            let limits = Limits::of(&values).unwrap();
            prop_assert!(limits.lower <= limits.mean && limits.mean <= limits.upper);
            prop_assert!(near(limits.upper - limits.mean, limits.mean - limits.lower));
            prop_assert!(limits.range_upper >= limits.mean_range && limits.mean_range >= Decimal::ZERO);
        }

        /// Moved, the limits move; stretched, they stretch; turned round in time, they stay.
        #[test]
        fn limits_follow_the_values(values in values(), by in -1000_i64..1000, times in 1_i64..50) {
            let limits = Limits::of(&values).unwrap();
            let (by, times) = (Decimal::from(by), Decimal::from(times));
            let moved: Vec<_> = values.iter().map(|value| value * times + by).collect();
            let moved = Limits::of(&moved).unwrap();
            prop_assert!(near(moved.mean, limits.mean * times + by));
            prop_assert!(near(moved.lower, limits.lower * times + by) && near(moved.upper, limits.upper * times + by));
            prop_assert!(near(moved.range_upper, limits.range_upper * times));
            let turned: Vec<_> = values.iter().rev().copied().collect();
            let turned = Limits::of(&turned).unwrap();
            prop_assert!(near(turned.upper, limits.upper) && near(turned.range_upper, limits.range_upper));
        }
    }
}
