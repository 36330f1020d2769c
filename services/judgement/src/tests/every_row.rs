//! Every material, kind, route and stop of the reference data, and everything that a calculation raises, is reached by
//! some formula.

use std::collections::BTreeSet;

use materia::{Amount, Audience, Exposure, Group, Level, Material, OnlyAs};
use wire::safety::{Caution, CautionLevel};

use super::{CALCULATED, Made, Put, REFERENCE, cautions_of, of_content, raised_by};
use crate::cautions::{Raised, level};
use crate::clinic_cautions::ClinicCautions;

const SKIN: &str = "intact-skin-leave-on";

/// A little of a material in a carrier that itself is nothing but oil.
fn with(place: usize, preparation: &str, route: &str) -> Made {
    let mut made = Made::new(preparation, route, "teaching_only", &[("jojoba-oil", 100)]);
    made.lines.push(Put::Material(place, 1000));
    made
}

fn find<'a>(all: &'a [Caution], text: &str) -> Option<&'a Caution> {
    all.iter().find(|caution| caution.text == text)
}

/// What a caution of a carrier may be silent by in a formula of the regime `teaching_only`: its rule, or another caution.
fn may_be_silent(key: &str, carrier: Option<&Material>, kind: &str, nested: bool, raised: &Raised) -> bool {
    let rule = &REFERENCE.caution_rules[key];
    let named = |other: &str, for_material: bool| {
        let rule = REFERENCE.caution_rules.get(other);
        rule.is_some_and(|rule| {
            rule.replaces.iter().any(|it| it == key)
                || (for_material && rule.replaces_for_material.iter().any(|it| it == key))
        })
    };
    let by_another = raised.cautions.iter().any(|one| named(&one.rule, false))
        || carrier.is_some_and(|material| material.cautions.iter().any(|other| named(&other.key, true)));
    let by_form = match &rule.only_as {
        OnlyAs::Any => false,
        OnlyAs::Pure => true,
        OnlyAs::In(kinds) => !kinds.iter().any(|meant| meant == kind),
    };
    let with_nested = nested && matches!(rule.group, Group::ForTheMaker | Group::HowToKeep);
    by_another
        || with_nested
        || (by_form && carrier.is_some())
        || rule.amount == Amount::Threshold
        || !(rule.regimes.is_empty() || rule.regimes.iter().any(|regime| regime == "teaching-only"))
}

/// The caution is raised from this origin, or told among what was not raised.
fn is_accounted_for(caution: &materia::Caution, origin: &str, raised: &Raised, silent: bool, at: &str) {
    let of_it = |origins: &[String]| origins.iter().any(|told| told.starts_with(origin));
    let found = raised.cautions.iter().map(|counted| &counted.caution).find(|it| it.text == caution.text);
    if let Some(found) = found.filter(|found| of_it(&found.origins)) {
        assert!(found.level >= level(caution.level), "{at}: {}", caution.key);
        for audience in &caution.audiences {
            assert!(found.audiences.contains(&audience.to_string()), "{at}: {audience} in {found:?}");
        }
        return;
    }
    assert!(silent, "{at}: {} is silent without a reason", caution.key);
    let told = raised.not_raised.iter().find(|it| it.text == caution.text);
    // Raised from elsewhere it is not told twice.
    assert!(
        found.is_some() || told.is_some_and(|told| of_it(&told.origins)),
        "{at}: {} is lost",
        caution.key
    );
    assert!(told.is_none_or(|told| told.because.len() > 10), "{told:?}");
}

#[test]
fn every_material_by_every_route_brings_its_cautions_or_says_why_not_and_no_others() {
    for (place, material) in REFERENCE.materials.iter().enumerate() {
        for route in &REFERENCE.routes {
            let raised = raised_by(&with(place, "balm", &route.key), &ClinicCautions::default());
            let at = format!("{} by {}", material.key, route.key);
            let (meant, other): (Vec<_>, Vec<_>) =
                material.cautions.iter().partition(|caution| caution.applies_to_route(&route.key));
            for caution in &meant {
                let silent = may_be_silent(&caution.key, Some(material), "balm", false, &raised);
                is_accounted_for(caution, &material.name, &raised, silent, &at);
            }
            for caution in other.iter().filter(|one| !meant.iter().any(|meant| meant.text == one.text)) {
                let all: Vec<Caution> = raised.cautions.iter().map(|it| it.caution.clone()).collect();
                let by_it = find(&all, &caution.text)
                    .is_some_and(|found| of_content(found).any(|origin| origin.starts_with(&material.name)));
                assert!(!by_it, "{at}: {} is not about this route", caution.key);
            }
        }
    }
}

#[test]
fn every_material_is_followed_through_two_levels_of_nesting() {
    for (place, material) in REFERENCE.materials.iter().enumerate() {
        let inner = with(place, "salve", SKIN);
        let mut middle = Made::new("ointment", SKIN, "teaching_only", &[("jojoba-oil", 100)]);
        middle.lines.push(Put::Formula(Box::new(inner), 50_000));
        let mut outer = Made::new("balm", SKIN, "teaching_only", &[("jojoba-oil", 100)]);
        outer.lines.push(Put::Formula(Box::new(middle), 50_000));
        let raised = raised_by(&outer, &ClinicCautions::default());
        let path = format!("Formula 1 > Formula 0 > {}", material.name);
        for caution in material.cautions.iter().filter(|caution| caution.applies_to_route(SKIN)) {
            let silent = may_be_silent(&caution.key, Some(material), "salve", true, &raised);
            is_accounted_for(caution, &path, &raised, silent, &material.key);
            let rule = &REFERENCE.caution_rules[&caution.key];
            if matches!(rule.group, Group::ForTheMaker | Group::HowToKeep) {
                let from_here = raised.cautions.iter().any(|it| {
                    it.rule == caution.key && it.caution.origins.iter().any(|at| at.starts_with(&path))
                });
                assert!(!from_here, "{} stays with what is nested", caution.key);
            }
        }
    }
}

#[test]
fn every_kind_of_preparation_brings_its_cautions_by_the_routes_they_are_about() {
    for kind in &REFERENCE.preparations {
        for route in &REFERENCE.routes {
            let made = Made::new(&kind.key, &route.key, "teaching_only", &[("jojoba-oil", 100)]);
            let raised = raised_by(&made, &ClinicCautions::default());
            let why = format!("every {}", kind.name);
            for caution in &kind.cautions {
                let at = format!("{} by {}", caution.key, route.key);
                if caution.applies_to_route(&route.key) {
                    let silent = may_be_silent(&caution.key, None, &kind.key, false, &raised);
                    is_accounted_for(caution, &why, &raised, silent, &at);
                } else {
                    let said = |it: &Caution| it.text == caution.text && it.origins.contains(&why);
                    assert!(!raised.cautions.iter().any(|it| said(&it.caution)), "{at}");
                }
            }
        }
    }
}

#[test]
fn every_route_brings_its_cautions() {
    for route in &REFERENCE.routes {
        let made = Made::new("balm", &route.key, "teaching_only", &[("jojoba-oil", 100)]);
        let raised = raised_by(&made, &ClinicCautions::default());
        for caution in &route.cautions {
            let silent = may_be_silent(&caution.key, None, "balm", false, &raised);
            is_accounted_for(caution, &format!("used {}", route.name), &raised, silent, &route.key);
        }
    }
}

#[test]
fn every_stop_is_reached_by_some_formula_and_not_without_what_it_is_about() {
    let mut reached = BTreeSet::new();
    for stop in &REFERENCE.stops {
        let first = |keys: &[String], other: &str| keys.first().map_or(other.to_owned(), Clone::clone);
        let (preparation, route) = (first(&stop.preparations, "balm"), first(&stop.routes, SKIN));
        let stands_there = |place: &usize| {
            let material = &REFERENCE.materials[*place];
            let listed = stop.concerns(material);
            let state = material.botanical.as_ref().and_then(|botanical| botanical.state);
            listed && (stop.states.is_empty() || state.is_some_and(|state| stop.states.contains(&state)))
        };
        let places: Vec<usize> = (0..REFERENCE.materials.len()).filter(stands_there).collect();
        assert!(places.len() >= stop.materials.len().max(1), "{}", stop.key);
        for place in places {
            let mut made = with(place, &preparation, &route);
            if let Some(limit) = stop.meant_for_under_months {
                // Not for adults, and not for a child who has just outgrown it.
                for youngest in [None, Some(limit)] {
                    made.youngest = youngest;
                    assert!(find(&cautions_of(&made), &stop.text).is_none(), "{} {youngest:?}", stop.key);
                }
                made.youngest = Some(limit - 1);
            }
            let all = cautions_of(&made);
            let found = find(&all, &stop.text).unwrap_or_else(|| panic!("{} is not reached", stop.key));
            assert_eq!(found.level, CautionLevel::Stop, "{}", stop.key);
            reached.insert(stop.key.as_str());
        }
        if stop.routes.iter().any(|route| route != SKIN) {
            let harmless =
                cautions_of(&Made::new(&preparation, SKIN, "teaching_only", &[("jojoba-oil", 100)]));
            assert!(find(&harmless, &stop.text).is_none(), "{}", stop.key);
        }
    }
    assert_eq!(reached.len(), REFERENCE.stops.len(), "{reached:?}");
}

#[test]
fn every_prohibition_stops_in_its_regime_and_warns_where_it_is_taught() {
    let mut seen = 0;
    for (place, material) in REFERENCE.materials.iter().enumerate() {
        for prohibition in &material.prohibited_in {
            let mut made = with(place, "balm", by_route(prohibition.exposure));
            let named = format!("prohibited-{}", prohibition.key);
            // Two rows of one source can say the same of one material, for two kinds of product: they are one caution.
            let same = |one: &Caution| {
                one.key.starts_with("prohibited-")
                    && one.text.contains(&prohibition.source.text)
                    && one.audiences == [prohibition.audience.to_string()]
            };
            let of = |made: &Made| {
                let all = cautions_of(made);
                let found =
                    all.iter().find(|one| one.key == named).or_else(|| all.iter().find(|one| same(one)));
                found.map(|one| one.level)
            };
            if prohibition.exposure != Exposure::Any {
                let elsewhere = Made { regime: "cosmetic", ..with(place, "balm", SKIN) };
                assert_eq!(of(&elsewhere), Some(CautionLevel::Note), "{}", prohibition.key);
            }
            if let Audience::UnderMonths(limit) = prohibition.audience {
                assert_eq!(of(&made), Some(CautionLevel::Note), "{} for adults", material.key);
                made.youngest = Some(limit - 1);
            }
            assert_eq!(of(&made), Some(CautionLevel::Caution), "{}", material.key);
            made.regime = "cosmetic";
            assert_eq!(prohibition.regime, "cosmetic");
            assert_eq!(of(&made), Some(CautionLevel::Stop), "{}", material.key);
            seen += 1;
        }
    }
    assert!(seen > 0);
}

/// A route by which a product meets the body so, and not by intact skin unless every product is meant.
fn by_route(exposure: Exposure) -> &'static str {
    let found = REFERENCE.routes.iter().find(|route| route.exposure == exposure);
    found.map_or(SKIN, |route| route.key.as_str())
}

/// A formula that makes the calculations raise a caution.
fn raising(key: &str) -> Made {
    let skin = |preparation, regime, lines: &[(&str, u32)]| Made::new(preparation, SKIN, regime, lines);
    match key {
        "unpreserved-watery" => skin("lotion", "cosmetic", &[("purified-water", 100)]),
        "wax-only-emulsion" => {
            skin("cream", "cosmetic", &[("beeswax-yellow", 10), ("olive-oil", 50), ("purified-water", 40)])
        }
        "alcohol-on-childs-skin" => {
            skin("liniment", "cosmetic", &[("ethanol-96", 10), ("purified-water", 90)])
        }
        "flammable" => skin("liniment", "cosmetic", &[("ethanol-96", 50), ("purified-water", 50)]),
        "limit-exceeded" => skin("lotion", "cosmetic", &[("phenoxyethanol", 2), ("purified-water", 98)]),
        "limit-nearly" => skin("lotion", "cosmetic", &[("phenoxyethanol", 1), ("purified-water", 99)]),
        "prohibited-in-regime" => skin("cream", "cosmetic", &[("sodium-borate", 1), ("olive-oil", 99)]),
        "allergens-to-declare" => skin("balm", "cosmetic", &[("lavender-oil", 1), ("olive-oil", 99)]),
        "untested-daily-limit" => {
            skin("ointment", "herbal_medicine", &[("comfrey-root-dried", 10), ("lanolin", 90)])
        }
        // A limit on the dried herb, and of this fresh herb it is not known how much dried herb it makes.
        "composition-unknown" => {
            let mut made =
                skin("ointment", "herbal_medicine", &[("calendula-flower-fresh", 10), ("lanolin", 90)]);
            made.dried_water_unknown = true;
            made
        }
        other => panic!("no formula here makes the calculations raise {other}: add one"),
    }
}

#[test]
fn everything_that_the_calculations_raise_is_raised_by_some_formula() {
    assert!(!REFERENCE.raised.is_empty());
    for caution in &REFERENCE.raised {
        let all = cautions_of(&raising(&caution.key));
        let found = all.iter().find(|one| one.key == caution.key);
        let found = found.unwrap_or_else(|| panic!("{} is not among {all:?}", caution.key));
        assert!(found.origins.iter().all(|origin| origin.starts_with(CALCULATED)), "{found:?}");
        assert_eq!(found.level == CautionLevel::Stop, caution.level == Level::Stop);
    }
}
