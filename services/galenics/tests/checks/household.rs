//! A cream in cups and ounces on a nested infused oil and a nested infusion. Common practice, no source: equal
//! volumes of oil and water, one ounce of wax to one cup of oil.

use std::sync::Arc;

use galenics::{
    ExtractBasis, Formula, Function, Losses, MaterialKind, Preparation, Quantity, Target, Yield, scale,
};

use crate::support::{balance, dec, density, evaluated, formula, line, line_of, material, near, nested};

const OLIVE: &str = "Codex-type table, olive oil: relative density 0.913 to 0.916 at 20 C, the middle";
const WATER: &str = "Tanaka et al. 2001, Metrologia 38, 301";

fn infused_oil() -> Formula {
    let mut olive = material("olive oil", MaterialKind::FixedOil);
    olive.density = Some(density("0.9145", "20", OLIVE));
    formula(
        "infused oil of calendula",
        Preparation::InfusedOil,
        vec![line("dried calendula", MaterialKind::Herb, "100 g"), line_of(olive, "1000 g")],
    )
    .with_yield(Yield::parse("850 g").unwrap())
}

fn infusion() -> Formula {
    let mut water = material("purified water", MaterialKind::Water);
    water.density = Some(density("0.9982067", "20", WATER));
    formula(
        "infusion of chamomile",
        Preparation::Infusion,
        vec![line("dried chamomile", MaterialKind::Herb, "30 g"), line_of(water, "1000 mL")],
    )
}

fn cream() -> Formula {
    let (oil, water) = (Arc::new(infused_oil()), Arc::new(infusion()));
    Formula::new("household cream", "Household cream", Preparation::Cream)
        .with_phase(
            "oil phase",
            vec![
                nested(&oil, "1 US cup"),
                line("yellow beeswax", MaterialKind::Wax, "1 oz").with_function(Function::Emulsifier),
            ],
        )
        .with_phase("water phase", vec![nested(&water, "1 US cup")])
}

#[test]
fn pressed_oil_carries_herb_over_oil_and_never_more_than_went_in() {
    let oil = evaluated(&infused_oil());
    assert_eq!(oil.charged.value(), Some(dec("1100")));
    assert_eq!(oil.product.value(), Some(dec("850")));
    // 100 g in 1000 g of oil: each gram of oil carries 100 mg, so that the 850 g carry 85 g.
    assert_eq!(oil.herbs[0].per_gram.value(), Some(dec("100")));
    assert_eq!(oil.composition.len(), 1, "the marc is gone and what it gave is not counted as mass");
    assert_eq!(oil.composition[0].share.value(), Some(dec("1")));
    assert!(
        oil.contains.iter().any(|herb| herb.material.id.as_str() == "dried calendula" && herb.left_with_marc)
    );

    let mut by_product = infused_oil();
    by_product.extract_basis = ExtractBasis::Product;
    let carried = evaluated(&by_product).herbs[0].per_gram.value().unwrap() * dec("850") / dec("1000");
    assert!(near(carried, dec("100"), "0.0000000001"), "the whole herb, no more: {carried}");

    let more_than_oil =
        infused_oil().with_yield(Yield::measured(galenics::Mass::grams(dec("2000")).unwrap()));
    // Stated, it is refused with the figures; measured, it is kept as it was read.
    let stated = crate::support::refused(&infused_oil().with_yield(Yield::parse("2000 g").unwrap()));
    let (at, code, says) = &stated[0];
    assert_eq!((at.as_str(), *code), ("/yield", "yield_above_input"));
    assert!(says.contains("yield of 2000 g exceeds the 1000 g that remain"), "{says}");
    let carried = evaluated(&more_than_oil).herbs[0].per_gram.value().unwrap() * dec("2000") / dec("1000");
    assert!(carried <= dec("100"), "{carried}");
}

#[test]
fn the_household_cream_comes_to_its_cups_and_ounces() {
    let cream = evaluated(&cream());
    let (oil, wax, water) =
        (dec("236.5882365") * dec("0.9145"), dec("28.349523125"), dec("236.5882365") * dec("0.9982067"));
    assert!(near(cream.product.value().unwrap(), oil + wax + water, "0.000001"));
    assert!(near(cream.oil.value().unwrap(), (oil + wax) / (oil + wax + water), "0.000001"));
    assert!(near(cream.water.value().unwrap(), water / (oil + wax + water), "0.000001"));
    // The wax serves as emulsifier here, so that it is not counted as oil beside itself.
    assert!(near(cream.emulsifier_to_oil.value().unwrap(), wax / oil, "0.000001"));
    assert!(near(cream.oil_to_water.value().unwrap(), (oil + wax) / water, "0.000001"));
    let herbs: Vec<_> = cream
        .herbs
        .iter()
        .map(|herb| (herb.material.name.as_str(), herb.per_gram.value().unwrap()))
        .collect();
    assert_eq!(herbs[0].0, "dried calendula");
    assert!(near(herbs[0].1, dec("100") * oil / (oil + wax + water), "0.000001"), "{herbs:?}");
    assert_eq!(herbs[1].0, "dried chamomile");
    let infusion_strength = dec("30") / dec("998.2067") * dec("1000");
    assert!(near(herbs[1].1, infusion_strength * water / (oil + wax + water), "0.0001"), "{herbs:?}");
}

#[test]
fn the_household_cream_scales_to_the_oil_there_is_to_a_mass_and_to_jars() {
    let formula = cream();
    let evaluation = evaluated(&formula);
    let work = |target| scale(&formula, &evaluation, &target, &Losses::default(), &balance("0.1")).unwrap();

    let oil = work(Target::ByLine { phase: 0, line: 0, quantity: Quantity::parse("2.5 US cups").unwrap() });
    assert_eq!(oil.factor.value(), Some(dec("2.5")), "volume against volume, whatever the density");
    let lines = &oil.phases[0].lines;
    assert_eq!(lines[0].in_written_unit.as_ref().unwrap().to_string(), "2.5 US cup");
    assert_eq!(lines[1].in_written_unit.as_ref().unwrap().to_string(), "2.5 oz");
    assert_eq!(lines[1].exact.value(), Some(dec("70.8738078125")));
    assert_eq!(lines[1].weigh.value(), Some(dec("70.9")));
    assert_eq!(lines[1].error.value(), Some(dec("0.0261921875")));
    assert!(near(lines[0].volume.as_ref().unwrap().value().unwrap(), dec("591.47059125"), "0"));

    let half_kilogram = work(Target::ByMass(Quantity::parse("500 g").unwrap()));
    assert!(
        near(half_kilogram.total.value().unwrap(), dec("500"), "0.15"),
        "three lines, each within half a step"
    );

    let jars = work(Target::Containers { count: 20, fill: Quantity::parse("50 g").unwrap() });
    assert_eq!(jars.net.value(), Some(dec("1000")));
    assert!(near(jars.total.value().unwrap(), dec("1000"), "0.15"));
    assert_eq!(jars.net.sentence(), "20 containers of 50 g: 1000 g");
}

#[test]
fn a_fresh_herb_counts_as_dried_and_gives_its_water_to_the_menstruum() {
    use galenics::{Fraction, HerbState, MaterialFacts, Source, Sourced, Status};
    let share = |percent: &str| {
        Some(Sourced::new(
            Fraction::percent(dec(percent)).unwrap(),
            Source::fixed("weighed before and after", Status::Entered),
        ))
    };
    let fresh = |state| MaterialFacts { herb: Some(state), ..material("fresh melissa", MaterialKind::Herb) };
    let known = HerbState::Fresh { water: share("80"), dried_water: share("10") };
    let mut spirit = material("spirit", MaterialKind::Ethanol);
    spirit.ethanol_by_volume = share("70");
    let spirit = line_of(spirit, "500 g");
    let tincture =
        formula("tincture", Preparation::Tincture, vec![line_of(fresh(known), "450 g"), spirit.clone()]);
    let evaluation = evaluated(&tincture);
    // 450 g hold 360 g of water and 90 g of solids, as 100 g of dried herb with 10 % of water do.
    assert_eq!(evaluation.product.value(), Some(dec("860")));
    assert!(near(evaluation.herbs[0].per_gram.value().unwrap() * dec("860"), dec("100000"), "0.0000001"));
    // 500 g of 70 % by volume hold 312 g of ethanol (62.39 % by mass, OIML R 22) and 188 g of water.
    assert!(near(evaluation.water.value().unwrap(), dec("548.05") / dec("860"), "0.0001"));

    let unknown = HerbState::Fresh { water: None, dried_water: None };
    let tincture = formula("tincture", Preparation::Tincture, vec![line_of(fresh(unknown), "450 g"), spirit]);
    let evaluation = evaluated(&tincture);
    assert!(evaluation.unknown.iter().any(|missing| missing.contains("water content of fresh melissa")));
    assert_eq!(evaluation.herbs[0].per_gram.value(), None);
}
