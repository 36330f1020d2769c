//! Conversion of the rule sets for use-by dates from the reference data to the calculations.

use crate::facts;
use galenics::Fraction;
use galenics::use_by::{Conditions, DatingRule, DayCounting, Period, RouteClass, RuleSet, Scope, Storage};
use materia::{DatingPeriod, DatingRoute, DatingSet, Kept, Materia};

/// Converts every rule set of the reference data.
#[must_use]
pub fn rule_sets(reference: &Materia) -> Vec<RuleSet> {
    reference.dating.iter().map(set).collect()
}

fn set(set: &DatingSet) -> RuleSet {
    let day = |text: &Option<String>| text.as_ref().and_then(|text| text.parse().ok());
    RuleSet {
        key: set.key.clone().into(),
        name: set.name.clone().into(),
        in_force_from: day(&set.in_force_from),
        in_force_until: day(&set.in_force_until),
        scope: Scope {
            regimes: set.regimes.iter().map(|regime| regime.clone().into()).collect(),
            preparations: set.preparations.iter().filter_map(|key| key.parse().ok()).collect(),
        },
        counting: match set.counting {
            materia::DayCounting::AfterMaking => DayCounting::AfterMaking,
            materia::DayCounting::MakingIsDayOne => DayCounting::MakingIsDayOne,
        },
        rules: set.rules.iter().map(rule).collect(),
    }
}

fn rule(rule: &materia::DatingRule) -> DatingRule {
    DatingRule {
        key: rule.key.clone().into(),
        when: Conditions {
            watery: rule.watery,
            preserved: rule.preserved,
            routes: rule.routes.iter().map(|route| class(*route)).collect(),
            liquid: rule.liquid,
            alcohol_at_least: rule
                .alcohol_at_least_percent
                .and_then(|percent| Fraction::percent(percent).ok()),
            sugar_at_least: rule.sugar_at_least_percent.and_then(|percent| Fraction::percent(percent).ok()),
            holds: rule.holds.iter().map(|key| key.clone().into()).collect(),
            kept: rule.kept.map(storage),
        },
        period: match rule.period {
            DatingPeriod::Days(days) => Period::Days(days),
            DatingPeriod::Months(months) => Period::Months(months),
        },
        storage: rule.storage.iter().map(|kept| storage(*kept)).collect(),
        source: facts::source(&rule.source.text, rule.status),
    }
}

const fn class(route: DatingRoute) -> RouteClass {
    match route {
        DatingRoute::Skin => RouteClass::Skin,
        DatingRoute::Mucosa => RouteClass::Mucosa,
        DatingRoute::Mouth => RouteClass::Mouth,
    }
}

const fn storage(kept: Kept) -> Storage {
    match kept {
        Kept::Refrigerator => Storage::Refrigerator,
        Kept::RoomTemperature => Storage::RoomTemperature,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_set_of_the_reference_data_is_carried_over_whole() {
        let reference = Materia::embedded().unwrap();
        for (from, to) in reference.dating.iter().zip(rule_sets(&reference)) {
            assert_eq!(from.in_force_from, to.in_force_from.map(|day| day.to_string()));
            assert_eq!(from.in_force_until, to.in_force_until.map(|day| day.to_string()));
            assert_eq!(from.preparations.len(), to.scope.preparations.len(), "{}", from.key);
            for (from, to) in from.rules.iter().zip(&to.rules) {
                assert_eq!(from.alcohol_at_least_percent.is_some(), to.when.alcohol_at_least.is_some());
                assert_eq!(from.sugar_at_least_percent.is_some(), to.when.sugar_at_least.is_some());
                assert_eq!(from.holds.len(), to.when.holds.len(), "{}", from.key);
            }
        }
    }
}
