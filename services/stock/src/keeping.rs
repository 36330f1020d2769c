//! Until when a lot keeps: by what is printed on it, or by its receipt, and by its opening.
//!
//! The periods are those of careful practice, without a source, and every rule says so. A printed date goes before the
//! period from receipt, since the supplier knows the lot; opening shortens either.

use chrono::{Days, Months, NaiveDate};
use materia::{Cut, Material, MaterialKind, State};

/// How long something keeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Period {
    Days(u64),
    Months(u32),
}

impl Period {
    fn after(self, day: NaiveDate) -> Option<NaiveDate> {
        match self {
            Self::Days(days) => day.checked_add_days(Days::new(days)),
            Self::Months(months) => day.checked_add_months(Months::new(months)),
        }
    }
}

impl std::fmt::Display for Period {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Days(days) => write!(f, "{days} days"),
            Self::Months(1) => write!(f, "1 month"),
            Self::Months(months) => write!(f, "{months} months"),
        }
    }
}

/// What a material is for keeping it, with how long it keeps unopened from receipt, and once opened.
struct Kind {
    called: &'static str,
    from_receipt: Period,
    opened: Option<Period>,
}

/// The longest that a lot without a printed expiry keeps.
const LONGEST: Period = Period::Months(12);

fn kind(material: &Material) -> Kind {
    let plain = |called, from_receipt, opened| Kind { called, from_receipt, opened };
    if let Some(botanical) = material.botanical.as_ref().filter(|_| material.kind == MaterialKind::Herb) {
        return match (botanical.state, botanical.cut) {
            (Some(State::Fresh | State::Wilted), _) => plain("a fresh herb", Period::Days(3), None),
            (_, Some(Cut::Powdered)) => plain("a powdered herb", Period::Months(6), Some(Period::Months(6))),
            _ => plain("a dried herb", LONGEST, None),
        };
    }
    match material.kind {
        MaterialKind::FixedOil => plain("a fixed oil", LONGEST, Some(Period::Months(6))),
        MaterialKind::EssentialOil => plain("an essential oil", LONGEST, Some(Period::Months(12))),
        MaterialKind::WateryBase => plain("a watery base", Period::Months(6), Some(Period::Months(1))),
        MaterialKind::AnimalProduct => plain("an animal product", Period::Months(6), Some(Period::Months(1))),
        _ => plain("such a material", LONGEST, None),
    }
}

/// The last day on which a lot may be used, and the rule that says so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Keeping {
    pub(crate) until: NaiveDate,
    pub(crate) rule: String,
}

/// Until when an unopened lot keeps. `printed` is the expiry on the container, as typed and as its last day.
pub(crate) fn unopened(
    material: &Material,
    received: NaiveDate,
    printed: Option<(&str, NaiveDate)>,
) -> Option<Keeping> {
    if let Some((typed, until)) = printed {
        return Some(Keeping {
            until,
            rule: format!("The expiry that is printed on the container is {typed}."),
        });
    }
    let Kind { called, from_receipt, .. } = kind(material);
    Some(Keeping {
        until: from_receipt.after(received)?,
        rule: format!(
            "No expiry is printed on the container: {called} then keeps for at most {from_receipt} from receipt \
             (common practice, no source)."
        ),
    })
}

/// The same once it is opened. A lot never keeps longer for it.
pub(crate) fn opened(material: &Material, before: Keeping, on: NaiveDate) -> Keeping {
    let Kind { called, opened, .. } = kind(material);
    match opened.and_then(|period| Some((period, period.after(on)?))) {
        Some((period, until)) if until < before.until => Keeping {
            until,
            rule: format!(
                "It was opened on {on}: {called} keeps for at most {period} once opened (common practice, no source)."
            ),
        },
        _ => before,
    }
}

#[cfg(test)]
mod tests {
    use materia::Materia;

    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn of(key: &str) -> Material {
        let reference = Materia::embedded().unwrap();
        reference.materials.iter().find(|material| material.key == key).unwrap().clone()
    }

    #[test]
    fn a_printed_expiry_goes_before_the_year_from_receipt() {
        let wax = of("beeswax-yellow");
        let printed = unopened(&wax, day("2026-03-02"), Some(("2028-06", day("2028-06-30")))).unwrap();
        assert_eq!(printed.until, day("2028-06-30"));
        let none = unopened(&wax, day("2026-03-02"), None).unwrap();
        assert_eq!(none.until, day("2027-03-02"));
        assert!(none.rule.contains("common practice, no source"), "{}", none.rule);
        // A leap day has no anniversary in the next year.
        assert_eq!(unopened(&wax, day("2024-02-29"), None).unwrap().until, day("2025-02-28"));
    }

    #[test]
    fn opening_shortens_and_never_prolongs() {
        let oil = of("olive-oil");
        let printed = |until| Keeping { until: day(until), rule: "printed".into() };
        let far = opened(&oil, printed("2028-06-30"), day("2026-03-02"));
        assert_eq!(far.until, day("2026-09-02"));
        assert!(far.rule.contains("6 months once opened"), "{}", far.rule);
        assert_eq!(opened(&oil, printed("2026-05-01"), day("2026-03-02")), printed("2026-05-01"));
        assert_eq!(
            opened(&of("beeswax-yellow"), printed("2028-06-30"), day("2026-03-02")),
            printed("2028-06-30")
        );
    }

    #[test]
    fn a_fresh_herb_keeps_for_days() {
        let fresh = Materia::embedded()
            .unwrap()
            .materials
            .iter()
            .find(|it| it.botanical.as_ref().is_some_and(|it| it.state == Some(State::Fresh)))
            .unwrap()
            .clone();
        assert_eq!(unopened(&fresh, day("2026-06-24"), None).unwrap().until, day("2026-06-27"));
    }
}
