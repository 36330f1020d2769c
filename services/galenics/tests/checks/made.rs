//! The preparation as made, what it costs, and what an application brings.

use std::sync::Arc;

use galenics::{
    Decimal, Formula, Fraction, Function, Losses, Mass, MaterialKind, Preparation, Quantity, Source, Sourced,
    Status, Target, Volume, Worked,
    as_made::{AsMade, AsMadeProblem, Outcome, Weighing, as_made},
    cost::{Cost, Draw, Extra, Price, cost},
    dose::{Application, dose},
    limits::{
        Bound, Constituent, Exposure, Limit, LimitBasis, Profile, Purpose, Subject, Use, Verdict,
        check_limits,
    },
    scale,
    tolerance::Tolerances,
};
use proptest::prelude::*;

use crate::support::{balance, dec, density, evaluated, formula, line, line_of, material, near, nested};

fn percent(value: &str) -> Fraction {
    Fraction::percent(dec(value)).unwrap()
}

fn grams(value: &str) -> Mass {
    Mass::grams(dec(value)).unwrap()
}

fn quantity(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

fn cream() -> Formula {
    formula(
        "cream",
        Preparation::Cream,
        vec![
            line("emulsifying wax", MaterialKind::Emulsifier, "80 g"),
            line("olive oil", MaterialKind::FixedOil, "300 g"),
            line("lavender oil", MaterialKind::EssentialOil, "5 g").with_function(Function::Active),
            line("purified water", MaterialKind::Water, "q.s. 1000 g"),
        ],
    )
}

fn recipe(formula: &Formula) -> Worked {
    let target = Target::ByMass(quantity("1000 g"));
    scale(formula, &evaluated(formula), &target, &Losses::default(), &balance("0.1")).unwrap()
}

fn weighed(amounts: &[&str]) -> Vec<Weighing> {
    let rows = amounts.iter().enumerate().filter(|(_, amount)| !amount.is_empty());
    rows.map(|(line, amount)| Weighing { phase: 0, line, weighed: quantity(amount) }).collect()
}

fn made(weighings: &[Weighing], outcome: Outcome) -> Result<AsMade, AsMadeProblem> {
    let formula = cream();
    let tolerances = Tolerances { active: percent("1"), other: percent("2") };
    as_made(
        &formula,
        &recipe(&formula).targets(),
        weighings,
        tolerances,
        &Losses::transfer(percent("4")),
        &outcome,
    )
}

#[test]
fn lines_are_held_against_their_tolerance_and_what_is_missing_is_named() {
    let made = made(&weighed(&["81 g", "310 g", "5.1 g", ""]), Outcome::default()).unwrap();
    let within: Vec<_> = made.lines.iter().map(|line| line.within).collect();
    // 1.25 % and 3.3 % off of 2 % allowed; 2 % off of 1 % allowed for an active.
    assert_eq!(within, [Some(true), Some(false), Some(false), None]);
    assert_eq!(made.missing, [(0, 3)]);
    assert_eq!(made.lines[0].deviation.as_ref().unwrap().value(), Some(dec("0.0125")));
    assert_eq!(made.evaluation.product.value(), Some(dec("396.1")));
}

#[test]
fn several_weighings_of_a_line_add_up() {
    let mut weighings = weighed(&["80 g", "300 g", "5 g", "500 g"]);
    weighings.push(Weighing { phase: 0, line: 3, weighed: quantity("115 g") });
    let made = made(&weighings, Outcome { made: Some(grams("960")), ..Outcome::default() }).unwrap();
    assert_eq!(made.evaluation.product.value(), Some(dec("1000")));
    assert_eq!(made.yields.of_theoretical.as_ref().unwrap().value(), Some(dec("0.96")));
    assert_eq!(made.yields.of_expected.as_ref().unwrap().value(), Some(dec("1")));
    assert_eq!(made.yields.unaccounted.as_ref().unwrap().value(), Some(dec("40")));
    assert!(!made.yields.more_than_put_in);
}

#[test]
fn evaporation_concentrates_and_what_sticks_to_the_pot_does_not() {
    let weighings = weighed(&["80 g", "300 g", "5 g", "615 g"]);
    let stuck = Outcome { made: Some(grams("900")), transfer: Some(grams("100")), ..Outcome::default() };
    let boiled = Outcome { made: Some(grams("900")), evaporated: Some(grams("100")), ..Outcome::default() };
    let share = |made: &AsMade, name: &str| {
        let leaf =
            made.evaluation.composition.iter().find(|leaf| leaf.material.name.as_str() == name).unwrap();
        leaf.share.value().unwrap()
    };
    let stuck = made(&weighings, stuck).unwrap();
    assert_eq!(share(&stuck, "lavender oil"), dec("0.005"));
    let boiled = made(&weighings, boiled).unwrap();
    assert!(near(share(&boiled, "lavender oil"), dec("5") / dec("900"), "0.0000000000001"));
    assert!(near(share(&boiled, "purified water"), dec("515") / dec("900"), "0.0000000000001"));
    let sum: Decimal = boiled.evaluation.composition.iter().map(|leaf| leaf.share.value().unwrap()).sum();
    assert!(near(sum, dec("1"), "0.0000000000001"));
    for report in [&stuck.yields, &boiled.yields] {
        assert_eq!(report.unaccounted.as_ref().unwrap().value(), Some(dec("0")));
    }
    let dry = Outcome { evaporated: Some(grams("700")), ..Outcome::default() };
    // 615 g of water and 5 g of volatile oil can leave; what was read stays, and is told.
    let dry = made(&weighings, dry).unwrap();
    let told = dry.too_much_evaporated.as_ref().unwrap().sentence();
    assert!(told.starts_with("700 g is missing, 80 g more than the 620 g that can evaporate"), "{told}");
    assert_eq!(dry.evaluation.product.value(), Some(dec("380")));
    assert!(boiled.too_much_evaporated.is_none());
}

#[test]
fn the_composition_as_made_goes_through_the_limits_again() {
    let limit = Limit {
        key: "lavender".into(),
        regime: "cosmetic".into(),
        authority: "policy of the clinic".into(),
        subject: Subject::Material("lavender oil".into()),
        name: "lavender oil".into(),
        exposure: None,
        site: None,
        purpose: Purpose::Any,
        under_months: None,
        bound: Bound::Maximum(percent("0.52")),
        basis: LimitBasis::AsIs,
        group: None,
        source: Source::fixed("policy of the clinic", Status::Entered),
        date: "2026-01-01".into(),
    };
    let of = Use {
        regime: "cosmetic".into(),
        exposure: Exposure::LeaveOn,
        site: None,
        youngest_months: None,
        preservatives: Vec::new(),
    };
    let verdict = |evaporated| {
        let outcome = Outcome { evaporated, ..Outcome::default() };
        let made = made(&weighed(&["80 g", "300 g", "5 g", "615 g"]), outcome).unwrap();
        check_limits(&made.evaluation.composition, &[], std::slice::from_ref(&limit), &of).verdict
    };
    assert_eq!(verdict(None), Verdict::Within);
    assert_eq!(verdict(Some(grams("100"))), Verdict::Exceeded);
}

#[test]
fn more_than_was_put_in_is_always_a_finding() {
    let outcome = Outcome { made: Some(grams("1001")), ..Outcome::default() };
    assert!(made(&weighed(&["80 g", "300 g", "5 g", "615 g"]), outcome).unwrap().yields.more_than_put_in);
}

#[test]
fn records_that_do_not_fit_are_refused() {
    assert!(made(&[], Outcome::default()).unwrap_err().to_string().contains("No line has been weighed"));
    let elsewhere = [Weighing { phase: 1, line: 0, weighed: quantity("1 g") }];
    assert!(made(&elsewhere, Outcome::default()).unwrap_err().to_string().contains("no line 0 in phase 1"));
    let mut mixed = weighed(&["80 g"]);
    mixed.push(Weighing { phase: 0, line: 0, weighed: quantity("1 mL") });
    assert!(made(&mixed, Outcome::default()).unwrap_err().to_string().contains("cannot be added"));
}

#[test]
fn a_pressed_oil_as_made_carries_herb_by_what_was_really_weighed() {
    let oil = formula(
        "oil",
        Preparation::InfusedOil,
        vec![
            line("calendula", MaterialKind::Herb, "100 g"),
            line("olive oil", MaterialKind::FixedOil, "1000 g"),
        ],
    );
    let worked =
        scale(&oil, &evaluated(&oil), &Target::ByMass(quantity("1000 g")), &Losses::default(), &balance("1"))
            .unwrap();
    let outcome = Outcome { made: Some(grams("870")), ..Outcome::default() };
    let tolerances = Tolerances { active: percent("1"), other: percent("2") };
    let made = as_made(
        &oil,
        &worked.targets(),
        &weighed(&["90 g", "1000 g"]),
        tolerances,
        &Losses::default(),
        &outcome,
    )
    .unwrap();
    assert_eq!(made.evaluation.product.value(), Some(dec("870")));
    assert_eq!(made.evaluation.herbs[0].per_gram.value(), Some(dec("90")));
    assert_eq!(made.yields.of_theoretical.unwrap().value(), Some(dec("0.87")));
}

fn price(amount: &str, per: &str) -> Option<Price> {
    Some(Price { amount: dec(amount), currency: "EUR".into(), per: quantity(per) })
}

fn draw(name: &'static str, amount: &str, price: Option<Price>) -> Draw {
    Draw { name: name.into(), quantity: quantity(amount), price, density: None }
}

fn costs(draws: &[Draw], extras: &[Extra], containers: Option<u32>) -> Result<Cost, galenics::Refusal> {
    cost(draws, extras, &"EUR".into(), 2, containers)
}

#[test]
fn a_batch_costs_what_its_lots_cost_rounded_once() {
    // Three draws of a third of a cent each are one cent together, not nothing.
    let thirds: Vec<_> = (0..3).map(|_| draw("a", "1 g", price("1", "300 g"))).collect();
    assert_eq!(costs(&thirds, &[], None).unwrap().total.value(), Some(dec("0.01")));
    let batch = costs(
        &[draw("beeswax", "75 g", price("18.50", "1 kg")), draw("olive oil", "300 g", price("9.90", "1 kg"))],
        &[Extra { name: "jars".into(), amount: dec("7.20") }],
        Some(12),
    )
    .unwrap();
    // 1.3875 + 2.97 + 7.20 = 11.5575
    assert_eq!(batch.total.value(), Some(dec("11.56")));
    assert_eq!(batch.each.unwrap().value(), Some(dec("0.96")));
    assert_eq!(batch.draws[0].figure.value(), Some(dec("1.3875")));
}

#[test]
fn a_price_by_volume_needs_a_density_and_a_missing_price_is_unknown() {
    let mut oil = draw("olive oil", "300 g", price("9.145", "1 L"));
    let unknown = costs(std::slice::from_ref(&oil), &[], None).unwrap();
    assert_eq!(unknown.total.sentence(), "unknown: density of olive oil");
    oil.density = Some(density("0.9145", "20", "Codex-type table, olive oil"));
    assert_eq!(costs(&[oil], &[], None).unwrap().total.value(), Some(dec("3.00")));
    let unpriced = costs(&[draw("rose oil", "1 g", None)], &[], Some(3)).unwrap();
    assert_eq!(unpriced.each.unwrap().sentence(), "unknown: price of rose oil");
    let dollars = Price { currency: "USD".into(), ..price("1", "1 g").unwrap() };
    assert!(costs(&[draw("a", "1 g", Some(dollars))], &[], None).unwrap_err().says.contains("one currency"));
    assert_eq!(costs(&[draw("a", "1 g", price("-1", "1 g"))], &[], None).unwrap_err().field, "price");
    assert_eq!(costs(&[], &[], Some(0)).unwrap_err().field, "containers");
    assert_eq!(cost(&[], &[], &"EUR".into(), 9, None).unwrap_err().field, "minor_digits");
}

#[test]
fn an_application_brings_herb_alcohol_and_constituents() {
    let oil = Arc::new(formula(
        "infused oil",
        Preparation::InfusedOil,
        vec![
            line("calendula", MaterialKind::Herb, "100 g"),
            line("olive oil", MaterialKind::FixedOil, "1000 g"),
        ],
    ));
    let salve = formula(
        "salve",
        Preparation::Salve,
        vec![
            nested(&oil, "79 g"),
            line("beeswax", MaterialKind::Wax, "20 g"),
            line("lavender oil", MaterialKind::EssentialOil, "1 g"),
        ],
    );
    let profile = Profile {
        material: "lavender oil".into(),
        constituents: vec![Constituent {
            substance: "linalool".into(),
            name: "linalool".into(),
            least: percent("20"),
            most: percent("45"),
            as_acid: false,
            source: Source::fixed("made up for the test", Status::Entered),
        }],
        untested: Vec::new(),
    };
    let evaluation = evaluated(&salve);
    let dosed = |at_once, times| dose(&evaluation, std::slice::from_ref(&profile), at_once, times);
    let half_gram = dosed(Application::Weighed(grams("0.5")), 3).unwrap();
    // 79 % of 100 mg/g in half a gram.
    assert_eq!(half_gram.herbs[0].figure.value(), Some(dec("39.5")));
    assert_eq!(half_gram.constituents[0].figure.value(), Some(dec("2.25")));
    assert_eq!(half_gram.ethanol.value(), Some(dec("0")));
    assert_eq!(half_gram.per_day.value(), Some(dec("1.5")));
    let film = dosed(Application::Film { area: dec("500"), film: dec("2") }, 1).unwrap();
    assert_eq!(film.application.value(), Some(dec("1")));
    let spoon = dosed(Application::Measured(Volume::millilitres(dec("5")).unwrap()), 1).unwrap();
    assert!(spoon.herbs[0].figure.sentence().contains("density of"), "{}", spoon.herbs[0].figure.sentence());
    assert_eq!(dosed(Application::Film { area: dec("0"), film: dec("2") }, 1).unwrap_err().field, "area");
    assert_eq!(dosed(Application::Film { area: dec("10"), film: dec("0") }, 1).unwrap_err().field, "film");
    assert_eq!(dosed(Application::Weighed(grams("1")), 0).unwrap_err().field, "times_a_day");
}

#[test]
fn a_spoon_of_a_measured_density_is_weighed_by_it() {
    let mut syrup = formula("syrup", Preparation::Syrup, vec![line("sugar", MaterialKind::Sugar, "100 g")]);
    syrup.density = Some(Sourced { ..density("1.31", "25", "teaching table, syrup 1.31 at 25 C") });
    let spoon =
        dose(&evaluated(&syrup), &[], Application::Measured(Volume::millilitres(dec("5")).unwrap()), 1)
            .unwrap();
    assert_eq!(spoon.application.value(), Some(dec("6.55")));
}

#[test]
fn a_planned_evaporation_that_the_yield_shows_concentrates_what_was_made() {
    let weighings = weighed(&["80 g", "300 g", "5 g", "615 g"]);
    let cream = cream();
    let targets = recipe(&cream).targets();
    let tolerances = Tolerances { active: percent("1"), other: percent("2") };
    let share = |evaporation: &str, came: Option<&str>| {
        let losses =
            Losses { evaporation: percent(evaporation), transfer: percent("2"), ..Losses::default() };
        let outcome = Outcome { made: came.map(grams), ..Outcome::default() };
        let made = as_made(&cream, &targets, &weighings, tolerances, &losses, &outcome).unwrap();
        let leaf =
            made.evaluation.composition.iter().find(|leaf| leaf.material.name.as_str() == "lavender oil");
        leaf.unwrap().share.value().unwrap()
    };
    let of = |whole: &str| dec("5") / dec(whole);
    // 10 % planned and no yield yet: 100 g. A yield of 830 g, less the 20 g that stick to the pot: 150 g.
    assert!(near(share("10", None), of("900"), "0.000000001"));
    assert!(near(share("10", Some("830")), of("850"), "0.000000001"));
    assert!(near(share("10", Some("980")), of("1000"), "0.000000001"));
    assert!(near(share("0", Some("830")), of("1000"), "0.000000001"), "nothing was to evaporate");
}

proptest! {
    #[test]
    fn what_cannot_evaporate_is_the_stronger_the_more_does(
        water in 100_u32..10_000, spirit in 1_u32..10_000, honey in 1_u32..10_000, oil in 1_u32..1000,
        (less, more) in (1_u32..100, 1_u32..100),
    ) {
        let mut ethanol = material("ethanol 70 %", MaterialKind::Ethanol);
        ethanol.ethanol_by_volume = Some(Sourced::new(percent("70"), Source::fixed("stated", Status::Definition)));
        let syrup = material("honey", MaterialKind::Sugar)
            .with_water(Sourced::new(percent("18"), Source::fixed("stated", Status::Definition)));
        let mixture = formula("mixture", Preparation::Syrup, vec![
            line("water", MaterialKind::Water, &format!("{water} g")),
            line_of(ethanol, &format!("{spirit} g")),
            line_of(syrup, &format!("{honey} g")),
            line("salt", MaterialKind::Salt, "10 g"),
            line("volatile", MaterialKind::EssentialOil, &format!("{oil} g")),
        ]);
        let evaluation = evaluated(&mixture);
        let all = evaluation.volatile().unwrap();
        let left = |percent: u32| {
            let gone = (all * Decimal::from(percent) / dec("100")).trunc_with_scale(9);
            evaluation.concentrated(grams(&gone.to_string())).unwrap()
        };
        let of = |made: &galenics::Evaluation, at: usize| made.composition[at].share.value().unwrap();
        let (first, second) = (left(less.min(more)), left(less.max(more)));
        let close = dec("0.0000001");
        for made in [&first, &second] {
            let sum: Decimal = (0..5).map(|at| of(made, at)).sum();
            prop_assert!((sum - dec("1")).abs() < close, "{}", sum);
            prop_assert!((0..5).all(|at| of(made, at) >= -close && of(made, at) <= dec("1") + close));
            // Salt leaves never, so that it tells what became of the whole.
            let salt = of(made, 3) * made.product.value().unwrap();
            prop_assert!((salt - dec("10")).abs() < close);
            let alcohol = galenics::alcohol_content::alcohol_content(made);
            prop_assert!(alcohol.by_volume.unknown().is_some(), "nobody measured it");
            let before = galenics::alcohol_content::alcohol_content(&evaluation);
            prop_assert!(alcohol.shown_to_remain.value() <= before.of_watery_part.value());
        }
        prop_assert!(of(&second, 3) >= of(&first, 3));
        let beyond = grams(&(all + dec("0.001")).trunc_with_scale(9).to_string());
        let refused = evaluation.concentrated(beyond).unwrap_err();
        prop_assert!(refused.says.contains("can evaporate"), "{}", refused.says);
    }

    #[test]
    fn what_boils_off_takes_nothing_else_with_it(water in 1_u32..100_000, oil in 1_u32..100_000, gone in 1_u32..100_000) {
        let cream = formula("cream", Preparation::Cream, vec![
            line("water", MaterialKind::Water, &format!("{water} g")),
            line("oil", MaterialKind::FixedOil, &format!("{oil} g")),
        ]);
        let evaluation = evaluated(&cream);
        match evaluation.concentrated(grams(&gone.to_string())) {
            Ok(left) => {
                prop_assert!(gone <= water);
                let product = left.product.value().unwrap();
                prop_assert_eq!(product, Decimal::from(water + oil - gone));
                let oil_left = left.composition[1].share.value().unwrap() * product;
                prop_assert!(near(oil_left, Decimal::from(oil), "0.0000001"));
            }
            Err(_) => prop_assert!(gone > water),
        }
    }
}
