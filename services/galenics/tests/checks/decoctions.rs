//! Decoctions that are boiled down to their yield.

use galenics::{
    Evaluation, ExtractBasis, Formula, Fraction, MaterialKind, Preparation, ProblemKind, Source, Sourced,
    Status, alcohol_content::alcohol_content, evaluate, kept::KeptEvaluation,
};
use proptest::prelude::*;
use rust_decimal::Decimal;

use crate::support::{dec, evaluated, formula, line, line_of, material, near, nested};

/// 50 g of herb in water and glycerol, boiled down to a yield.
fn decoction(water: &str, glycerol: &str, yields: Option<&str>) -> Formula {
    let lines = vec![
        line("oak bark", MaterialKind::Herb, "50 g"),
        line("glycerol", MaterialKind::Humectant, glycerol),
        line("purified water", MaterialKind::Water, water),
    ];
    let mut made = formula("decoction", Preparation::Decoction, lines);
    made.yields = yields.map(|text| galenics::Yield::parse(text).unwrap());
    made
}

fn share_of(of: &Evaluation, material: &str) -> Decimal {
    let leaf = of.composition.iter().find(|leaf| leaf.material.name.as_str() == material).unwrap();
    leaf.share.known().unwrap()
}

fn per_gram(of: &Evaluation) -> Decimal {
    of.herbs[0].per_gram.known().unwrap()
}

/// By hand: 1000 g go in, 500 g come out and 50 g stay in the marc, so that 450 g boiled off. The 100 g of glycerol are then
/// in 550 g, and the 50 g of herb behind them.
#[test]
fn what_is_missing_of_a_stated_yield_boiled_off_and_the_rest_is_the_stronger() {
    let down = evaluated(&decoction("900 g", "100 g", Some("500 g")));
    assert_eq!(down.boiled_off.as_ref().unwrap().value(), Some(dec("450")));
    assert_eq!(down.product.value(), Some(dec("500")));
    assert!(near(share_of(&down, "glycerol"), dec("100") / dec("550"), "0.000000001"));
    assert!(near(per_gram(&down), dec("50000") / dec("550"), "0.000001"));
    assert!(near(down.water.known().unwrap(), dec("450") / dec("550"), "0.000000001"));
    let sentence = down.boiled_off.unwrap().sentence();
    assert_eq!(sentence, "1000 g put in less 500 g made and 50 g held in the marc: 450 g");
    // Without a yield, and with all of it, nothing boiled off.
    for plain in [None, Some("950 g"), Some("1000 g")] {
        let plain = evaluated(&decoction("900 g", "100 g", plain));
        assert!(plain.boiled_off.is_none());
        assert!(near(share_of(&plain, "glycerol"), dec("0.1"), "0.000000001"));
    }
    // Drug to product is reckoned by the product already.
    let mut by_product = decoction("900 g", "100 g", Some("500 g"));
    by_product.extract_basis = ExtractBasis::Product;
    assert_eq!(per_gram(&evaluated(&by_product)), dec("100"));
    // An infusion is not boiled down: what is missing was lost as it was.
    let mut infusion = decoction("900 g", "100 g", Some("500 g"));
    infusion.preparation = Preparation::Infusion;
    assert!(near(share_of(&evaluated(&infusion), "glycerol"), dec("0.1"), "0.000000001"));
}

#[test]
fn no_more_boils_off_than_can_and_a_recorded_yield_is_kept() {
    let stated = decoction("600 g", "400 g", Some("300 g"));
    let problems = evaluate(&stated).unwrap_err();
    let ProblemKind::YieldBelowRest { stated: wrong, least } = &problems[0].kind else {
        panic!("{problems:?}")
    };
    assert_eq!((*wrong, *least), (dec("300"), dec("350")));
    assert_eq!(problems[0].at.pointer(), "/yield");
    assert!(problems[0].to_string().contains("350 g cannot evaporate"), "{}", problems[0]);
    let mut recorded = stated;
    recorded.yields = Some(galenics::Yield::measured(galenics::Mass::grams(dec("300")).unwrap()));
    assert_eq!(evaluated(&recorded).product.value(), Some(dec("300")));
}

/// The finished liquid is water, of which a litre weighs 998.2 g at 20 °C however much of it boiled off.
#[test]
fn a_yield_by_volume_is_weighed_by_the_density_of_what_is_left() {
    let mut water = material("purified water", MaterialKind::Water);
    water.density = Some(Sourced::new(
        galenics::Density::new(dec("0.9982067"), galenics::Temperature::TWENTY).unwrap(),
        Source::fixed("CIPM formula of 2001", Status::Verified),
    ));
    let of = |lines| {
        let mut made = formula("decoction", Preparation::Decoction, lines);
        made.yields = Some(galenics::Yield::parse("500 mL").unwrap());
        evaluated(&made)
    };
    let herb = || line("oak bark", MaterialKind::Herb, "20 g");
    let plain = of(vec![herb(), line_of(water.clone(), "1000 g")]);
    assert!(near(plain.product.known().unwrap(), dec("499.10335"), "0.0001"));
    assert!(near(plain.volume.known().unwrap(), dec("500"), "0.0001"));
    // With glycerol of 1.2612 g/mL it is heavier.
    let mut glycerol = material("glycerol", MaterialKind::Humectant);
    glycerol.density = Some(Sourced::new(
        galenics::Density::new(dec("1.2612"), galenics::Temperature::TWENTY).unwrap(),
        Source::fixed("VDI data set", Status::Verified),
    ));
    let heavy = of(vec![herb(), line_of(glycerol, "100 g"), line_of(water, "1000 g")]);
    let (mass, density) = (heavy.product.known().unwrap(), heavy.density.known().unwrap());
    assert!(near(mass, density * dec("500"), "0.0001"), "{mass} {density}");
    // Volumes of what is left added up: glycerol and water by their shares.
    let share = share_of(&heavy, "glycerol");
    let by_parts = Decimal::ONE / (share / dec("1.2612") + (Decimal::ONE - share) / dec("0.9982067"));
    assert!(near(density, by_parts, "0.000001"), "{density} {by_parts}");
}

/// Nobody knows how much of the spirit boiled off, neither in the decoction nor in what it goes into.
#[test]
fn spirit_in_a_decoction_that_was_boiled_down_is_not_shown_to_remain() {
    let mut spirit = material("spirit", MaterialKind::Ethanol);
    spirit.ethanol_by_volume =
        Some(Sourced::new(Fraction::percent(dec("96")).unwrap(), Source::fixed("label", Status::Entered)));
    let mut inner = formula(
        "decoction",
        Preparation::Decoction,
        vec![
            line("oak bark", MaterialKind::Herb, "50 g"),
            line("purified water", MaterialKind::Water, "600 g"),
            line_of(spirit, "400 g"),
        ],
    );
    inner.yields = Some(galenics::Yield::parse("400 g").unwrap());
    let down = evaluated(&inner);
    assert_eq!(alcohol_content(&down).shown_to_remain.value(), Some(Decimal::ZERO));
    let outer = formula(
        "lotion",
        Preparation::Lotion,
        vec![nested(&std::sync::Arc::new(inner), "90 g"), line("glycerol", MaterialKind::Humectant, "10 g")],
    );
    let outer = evaluated(&outer);
    assert_eq!(alcohol_content(&outer).shown_to_remain.value(), Some(Decimal::ZERO));
    assert!(alcohol_content(&outer).of_watery_part.value().is_none(), "nobody measured it");
}

#[test]
fn a_decoction_is_kept_with_what_boiled_off() {
    let made = decoction("900 g", "100 g", Some("500 g"));
    let evaluation = evaluated(&made);
    let text = KeptEvaluation::of(&made, &evaluation).unwrap().to_json().unwrap();
    let restored = KeptEvaluation::from_json(&text).unwrap().restore(&made).unwrap();
    assert_eq!(restored.boiled_off.unwrap().sentence(), evaluation.boiled_off.unwrap().sentence());
    assert_eq!(share_of(&evaluated(&made), "glycerol"), restored.composition[0].share.known().unwrap());
}

proptest! {
    /// What cannot evaporate is all there, in the liquid and the marc, and the stronger the less is left.
    #[test]
    fn boiling_down_conserves_what_stays_and_only_strengthens(
        glycerol in 1_u32..400, water in 200_u32..2000, yields in 60_u32..2000, less in 1_u32..50,
    ) {
        let of = |yields: u32| {
            let made = decoction(&format!("{water} g"), &format!("{glycerol} g"), Some(&format!("{yields} g")));
            evaluate(&made).ok()
        };
        let Some(more) = of(yields) else { return Ok(()) };
        let left = Decimal::from((yields + 50).min(glycerol + water));
        let there = share_of(&more, "glycerol") * left;
        prop_assert!(near(there, Decimal::from(glycerol), "0.000001"), "{there}");
        let all: Decimal = more.composition.iter().filter_map(|leaf| leaf.share.value()).sum();
        prop_assert!(near(all, Decimal::ONE, "0.000000001"), "{all}");
        prop_assert!(more.composition.iter().all(|leaf| leaf.share.value().unwrap() <= Decimal::ONE));
        if let Some(stronger) = of(yields.saturating_sub(less)) {
            prop_assert!(share_of(&stronger, "glycerol") >= share_of(&more, "glycerol") - dec("0.000000000001"));
            prop_assert!(per_gram(&stronger) >= per_gram(&more) - dec("0.000000001"));
        }
        // Never more herb in it than went in.
        prop_assert!(per_gram(&more) * Decimal::from(yields) <= dec("50000.000001"));
    }
}

/// Spirit of 96 % and water with their densities, by volume or mass, boiled down to a volume.
fn spirit_decoction(lines: &[(&str, &str)], yields: &str) -> Formula {
    let of = |(name, amount): &(&str, &str)| {
        let (kind, density) = match *name {
            "spirit" => (MaterialKind::Ethanol, "0.80742"),
            _ => (MaterialKind::Water, "0.9982067"),
        };
        let mut made = material(name, kind);
        made.density = Some(Sourced::new(
            galenics::Density::new(dec(density), galenics::Temperature::TWENTY).unwrap(),
            Source::fixed("OIML R 22, table IV b, at 20 C", Status::Verified),
        ));
        if *name == "spirit" {
            made.ethanol_by_volume = Some(Sourced::new(
                Fraction::percent(dec("96")).unwrap(),
                Source::fixed("label", Status::Entered),
            ));
        }
        line_of(made, amount)
    };
    let mut all = vec![line("oak bark", MaterialKind::Herb, "50 g")];
    all.extend(lines.iter().map(of));
    let mut made = formula("decoction", Preparation::Decoction, all);
    made.yields = Some(galenics::Yield::parse(yields).unwrap());
    made
}

/// Nobody knows whether water or spirit left, so that nobody knows what the volume weighs. 400 mL of spirit of 96 % are
/// 322.97 g and 600 mL of water 598.92 g, together 921.89 g; 300 mL of anything between spirit and water weigh at least
/// 236.8 g, and with what 50 g of herb keep at most 635.1 g are gone.
#[test]
fn a_spirit_decoction_measured_by_volume_has_no_known_mass_and_its_shares_count_at_their_most() {
    let lines = [("spirit", "400 mL"), ("purified water", "600 mL")];
    let down = evaluated(&spirit_decoction(&lines, "300 mL"));
    assert!(down.product.value().is_none() && down.density.value().is_none());
    assert!(down.boiled_off.as_ref().unwrap().value().is_none());
    assert!(down.herbs[0].per_gram.value().is_none());
    assert_eq!(down.volume.value(), Some(dec("300")));
    assert_eq!(alcohol_content(&down).shown_to_remain.value(), Some(Decimal::ZERO));
    assert!(alcohol_content(&down).by_volume.value().is_none(), "nobody measured it");
    let all: Decimal = down.composition.iter().filter_map(|leaf| leaf.share.value()).sum();
    assert!(near(all, Decimal::ONE, "0.000000001"), "{all}");

    // A salt of 5 g cannot leave. It is in at least 286.8 g, the finished liquid and what the marc keeps.
    let salted = |yields: &str| {
        let mut made = spirit_decoction(&lines, yields);
        made.phases[0].lines.push(line("salt", MaterialKind::Preservative, "5 g"));
        share_of(&evaluated(&made), "salt")
    };
    assert!(near(salted("300 mL"), dec("5") / dec("286.772"), "0.00001"), "{}", salted("300 mL"));
    // Weighed, it is what it is.
    assert!(near(salted("300 g"), dec("5") / dec("350"), "0.000001"));
    assert!(salted("300 mL") > salted("300 g"));

    // A measured density weighs it, and where all of it is there nothing left.
    let mut weighed = spirit_decoction(&lines, "300 mL");
    weighed.density =
        Some(Sourced::entered(galenics::Density::new(dec("0.98"), galenics::Temperature::TWENTY).unwrap()));
    assert_eq!(evaluated(&weighed).product.value(), Some(dec("294")));
    let whole = evaluated(&spirit_decoction(&lines, "950 mL"));
    assert!(whole.boiled_off.is_none() && whole.product.value().is_some());
}

/// Drops of spirit in a decoction that boils down to less than the spirit can hold: all that can leave is gone.
#[test]
fn no_more_than_all_that_can_leave_is_taken_as_gone() {
    let mut made = spirit_decoction(&[("spirit", "20 mL"), ("purified water", "500 mL")], "40 mL");
    made.phases[0].lines.push(line("salt", MaterialKind::Preservative, "90 g"));
    let down = evaluated(&made);
    assert!(down.product.value().is_none());
    assert!(near(share_of(&down, "salt"), Decimal::ONE, "0.000000001"), "{}", share_of(&down, "salt"));
}
