//! On which days the retained samples of a batch are looked at.

use chrono::{Days, Months, NaiveDate};

/// The first days after the samples were put aside: what separates or goes off quickly does so at once. Common practice, no
/// source.
const FIRST: [u64; 2] = [1, 7];

/// The day on which samples that were put aside on `from` are looked at next, after the day `seen`: one day and one week after
/// they were put aside, then every month. Common practice, no source. What was missed is not made up for: whoever looks today
/// sees what they would have seen before.
///
/// Nothing at the end of the calendar.
#[must_use]
pub fn next(from: NaiveDate, seen: NaiveDate) -> Option<NaiveDate> {
    let first = FIRST.iter().map(|days| from.checked_add_days(Days::new(*days)));
    let monthly = (1..).map(|months| from.checked_add_months(Months::new(months)));
    // Whoever looks before the samples were put aside is asked for the first day.
    first.chain(monthly).map_while(|day| day).find(|day| *day > seen)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn samples_are_looked_at_after_a_day_a_week_and_every_month() {
        let from = day("2026-01-31");
        let mut days = Vec::new();
        let mut seen = from;
        for _ in 0..5 {
            seen = next(from, seen).unwrap();
            days.push(seen.to_string());
        }
        assert_eq!(days, ["2026-02-01", "2026-02-07", "2026-02-28", "2026-03-31", "2026-04-30"]);
        assert_eq!(
            next(from, day("2026-03-10")),
            Some(day("2026-03-31")),
            "what was missed is not made up for"
        );
        assert_eq!(next(NaiveDate::MAX, NaiveDate::MAX), None);
    }

    proptest! {
        #[test]
        fn the_next_day_is_later_and_no_more_than_a_month_away(put in 0_u64..4000, after in 0_u64..4000) {
            let from = day("2020-01-01") + Days::new(put);
            let seen = from + Days::new(after);
            let due = next(from, seen).unwrap();
            prop_assert!(due > seen);
            prop_assert!(due <= seen + Days::new(31));
            prop_assert_eq!(next(from, due.pred_opt().unwrap()), Some(due), "a day of the plan is asked for until it was seen");
        }
    }
}
