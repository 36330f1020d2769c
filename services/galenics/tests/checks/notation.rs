//! The notation of the trade: what it means, how a reading is shown, and what is refused with which cure.

use galenics::{
    Amount, AmountKind, Basis, Decimal, Formula, Fraction, HerbState, Line, Mass, MaterialFacts,
    MaterialKind, Preparation, Source, Sourced, Status, Volume, Yield,
    alcohol::{Stream, mix},
    extraction::{Poured, menstruum_for_fresh},
    read_as,
    strength::{Portion, alligate_many, mean_strength},
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::support::{dec, density, evaluated, file, formula, line, line_of, material, near, refused};

#[derive(Deserialize)]
struct Published {
    strength: Vec<StrengthRow>,
    ratio: Vec<RatioRow>,
}

#[derive(Deserialize)]
struct StrengthRow {
    text: String,
    percent: String,
    basis: String,
    source: String,
    status: String,
}

#[derive(Deserialize)]
struct RatioRow {
    text: String,
    kind: String,
    menstruum: String,
    density: String,
    herb: String,
    reading: String,
    source: String,
    status: String,
}

fn published() -> Published {
    file("galenics-notation.toml")
}

fn herb(amount: &str) -> Line {
    let mut facts = material("calendula flower", MaterialKind::Herb);
    facts.herb = Some(HerbState::Dried);
    line_of(facts, amount)
}

fn poured(kind: MaterialKind, g_per_ml: &str, amount: &str) -> Line {
    line_of(material("menstruum", kind).with_density(density(g_per_ml, "20", "test")), amount)
}

fn spirit(name: &str, percent: &str, g_per_ml: &str, amount: &str) -> Line {
    let mut facts = material(name, MaterialKind::Ethanol).with_density(density(g_per_ml, "20", "test"));
    let strength = Fraction::percent(dec(percent)).unwrap();
    facts.ethanol_by_volume = Some(Sourced::new(strength, Source::fixed("test", Status::Entered)));
    line_of(facts, amount)
}

fn water(amount: &str) -> Line {
    let facts: MaterialFacts = material("water", MaterialKind::Water);
    line_of(facts.with_density(density("0.9982", "20", "test")), amount)
}

/// The mass of the first line, and how it was read.
fn first(of: &Formula) -> (Decimal, Option<String>) {
    let whole = evaluated(of);
    let figures = &whole.phases[0].lines[0];
    let reading = read_as(of, &of.phases[0].lines[0], figures).map(|text| text.to_string());
    (figures.mass.value().unwrap(), reading)
}

#[test]
fn strengths_are_read_on_the_basis_that_their_units_say() {
    for row in published().strength {
        assert_ne!(row.status, "from memory", "{}", row.source);
        let (fraction, basis) = match Amount::parse(&row.text).unwrap().kind() {
            AmountKind::Percent { fraction, basis } => (*fraction, *basis),
            AmountKind::Ratio { part, whole, basis } => (part / whole, *basis),
            other => panic!("{}: {other:?}", row.text),
        };
        assert_eq!(fraction * Decimal::ONE_HUNDRED, dec(&row.percent), "{} ({})", row.text, row.source);
        assert_eq!(basis.as_str(), row.basis, "{}", row.text);
    }
}

#[test]
fn a_ratio_of_herb_to_menstruum_is_read_as_published_and_the_reading_is_shown() {
    for row in published().ratio {
        assert_ne!(row.status, "from memory", "{}", row.source);
        let preparation: Preparation = row.kind.parse().unwrap();
        let kind = match preparation {
            Preparation::InfusedOil => MaterialKind::FixedOil,
            Preparation::Tincture => MaterialKind::Ethanol,
            _ => MaterialKind::Water,
        };
        let of = formula(
            "extract",
            preparation,
            vec![herb(&row.text), poured(kind, &row.density, &row.menstruum)],
        );
        let (grams, reading) = first(&of);
        assert_eq!(grams, dec(&row.herb), "{} ({})", row.text, row.source);
        assert_eq!(reading.as_deref(), Some(row.reading.as_str()));
    }
}

#[test]
fn the_menstruum_may_be_written_in_any_way_and_is_the_sum_of_what_is_poured() {
    let tincture = |lines| formula("tincture", Preparation::Tincture, lines);
    // 50 mL of spirit and 50 of water are poured; mixed they fill less and so come to 49.5 %, not to 48.
    let two =
        tincture(vec![herb("1:5 in 50 %"), spirit("ethanol 96 %", "96", "0.8074", "50 mL"), water("50 mL")]);
    assert_eq!(first(&two).0, dec("20"));
    let made_up = tincture(vec![herb("1:4"), spirit("ethanol 40 %", "40", "0.948", "q.s. 200 mL")]);
    assert!(near(first(&made_up).0, dec("50"), "0.000000000000001"));
    let parts =
        tincture(vec![herb("1:5 w/w"), water("3 parts"), poured(MaterialKind::Humectant, "1.26", "7 parts")]);
    let whole = evaluated(&parts);
    assert_eq!(whole.phases[0].lines[0].mass.value().unwrap() * dec("5"), whole.product.value().unwrap());
    // Preservatives and other small things are not poured on the herb.
    let kept = tincture(vec![
        herb("1:2 w/w"),
        poured(MaterialKind::Humectant, "1.26", "100 g"),
        line("vitamin E", MaterialKind::Antioxidant, "50 g"),
    ]);
    assert_eq!(first(&kept).0, dec("50"));
    // A density that nobody has makes the herb unknown, never a guess.
    let unknown = evaluated(&tincture(vec![herb("1:5"), line("wine", MaterialKind::WateryBase, "100 g")]));
    assert!(unknown.phases[0].lines[0].mass.value().is_none());
    assert!(unknown.unknown.iter().any(|missing| missing.to_string().contains("density of wine")));
}

#[test]
fn a_fresh_herb_is_written_so_and_its_water_joins_the_menstruum() {
    let mut facts = material("fresh calendula", MaterialKind::Herb);
    let share = |percent: &str| {
        Some(Sourced::new(Fraction::percent(dec(percent)).unwrap(), Source::fixed("test", Status::Entered)))
    };
    facts.herb = Some(HerbState::Fresh { water: share("80"), dried_water: share("10") });
    let of = formula(
        "tincture",
        Preparation::Tincture,
        vec![line_of(facts, "1:2 fresh in 95 %"), spirit("ethanol 95 %", "95", "0.811", "200 mL")],
    );
    let (grams, reading) = first(&of);
    assert_eq!(grams, dec("100"));
    assert_eq!(reading.unwrap(), "1:2 fresh in 95 % is read as 100 g to 200 mL (w/v)");
    assert_eq!(evaluated(&of).product.value(), Some(dec("162.2") + dec("80")));
}

#[test]
fn a_drug_to_extract_ratio_is_named_as_such_and_goes_by_the_yield() {
    let of = formula("extract", Preparation::Tincture, vec![herb("DER 4:1"), water("2000 mL")])
        .with_yield(Yield::parse("250 g").unwrap());
    let (grams, reading) = first(&of);
    assert_eq!(grams, dec("1000"));
    assert_eq!(reading.unwrap(), "DER 4:1 is read as 1000 g to 250 g of extract (drug to extract, w/w)");
    let fluid =
        formula("fluid extract", Preparation::Tincture, vec![herb("1:1 drug to extract"), water("900 mL")])
            .with_yield(Yield::parse("500 mL").unwrap());
    let (grams, reading) = first(&fluid);
    assert_eq!(grams, dec("500"));
    assert!(reading.unwrap().ends_with("500 g to 500 mL of extract (drug to extract, w/v)"));
}

#[test]
fn ratios_that_contradict_their_formula_are_refused_with_the_cure() {
    let tincture = |lines| formula("tincture", Preparation::Tincture, lines);
    let in_spirit =
        |amount: &str| tincture(vec![herb(amount), spirit("ethanol 60 %", "60", "0.909", "500 mL")]);
    for (of, code, cure) in [
        (in_spirit("1:5 in 45 %"), "ratio_in_other_strength", "60 % by volume"),
        (in_spirit("1:5 in oil"), "ratio_in_other_menstruum", "names an oil"),
        (in_spirit("1:5 fresh in 60 %"), "ratio_of_other_state", "calendula flower"),
        (in_spirit("1:5 v/v"), "ratio_by_volume", "w/v"),
        (tincture(vec![herb("1:5 in 45 %"), water("500 mL")]), "ratio_in_other_menstruum", "a spirit"),
        (tincture(vec![herb("DER 4:1"), water("2 L")]), "ratio_to_what", "state the yield"),
        (
            formula("oil", Preparation::Salve, vec![herb("1:10 in oil"), water("1 g")]),
            "ratio_of_what",
            "such as a tincture",
        ),
        (
            tincture(vec![herb("1:5"), water("50 %"), spirit("spirit", "96", "0.807", "100 g")]),
            "ratio_beside_shares",
            "Give each line",
        ),
    ] {
        let problems = refused(&of);
        assert_eq!((problems[0].0.as_str(), problems[0].1), ("/phases/0/lines/0/amount", code));
        assert!(problems[0].2.contains(cure), "{}", problems[0].2);
    }
    for (text, code, cure) in [
        ("4:1 in 45 %", "drug_to_extract", "DER 4:1"),
        ("1:5 in", "not_a_herb_ratio", "1:5 in 45 %"),
        ("1:5 thick fresh", "unknown_basis", "w/v"),
        ("1:5 fresh thick", "not_a_herb_ratio", "1:2 fresh in 95 %"),
        ("1:5 thick in oil", "not_a_herb_ratio", "1:10 in oil"),
        ("1:5 in 101 %", "past_hundred_percent", "100 %"),
        ("0:5 in oil", "not_a_herb_ratio", "1:10 in oil"),
        ("5 mg/", "not_a_concentration", "1 mg/5 mL"),
        ("5 mL/g", "not_a_concentration", "5 mg/g"),
        ("2 g/g", "past_hundred_percent", "200 %"),
        ("q.s. pH 15", "not_a_ph", "q.s. pH 4.5-5.0"),
        ("a pinch", "by_feel", "such as 0.3 g"),
    ] {
        let refused = Amount::parse(text).expect_err(text);
        assert_eq!(refused.code(), code, "{text}: {refused}");
        assert!(refused.to_string().contains(cure), "{text}: {refused}");
    }
}

#[test]
fn parts_by_volume_become_masses_by_density_and_fill_the_yield() {
    let oil = |amount: &str| poured(MaterialKind::FixedOil, "0.9", amount);
    let honey = |amount: &str| poured(MaterialKind::Sugar, "1.4", amount);
    let of = formula("linctus", Preparation::Syrup, vec![oil("1 part by volume"), honey("3 parts v/v")])
        .with_yield(Yield::parse("400 mL").unwrap());
    let masses: Vec<_> =
        evaluated(&of).phases[0].lines.iter().map(|line| line.mass.value().unwrap()).collect();
    assert_eq!(masses, [dec("90"), dec("420")]);
    let by_mass = formula("linctus", Preparation::Syrup, vec![oil("1 part by volume"), honey("3 parts v/v")])
        .with_yield(Yield::parse("1020 g").unwrap());
    assert_eq!(evaluated(&by_mass).product.value(), Some(dec("1020")));
    let mixed = formula("linctus", Preparation::Syrup, vec![oil("1 part by volume"), honey("3 parts")]);
    assert_eq!(refused(&mixed)[0].1, "volume_parts_mixed");
}

#[test]
fn what_brings_the_whole_to_a_ph_is_unknown_by_itself_and_disturbs_nothing_else() {
    let lotion = |amount: &str| {
        formula(
            "lotion",
            Preparation::Lotion,
            vec![
                water("q.s. 100 g"),
                line("glycerol", MaterialKind::Humectant, "5 g"),
                line("lactic acid", MaterialKind::Acid, amount),
            ],
        )
    };
    let of = lotion("q.s. pH 4.5-5.0");
    let whole = evaluated(&of);
    let acid = &whole.phases[0].lines[2];
    assert!(acid.mass.unknown().unwrap().to_string().contains("amount of lactic acid to reach pH 4.5-5.0"));
    assert_eq!(whole.phases[0].lines[0].mass.value(), Some(dec("95")));
    assert_eq!(whole.product.value(), Some(dec("100")));
    let share = |name: &str| {
        whole.composition.iter().find(|leaf| leaf.material.name.as_str() == name).unwrap().share.value()
    };
    assert_eq!((share("glycerol"), share("lactic acid")), (Some(dec("0.05")), None));
    assert!(!whole.unknown.is_empty());
    assert!(matches!(Amount::parse("q.s. pH").unwrap().kind(), AmountKind::ToPh(None)));
}

proptest! {
    /// What is printed parses back to the same, and whatever was typed stays.
    #[test]
    fn a_ratio_is_kept_as_typed_and_reads_back(herb in 1_u32..20, more in 0_u32..50, medium in 0_usize..6) {
        let end = ["", " in oil", " in 45 %", " w/w in vinegar", " fresh in 95 %", " w/v"][medium];
        let text = format!("{herb}:{}{end}", herb + more);
        let amount = Amount::parse(&text).unwrap();
        prop_assert_eq!(amount.text(), text.as_str());
        let json = serde_json::to_string(&amount).unwrap();
        prop_assert_eq!(serde_json::from_str::<Amount>(&json).unwrap(), amount);
    }

    /// The herb is the menstruum by the ratio, and twice the menstruum takes twice the herb.
    #[test]
    fn the_herb_goes_with_the_menstruum(to in 1_u32..50, ml in 1_u32..100_000) {
        let of = |ml: u32| {
            let lines = vec![herb(&format!("1:{to}")), poured(MaterialKind::Ethanol, "0.94", &format!("{ml} mL"))];
            first(&formula("tincture", Preparation::Tincture, lines)).0
        };
        prop_assert!(near(of(ml) * Decimal::from(to), Decimal::from(ml), "0.000000000000001"));
        prop_assert!(near(of(2 * ml), of(ml) * Decimal::TWO, "0.000000000000001"));
    }

    #[test]
    fn no_text_makes_an_amount_panic(text in "(1:5|q\\.s\\. ?|DER |pH |in |%|/|mg|mL| |[0-9.:a-zA-Z()µ½-]){0,12}") {
        let _ = Amount::parse(&text);
        let _ = galenics::TargetPh::parse(&text);
    }

    /// Whatever is mixed in these shares has the strength wanted, and nothing of a strength takes a negative part.
    #[test]
    fn several_strengths_make_the_one_wanted(strengths in prop::collection::vec(0_u32..=100, 2..8), wanted in 0_u32..=100) {
        let percent = |value: u32| Fraction::percent(Decimal::from(value)).unwrap();
        let strengths: Vec<Fraction> = strengths.into_iter().map(percent).collect();
        let Ok(found) = alligate_many(&strengths, percent(wanted)) else {
            let between = strengths.iter().any(|of| *of > percent(wanted)) && strengths.iter().any(|of| *of < percent(wanted));
            prop_assert!(!between || strengths.contains(&percent(wanted)));
            return Ok(());
        };
        let portions: Vec<Portion> = found.iter().zip(&strengths)
            .map(|(of, strength)| Portion { amount: of.share.value().unwrap(), strength: *strength }).collect();
        prop_assert!(portions.iter().all(|portion| portion.amount > Decimal::ZERO));
        let mean = mean_strength(&portions).unwrap().value().unwrap();
        prop_assert!(near(mean, percent(wanted).get(), "0.00000000000000000000001"));
    }

    /// What is poured on a fresh herb, by volume as by mass, comes to the strength wanted with the juice.
    #[test]
    fn a_measured_menstruum_comes_to_the_strength_wanted(herb in 1_u32..200, ml in 200_u32..2000, wanted in 20_u32..60) {
        let percent = |value: u32| Fraction::percent(Decimal::from(value)).unwrap();
        let herb = Mass::grams(Decimal::from(herb)).unwrap();
        let volume = Volume::millilitres(Decimal::from(ml)).unwrap();
        let Ok(found) = menstruum_for_fresh(herb, percent(80), Poured::Measured(volume), percent(wanted), percent(96)) else {
            return Ok(());
        };
        let juice = Mass::grams(found.juice.value().unwrap()).unwrap();
        let strength = Fraction::new(found.strength.value().unwrap()).unwrap();
        let mixed = mix(&[
            Stream::ByVolume { volume, strength },
            Stream::ByMass { mass: juice, strength: Fraction::ZERO },
        ]).unwrap();
        prop_assert!(near(mixed.by_volume.value().unwrap(), percent(wanted).get(), "0.000001"));
        let weighed = Poured::Weighed(Mass::grams(found.mass.value().unwrap()).unwrap());
        let again = menstruum_for_fresh(herb, percent(80), weighed, percent(wanted), percent(96)).unwrap();
        prop_assert!(near(again.strength.value().unwrap(), strength.get(), "0.000001"));
        prop_assert!(near(again.volume.value().unwrap(), Decimal::from(ml), "0.0001"));
    }

    #[test]
    fn a_concentration_is_its_units_divided(mg in 1_u32..5000, ml in 1_u32..1000) {
        let amount = Amount::parse(&format!("{mg} mg/{ml} mL")).unwrap();
        let expected = Decimal::from(mg) / Decimal::ONE_THOUSAND / Decimal::from(ml);
        match amount.kind() {
            AmountKind::Percent { fraction, basis } => {
                prop_assert_eq!(*basis, Basis::MassInVolume);
                prop_assert!(near(*fraction, expected, "0.000000000000000000000001"));
            }
            other => prop_assert!(false, "{:?}", other),
        }
    }
}
