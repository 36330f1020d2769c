//! Extraction ratios with their conventions, pressing, repeated maceration, fresh herbs and decoctions.

use galenics::{
    Fraction, Mass, Quantity, Reason, Volume,
    alcohol::{by_mass, by_volume},
    extraction::{
        Convention, ExtractRatio, Poured, decoction, dried_equivalent, dried_for_fresh, extract_for_dried,
        fresh_for_dried, macerate, menstruum_for_fresh, press_yield, pressed_ratio,
    },
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::support::{dec, file, float, near};

#[derive(Deserialize)]
struct Published {
    equivalent: Vec<Equivalent>,
    pressed: Vec<Pressed>,
    percolation: Vec<Percolation>,
}
#[derive(Deserialize)]
struct Equivalent {
    extract: String,
    ratio: String,
    convention: Convention,
    dried: String,
    source: String,
}
#[derive(Deserialize)]
struct Pressed {
    solvent: String,
    least: String,
    most: String,
    source: String,
}
#[derive(Deserialize)]
struct Percolation {
    herb: String,
    moistened: String,
    percolated: String,
}

fn grams(value: &str) -> Mass {
    Mass::grams(dec(value)).unwrap()
}

fn millilitres(value: &str) -> Volume {
    Volume::millilitres(dec(value)).unwrap()
}

fn percent(value: &str) -> Fraction {
    Fraction::percent(dec(value)).unwrap()
}

fn quantity(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

#[test]
fn dried_equivalents_meet_their_published_conventions_and_turn_back() {
    for row in file::<Published>("galenics-extraction.toml").equivalent {
        let ratio = ExtractRatio::parse(&row.ratio, Some(row.convention)).unwrap();
        let dried = dried_equivalent(&quantity(&row.extract), &ratio).unwrap();
        assert_eq!(dried.value(), Some(dec(&row.dried)), "{}", row.source);
        assert!(
            dried.sentence().contains(row.convention.as_str()),
            "the convention is named: {}",
            dried.sentence()
        );
        let back = extract_for_dried(grams(&row.dried), &ratio).unwrap();
        assert_eq!(Quantity::parse(&back.to_string()).unwrap().measure(), quantity(&row.extract).measure());
    }
}

#[test]
fn a_ratio_without_its_convention_is_refused_with_the_conventions() {
    let refused = ExtractRatio::parse("1:5", None).unwrap_err();
    assert_eq!(refused.field, "convention");
    assert!(refused.says.contains("drug to solvent, w/w") && refused.says.contains("drug to native extract"));
    for text in ["", "5", "1:0", "0:5", "one:five", "-1:5"] {
        assert_eq!(
            ExtractRatio::parse(text, Some(Convention::DrugToNativeExtract)).unwrap_err().field,
            "ratio"
        );
    }
    let by_volume = ExtractRatio::parse("1:5", Some(Convention::DrugToProductInVolume)).unwrap();
    assert_eq!(dried_equivalent(&quantity("10 g"), &by_volume).unwrap_err().field, "extract");
}

#[test]
fn pressing_meets_the_practical_ratios_and_never_carries_more_herb_than_went_in() {
    for row in file::<Published>("galenics-extraction.toml").pressed {
        for pressed in [&row.least, &row.most] {
            let made = pressed_ratio(grams("1"), grams(&row.solvent), grams(pressed)).unwrap();
            assert_eq!(made.native.value(), Some(dec(pressed)), "{}", row.source);
            assert!(made.carried.value().unwrap() < dec("1"), "{}", row.source);
        }
        // What the marc must hold back for the published range: 0.5 to 1 g and 1 to 3 g for each g of herb.
        let held = dec(&row.solvent) - dec(&row.most);
        let turn = macerate(grams("1"), held, &[grams(&row.solvent)]).unwrap();
        assert_eq!(turn.total.value(), Some(dec(&row.most)));
    }
    assert_eq!(pressed_ratio(grams("100"), grams("500"), grams("601")).unwrap_err().field, "pressed");
    assert_eq!(press_yield(grams("1000"), grams("850")).unwrap().value(), Some(dec("0.85")));
}

#[test]
fn a_percolation_in_two_portions_is_one_of_their_sum() {
    for row in file::<Published>("galenics-extraction.toml").percolation {
        let g = |text: &str| match quantity(text).measure() {
            galenics::Measure::Mass(mass) => mass.g(),
            other => panic!("{other:?}"),
        };
        let menstruum = g(&row.moistened) + g(&row.percolated);
        // 100 g of drug with 950 g of menstruum: a tincture of about 1:10.
        let ratio = menstruum / g(&row.herb);
        assert!(ratio > dec("9") && ratio < dec("10"));
        let made = pressed_ratio(grams("100"), Mass::grams(menstruum).unwrap(), grams("850")).unwrap();
        assert!(made.carried.value().unwrap() <= g(&row.herb));
    }
}

#[test]
fn a_second_turn_takes_up_part_of_what_the_marc_held() {
    // 100 g hold back 150 g. Once with 500 g: 350/500 = 70 %. Twice with 250 g: 1 - (150/250)(150/400).
    let once = macerate(grams("100"), dec("1.5"), &[grams("500")]).unwrap();
    let twice = macerate(grams("100"), dec("1.5"), &[grams("250"), grams("250")]).unwrap();
    assert_eq!(once.recovered.value(), Some(dec("0.7")));
    assert_eq!(twice.recovered.value(), Some(dec("0.775")));
    assert_eq!((once.total.value(), twice.total.value()), (Some(dec("350")), Some(dec("350"))));
    let dry = macerate(grams("100"), dec("1.5"), &[grams("150")]).unwrap_err();
    assert_eq!((dry.field, dry.reason), ("turns", Reason::Impossible));
    assert!(dry.says.contains("holds back 150 g"), "{dry}");
    assert!(macerate(grams("100"), dec("1.5"), &[]).is_err());
    assert!(macerate(grams("0"), dec("1.5"), &[grams("1")]).is_err());
    assert!(macerate(grams("1"), dec("99"), &[grams("1")]).is_err());
}

#[test]
fn fresh_and_dried_herb_are_each_others_way_back() {
    let dried = dried_for_fresh(grams("450"), percent("80"), percent("10")).unwrap();
    assert_eq!(dried.value(), Some(dec("100")));
    assert_eq!(
        fresh_for_dried(grams("100"), percent("10"), percent("80")).unwrap().value(),
        Some(dec("450"))
    );
    assert_eq!(dried_for_fresh(grams("1"), percent("100"), percent("10")).unwrap_err().field, "water");
    assert_eq!(fresh_for_dried(grams("1"), percent("10"), percent("100")).unwrap_err().field, "water");
}

#[test]
fn the_menstruum_for_a_fresh_herb_is_stronger_by_the_herbs_water() {
    let needed = menstruum_for_fresh(
        grams("100"),
        percent("80"),
        Poured::Weighed(grams("200")),
        percent("50"),
        percent("96"),
    )
    .unwrap();
    let p = by_mass(float(&needed.strength), 20.0).unwrap();
    // 200 g of it with 80 g of water are at 50 % again.
    let back = by_volume(200.0 * p / 280.0, 20.0).unwrap();
    assert!((back - 0.5).abs() < 1e-9, "{back}");
    let weak = menstruum_for_fresh(
        grams("100"),
        percent("80"),
        Poured::Weighed(grams("50")),
        percent("60"),
        percent("96"),
    )
    .unwrap_err();
    assert!(weak.says.contains("at least 99.81 g is needed"), "{weak}");
    let never = menstruum_for_fresh(
        grams("100"),
        percent("80"),
        Poured::Weighed(grams("50")),
        percent("60"),
        percent("50"),
    )
    .unwrap_err();
    assert!(never.says.contains("in any amount"), "{never}");
}

#[test]
fn a_decoction_is_made_up_through_the_marc() {
    // 50 g in 1200 mL, 200 mL boiled off, 2 mL held back for each g: 900 mL strained, 100 mL poured after.
    let made = decoction(grams("50"), millilitres("1200"), millilitres("200"), dec("2"), millilitres("1000"))
        .unwrap();
    assert_eq!(made.strained.value(), Some(dec("900")));
    assert_eq!(made.make_up.value(), Some(dec("100")));
    assert_eq!(made.herb_strained.value(), Some(dec("45")));
    assert_eq!(made.herb_at_most.value(), Some(dec("50")));
    assert_eq!(made.strength.value(), Some(dec("0.05")));
    let dry = decoction(grams("50"), millilitres("200"), millilitres("150"), dec("2"), millilitres("100"));
    assert_eq!(dry.unwrap_err().field, "water");
    let much = decoction(grams("50"), millilitres("1200"), millilitres("200"), dec("2"), millilitres("800"));
    assert!(much.unwrap_err().says.contains("already 900 mL"));
}

proptest! {
    #[test]
    fn more_turns_recover_more_and_never_more_than_the_herb(
        herb in 1_u32..10_000, held in 0_u32..2000, turns in prop::collection::vec(1_u32..100_000, 1..6),
    ) {
        let held = dec(&held.to_string()) / dec("100");
        let turns: Vec<_> = turns.iter().map(|g| grams(&g.to_string())).collect();
        let mut before = dec("0");
        for count in 1..=turns.len() {
            let Ok(made) = macerate(grams(&herb.to_string()), held, &turns[..count]) else { return Ok(()) };
            let recovered = made.recovered.value().unwrap();
            prop_assert!(recovered >= before && recovered <= dec("1"));
            before = recovered;
            // Liquid is conserved: what was put on is pressed out or held back.
            let put_on: galenics::Decimal = turns[..count].iter().map(|turn| turn.g()).sum();
            prop_assert!(near(made.total.value().unwrap() + made.retained.value().unwrap(), put_on, "0.000000001"));
        }
    }
}
