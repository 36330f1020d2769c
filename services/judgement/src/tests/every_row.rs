//! Every material, kind, route and stop of the reference data, and everything that a calculation raises, is reached by
//! some formula.

use std::collections::BTreeSet;

use materia::{Audience, Exposure, Level};
use wire::safety::{Caution, CautionLevel};

use super::{CALCULATED, Made, Put, REFERENCE, cautions_of, of_content};
use crate::cautions::level;

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

#[test]
fn every_material_evaluates_by_every_route_and_brings_its_cautions_and_no_others() {
    for (place, material) in REFERENCE.materials.iter().enumerate() {
        for route in &REFERENCE.routes {
            let all = cautions_of(&with(place, "balm", &route.key));
            let at = format!("{} by {}", material.key, route.key);
            let (meant, other): (Vec<_>, Vec<_>) =
                material.cautions.iter().partition(|caution| caution.applies_to_route(&route.key));
            for caution in &meant {
                let found = find(&all, &caution.text).unwrap_or_else(|| panic!("{at}: {}", caution.key));
                assert!(found.level >= level(caution.level), "{at}: {}", caution.key);
                assert!(
                    of_content(found).any(|origin| origin.starts_with(&material.name)),
                    "{at}: {found:?}"
                );
                for audience in &caution.audiences {
                    assert!(found.audiences.contains(&audience.to_string()), "{at}: {audience} in {found:?}");
                }
            }
            for caution in other.iter().filter(|one| !meant.iter().any(|meant| meant.text == one.text)) {
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
        let all = cautions_of(&outer);
        for caution in material.cautions.iter().filter(|caution| caution.applies_to_route(SKIN)) {
            let found = find(&all, &caution.text).unwrap_or_else(|| panic!("{}", caution.key));
            let path = format!("Formula 1 > Formula 0 > {}", material.name);
            assert!(found.origins.iter().any(|origin| origin.starts_with(&path)), "{found:?}");
        }
    }
}

#[test]
fn every_kind_of_preparation_brings_its_cautions_by_the_routes_they_are_about() {
    for kind in &REFERENCE.preparations {
        for route in &REFERENCE.routes {
            let all = cautions_of(&Made::new(&kind.key, &route.key, "teaching_only", &[("jojoba-oil", 100)]));
            for caution in &kind.cautions {
                let why = format!("every {}", kind.name);
                let there = find(&all, &caution.text).is_some_and(|found| found.origins.contains(&why));
                assert_eq!(there, caution.applies_to_route(&route.key), "{} by {}", caution.key, route.key);
            }
        }
    }
}

#[test]
fn every_route_brings_its_cautions() {
    for route in &REFERENCE.routes {
        let all = cautions_of(&Made::new("balm", &route.key, "teaching_only", &[("jojoba-oil", 100)]));
        for caution in &route.cautions {
            let found = find(&all, &caution.text).unwrap_or_else(|| panic!("{}", caution.key));
            assert!(found.origins.contains(&format!("used {}", route.name)), "{found:?}");
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
            let of = |all: &[Caution]| all.iter().find(|one| one.key == named).map(|one| one.level);
            if prohibition.exposure != Exposure::Any {
                let elsewhere = Made { regime: "cosmetic", ..with(place, "balm", SKIN) };
                assert_eq!(of(&cautions_of(&elsewhere)), Some(CautionLevel::Note), "{}", prohibition.key);
            }
            if let Audience::UnderMonths(limit) = prohibition.audience {
                assert_eq!(of(&cautions_of(&made)), Some(CautionLevel::Note), "{} for adults", material.key);
                made.youngest = Some(limit - 1);
            }
            assert_eq!(of(&cautions_of(&made)), Some(CautionLevel::Caution), "{}", material.key);
            made.regime = "cosmetic";
            assert_eq!(prohibition.regime, "cosmetic");
            assert_eq!(of(&cautions_of(&made)), Some(CautionLevel::Stop), "{}", material.key);
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
