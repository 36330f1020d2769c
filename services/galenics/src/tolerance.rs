//! How far a weighing may be from its target: the one rule, for every record, finding and label.

use rust_decimal::Decimal;

use crate::{Fraction, Function};

/// Decimal places to which a weighing is compared with its target: as many as an entry keeps. The tail of a division
/// decides nothing.
const COMPARED_TO: u32 = 12;

/// How far a weighing may be off, as a share of its target.
#[derive(Debug, Clone, Copy)]
pub struct Tolerances {
    /// Of actives and preservatives.
    pub active: Fraction,
    /// Of everything else.
    pub other: Fraction,
}

/// A weighing compared with its target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Deviation {
    /// What was weighed less the target, in the unit of both; above zero is too much.
    pub off: Decimal,
    /// The same as a share of the target; none of a target of zero.
    pub share: Option<Decimal>,
    /// The share that is allowed.
    pub tolerance: Fraction,
    /// Whether the weighing is within the tolerance. Just as far off as is allowed is within.
    pub within: bool,
}

impl Tolerances {
    /// Whether a line of this function has the tolerance of actives and preservatives.
    #[must_use]
    pub const fn is_tight(function: Option<Function>) -> bool {
        matches!(function, Some(Function::Active | Function::Preservative))
    }

    /// The tolerance of a line of this function.
    #[must_use]
    pub const fn of(&self, function: Option<Function>) -> Fraction {
        if Self::is_tight(function) { self.active } else { self.other }
    }

    /// Compares what was weighed with its target, both exact and in one unit. `None` if a result leaves the range of a
    /// decimal.
    /// ```
    /// use galenics::{Fraction, Function, number::dec, tolerance::Tolerances};
    /// let percent = |text| Fraction::percent(dec(text)).expect("a share");
    /// let tolerances = Tolerances { active: percent("1"), other: percent("2") };
    /// let of_active = tolerances.compare(Some(Function::Active), dec("5"), dec("5.1")).expect("in range");
    /// assert_eq!((of_active.share, of_active.within), (Some(dec("0.02")), false));
    /// assert!(tolerances.compare(None, dec("5"), dec("5.1")).expect("in range").within);
    /// ```
    #[must_use]
    pub fn compare(
        &self,
        function: Option<Function>,
        target: Decimal,
        weighed: Decimal,
    ) -> Option<Deviation> {
        let tolerance = self.of(function);
        let off = weighed.checked_sub(target)?;
        let allowed = target.checked_mul(tolerance.get())?;
        let share = if target.is_zero() { None } else { Some(share_off(target, weighed)?) };
        let within = off.abs().checked_sub(allowed)?.round_dp(COMPARED_TO) <= Decimal::ZERO;
        Some(Deviation { off, share, tolerance, within })
    }
}

/// How far a weighing is off, as a share of its target; above nothing is too much. Nothing of a target of nothing, nor of what
/// leaves the range of a decimal.
#[must_use]
pub fn share_off(target: Decimal, weighed: Decimal) -> Option<Decimal> {
    weighed.checked_sub(target)?.checked_div(target)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::dec;

    #[test]
    fn a_third_is_judged_by_the_exact_third() {
        let percent = |text| Fraction::percent(dec(text)).unwrap();
        let tolerances = Tolerances { active: percent("1"), other: percent("2") };
        let third = dec("100") / dec("3");
        // 34 g is 2 % off the exact target, and 3.03 % off one that was rounded to 33 g.
        assert!(tolerances.compare(None, third, dec("34")).unwrap().within);
        assert!(!tolerances.compare(None, third, dec("34.000001")).unwrap().within);
    }

    #[test]
    fn nothing_is_within_the_tolerance_of_a_target_of_zero_but_zero() {
        let tolerances = Tolerances { active: Fraction::default(), other: Fraction::default() };
        let found = tolerances.compare(None, Decimal::ZERO, dec("5")).unwrap();
        assert_eq!((found.share, found.within), (None, false));
        assert!(tolerances.compare(None, Decimal::ZERO, Decimal::ZERO).unwrap().within);
    }
}
