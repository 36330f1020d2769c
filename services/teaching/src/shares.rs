//! Counts as shares: in whole per cent, and only from so many on.

/// From how many on a count is told as a share. One more or less of fewer moves a share by more than ten points: common
/// practice, no source.
pub(crate) const SHARES_FROM: u32 = 10;

/// The rule, in words.
pub(crate) const RULE: &str = "Shares are told from 10 on, since one more or less among fewer changes them much (common practice, no source).";

/// A part of a whole in whole per cent, halves up; nothing of a whole that is too small.
pub(crate) fn percent(part: u32, whole: u32) -> Option<u32> {
    if whole < SHARES_FROM {
        return None;
    }
    let (part, whole) = (u64::from(part), u64::from(whole));
    u32::try_from((part * 200 + whole) / (whole * 2)).ok()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn few_are_told_as_counts_only() {
        assert_eq!(percent(3, 9), None);
        assert_eq!(percent(3, 10), Some(30));
        assert_eq!((percent(1, 200), percent(1, 201)), (Some(1), Some(0)), "halves go up");
        assert!(RULE.contains(&format!("from {SHARES_FROM} on")));
    }

    proptest! {
        #[test]
        fn a_share_and_the_rest_come_to_the_whole(whole in SHARES_FROM..2_000_000, part in 0u32..2_000_000) {
            let part = part.min(whole);
            let (share, rest) = (percent(part, whole).unwrap(), percent(whole - part, whole).unwrap());
            prop_assert!(share <= 100);
            prop_assert!((100..=101).contains(&(share + rest)), "{share} and {rest}");
        }

        #[test]
        fn more_is_never_a_smaller_share(whole in SHARES_FROM..100_000, part in 0u32..100_000) {
            let part = part.min(whole - 1);
            prop_assert!(percent(part, whole) <= percent(part + 1, whole));
        }
    }
}
