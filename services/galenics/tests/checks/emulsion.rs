//! Required HLB, blends, soap formed in place, and what the report says of real creams.

use galenics::{
    Fraction, Mass, MaterialKind, Preparation, Reason, Source, Sourced, Status, Temperature,
    emulsion::{
        Alkali, EmulsifierHlb, EmulsionFacts, EmulsionProfile, EmulsionType, NotApplicable, OilHlb, Remark,
        blend, emulsifier_hlb, emulsion_of, hlb_by_composition, hlb_by_mass, hlb_by_saponification, report,
        required_hlb, soap_formed,
    },
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::support::{dec, evaluated, file, formula, line, near};

#[derive(Deserialize)]
struct Published {
    oil: Vec<Oil>,
    phase: Vec<Phase>,
    blend: Vec<BlendRow>,
    out_of_reach: Vec<OutOfReach>,
}
#[derive(Deserialize)]
struct Oil {
    name: String,
    required: String,
}
#[derive(Deserialize)]
struct Phase {
    name: String,
    amounts: Vec<String>,
    printed: String,
    exact: String,
    source: String,
}
#[derive(Deserialize)]
struct BlendRow {
    pair: [String; 2],
    rows: Vec<[String; 2]>,
    source: String,
}
#[derive(Deserialize)]
struct OutOfReach {
    pair: [String; 2],
    target: String,
}

fn sourced(value: &str) -> Sourced<galenics::Decimal> {
    Sourced::new(dec(value), Source::fixed("the row of the table", Status::Verified))
}

fn oil(name: &str, amount: &str, required: Option<&str>) -> OilHlb {
    OilHlb { name: name.to_owned().into(), amount: dec(amount), required: required.map(sourced) }
}

fn emulsifier(amount: &str, hlb: Option<Result<&str, NotApplicable>>) -> EmulsifierHlb {
    let hlb = hlb.map(|hlb| hlb.map(sourced));
    EmulsifierHlb { name: "the emulsifier".into(), amount: dec(amount), hlb }
}

fn grams(value: &str) -> Mass {
    Mass::grams(dec(value)).unwrap()
}

#[test]
fn required_hlb_meets_its_published_formulas() {
    let published: Published = file("galenics-emulsion.toml");
    for phase in published.phase {
        let oils: Vec<_> = published
            .oil
            .iter()
            .zip(&phase.amounts)
            .map(|(of, amount)| oil(&of.name, amount, Some(&of.required)))
            .collect();
        let answer = required_hlb(&oils).unwrap();
        let hlb = answer.hlb.value().unwrap();
        assert!(near(hlb, dec(&phase.printed), "0.005"), "{}: {hlb} ({})", phase.name, phase.source);
        assert!(near(hlb, dec(&phase.exact), "0.00005"), "{}: {hlb}", phase.name);
        assert_eq!(answer.known_share.value(), Some(dec("1")));
    }
}

#[test]
fn blends_meet_their_published_table() {
    let published: Published = file("galenics-emulsion.toml");
    for row in published.blend {
        for [target, high] in &row.rows {
            let made = blend(dec(&row.pair[0]), dec(&row.pair[1]), dec(target)).unwrap();
            let percent = made.high.value().unwrap() * dec("100");
            assert!(near(percent, dec(high), "0.05"), "{target}: {percent} against {high} by {}", row.source);
            assert_eq!(made.high.value().unwrap() + made.low.value().unwrap(), dec("1"));
        }
    }
    for row in published.out_of_reach {
        let refused = blend(dec(&row.pair[0]), dec(&row.pair[1]), dec(&row.target)).unwrap_err();
        assert_eq!((refused.field, refused.reason), ("target", Reason::Impossible));
        assert!(refused.says.contains("reaches HLB 8.6 to 16.7"), "{refused}");
    }
}

#[test]
fn equal_emulsifiers_and_absurd_hlb_are_refused_but_forty_is_not() {
    assert_eq!(blend(dec("8"), dec("8"), dec("8")).unwrap_err().field, "other");
    assert!(blend(dec("40"), dec("4.3"), dec("12")).is_ok(), "sodium lauryl sulfate has 40");
    assert_eq!(blend(dec("57"), dec("4.3"), dec("12")).unwrap_err().field, "one");
    // A page that reports a required HLB of 57 divided by the wrong total.
    assert_eq!(required_hlb(&[oil("wax", "10", Some("57"))]).unwrap_err().field, "oils");
    assert!(emulsifier_hlb(&[emulsifier("1", Some(Ok("40")))]).is_ok());
    assert!(required_hlb(&[]).is_err());
    assert!(required_hlb(&[oil("wax", "-1", Some("12"))]).is_err());
}

#[test]
fn an_oil_without_a_value_makes_the_answer_unknown_with_the_share_that_is_known() {
    let answer = required_hlb(&[oil("olive oil", "75", Some("7")), oil("tamanu oil", "25", None)]).unwrap();
    assert_eq!(answer.hlb.sentence(), "unknown: required HLB of tamanu oil");
    assert_eq!(answer.known_share.value(), Some(dec("0.75")));
}

#[test]
fn hlb_does_not_apply_to_emulsifying_wax_and_soap() {
    for why in NotApplicable::ALL {
        let answer =
            emulsifier_hlb(&[emulsifier("1", Some(Ok("15"))), emulsifier("5", Some(Err(*why)))]).unwrap();
        assert_eq!(answer.hlb.answer().unwrap().as_str(), "HLB does not apply");
        assert!(answer.hlb.sentence().contains(why.as_str()), "{}", answer.hlb.sentence());
    }
}

#[test]
fn griffins_formulas_hold() {
    // Glyceryl monostearate: S 161, A 198 give 3.737, usually printed 3.8.
    let monostearate = hlb_by_saponification(dec("161"), dec("198")).unwrap().value().unwrap();
    assert!(near(monostearate, dec("3.737"), "0.0005"), "{monostearate}");
    assert_eq!(hlb_by_mass(dec("50"), dec("100")).unwrap().value(), Some(dec("10")));
    let all_oxyethylene = hlb_by_composition(Fraction::percent(dec("75")).unwrap(), Fraction::ZERO).unwrap();
    assert_eq!(all_oxyethylene.value(), Some(dec("15")), "E/5");
    assert_eq!(hlb_by_saponification(dec("200"), dec("198")).unwrap_err().field, "saponification");
    assert_eq!(hlb_by_mass(dec("2"), dec("1")).unwrap_err().field, "hydrophilic");
    assert!(hlb_by_composition(Fraction::ONE, Fraction::ONE).is_err());
    assert!(hlb_by_mass(dec("0"), dec("0")).is_err());
}

#[test]
fn borax_neutralises_a_part_of_the_wax_of_the_official_ointment() {
    // 120 g of white wax, acid value 17 to 24 (Ph. Eur.), and 5 g of borax.
    let soap = |value: &str| soap_formed(grams("120"), &sourced(value), Alkali::Borax, grams("5")).unwrap();
    let (least, most) = (soap("24").neutralised.value().unwrap(), soap("17").neutralised.value().unwrap());
    // 5 g are 26.2 mmol of alkali; the wax holds 36.4 to 51.3 mmol of acid.
    assert!(near(least, dec("0.511"), "0.001") && near(most, dec("0.721"), "0.001"), "{least} {most}");
    assert_eq!(soap("17").left_over.value(), Some(dec("0")));
    let much = soap_formed(grams("10"), &sourced("20"), Alkali::SodiumHydroxide, grams("5")).unwrap();
    assert_eq!(much.neutralised.value(), Some(dec("1")));
    assert!(much.left_over.value().unwrap() > dec("100"));
    let exact = much.for_all.value().unwrap();
    let again =
        soap_formed(grams("10"), &sourced("20"), Alkali::SodiumHydroxide, Mass::grams(exact).unwrap())
            .unwrap();
    assert!(near(again.neutralised.value().unwrap(), dec("1"), "0.0000000001"));
    assert_eq!(soap_formed(grams("0"), &sourced("20"), Alkali::Borax, grams("5")).unwrap_err().field, "wax");
    assert_eq!(
        soap_formed(grams("1"), &sourced("999"), Alkali::Borax, grams("5")).unwrap_err().field,
        "acid_value"
    );
}

fn remarks(facts: &EmulsionFacts) -> Vec<Remark> {
    report(facts).advice.iter().map(|advice| advice.remark).collect()
}

#[test]
fn the_report_reads_a_cream_as_a_compounder_would() {
    let celsius = |value: &str| Temperature::celsius(dec(value)).unwrap();
    let cream = EmulsionFacts {
        oil: Some(dec("0.3")),
        water: Some(dec("0.62")),
        emulsifier: Some(dec("0.08")),
        exempt: vec![NotApplicable::EmulsifyingWax],
        ..EmulsionFacts::default()
    };
    let good = report(&cream);
    assert_eq!(good.likely.emulsion, Some(EmulsionType::OilInWater));
    assert!(good.likely.figure.sentence().contains("emulsifying wax"), "{}", good.likely.figure.sentence());
    assert!(good.advice.is_empty());

    let apart = EmulsionFacts { phase_temperatures: Some((celsius("70"), celsius("50"))), ..cream.clone() };
    assert_eq!(remarks(&apart), [Remark::PhasesApart]);
    let within = EmulsionFacts { phase_temperatures: Some((celsius("70"), celsius("65"))), ..cream.clone() };
    assert!(remarks(&within).is_empty());
    let watery = EmulsionFacts { water_carried: Some(dec("7")), ..cream.clone() };
    assert_eq!(remarks(&watery), [Remark::TooMuchWater]);
    let strong =
        EmulsionFacts { alcohol: Some(dec("0.25")), electrolytes: Some(dec("0.03")), ..cream.clone() };
    assert_eq!(remarks(&strong), [Remark::AlcoholLoad, Remark::ElectrolyteLoad]);

    // The household cream: wax, oil and water and nothing else.
    let household = EmulsionFacts {
        oil: Some(dec("0.5")),
        water: Some(dec("0.5")),
        emulsifier: Some(dec("0.06")),
        beeswax: true,
        exempt: vec![NotApplicable::PlainBeeswax],
        ..EmulsionFacts::default()
    };
    assert_eq!(remarks(&household), [Remark::BeeswaxAlone]);
    assert_eq!(report(&household).likely.emulsion, Some(EmulsionType::WaterInOil));

    let soap = soap_formed(grams("120"), &sourced("20"), Alkali::Borax, grams("5")).ok();
    let with_borax = EmulsionFacts {
        soap,
        exempt: Vec::new(),
        water: Some(dec("0.19")),
        oil: Some(dec("0.8")),
        ..household.clone()
    };
    assert!(remarks(&with_borax).is_empty());
    assert_eq!(
        report(&with_borax).likely.emulsion,
        Some(EmulsionType::WaterInOil),
        "little water: the old cold cream"
    );

    let no_water = EmulsionFacts { water: Some(dec("0")), ..household };
    assert_eq!(report(&no_water).likely.figure.answer().unwrap().as_str(), "no emulsion");
    let bare = EmulsionFacts { emulsifier: Some(dec("0")), exempt: Vec::new(), ..cream };
    assert_eq!(remarks(&bare), [Remark::NoEmulsifier]);
    assert!(report(&bare).likely.figure.unknown().is_some());
}

#[test]
fn the_emulsion_of_the_official_ointment_is_read_from_its_composition() {
    let ointment = formula(
        "rose water ointment",
        Preparation::Ointment,
        vec![
            line("cetyl esters wax", MaterialKind::Wax, "125 g"),
            line("white wax", MaterialKind::Wax, "120 g"),
            line("almond oil", MaterialKind::FixedOil, "560 g"),
            line("sodium borate", MaterialKind::Alkali, "5 g"),
            line("rose water", MaterialKind::WateryBase, "190 g"),
        ],
    );
    let wax = EmulsionProfile {
        acid_value: Some(sourced("20")),
        beeswax: true,
        required_oil_in_water: Some(sourced("12")),
        ..EmulsionProfile::new("white wax")
    };
    let borax = EmulsionProfile { alkali: Some(Alkali::Borax), ..EmulsionProfile::new("sodium borate") };
    let emulsion = emulsion_of(&evaluated(&ointment), &[wax, borax], EmulsionType::OilInWater, None).unwrap();
    // As worked for 120 g of wax and 5 g of borax by themselves.
    let by_itself = soap_formed(grams("120"), &sourced("20"), Alkali::Borax, grams("5")).unwrap();
    let (here, there) =
        (emulsion.soap.unwrap().neutralised.value().unwrap(), by_itself.neutralised.value().unwrap());
    assert!(near(here, there, "0.0000000000001"), "{here} {there}");
    assert_eq!(emulsion.report.likely.emulsion, Some(EmulsionType::WaterInOil));
    assert!(emulsion.report.advice.is_empty(), "{:?}", emulsion.report.advice);
    let required = emulsion.required.unwrap();
    assert!(required.hlb.sentence().contains("required HLB of almond oil"), "{}", required.hlb.sentence());
    assert!(near(required.known_share.value().unwrap(), dec("120") / dec("805"), "0.0000000001"));
    assert!(emulsion.emulsifiers.is_none());
}

#[test]
fn a_cream_on_two_emulsifiers_is_read_from_its_composition() {
    let cream = formula(
        "cream",
        Preparation::Cream,
        vec![
            line("liquid paraffin", MaterialKind::Hydrocarbon, "30 %"),
            line("polysorbate 80", MaterialKind::Emulsifier, "3.6 %"),
            line("sorbitan oleate", MaterialKind::Emulsifier, "1.4 %"),
            line("salt", MaterialKind::Salt, "3 %"),
            line("purified water", MaterialKind::Water, "q.s."),
        ],
    );
    let profiles = [
        EmulsionProfile {
            required_oil_in_water: Some(sourced("12")),
            ..EmulsionProfile::new("liquid paraffin")
        },
        EmulsionProfile { hlb: Some(sourced("15")), ..EmulsionProfile::new("polysorbate 80") },
        EmulsionProfile { hlb: Some(sourced("4.3")), ..EmulsionProfile::new("sorbitan oleate") },
    ];
    let emulsion = emulsion_of(&evaluated(&cream), &profiles, EmulsionType::OilInWater, None).unwrap();
    // 72 to 28 of the two is the published blend for 12 (PMC3969497, Table I).
    assert!(near(emulsion.emulsifiers.unwrap().hlb.value().unwrap(), dec("12"), "0.01"));
    assert_eq!(emulsion.report.likely.emulsion, Some(EmulsionType::OilInWater));
    let remarks: Vec<_> = emulsion.report.advice.iter().map(|advice| advice.remark).collect();
    assert_eq!(remarks, [Remark::ElectrolyteLoad]);
}

proptest! {
    #[test]
    fn a_blend_has_the_hlb_that_was_asked_for(one in 0_u32..500, other in 0_u32..500, target in 0_u32..500) {
        let hlb = |tenths: u32| dec(&tenths.to_string()) / dec("10");
        if let Ok(made) = blend(hlb(one), hlb(other), hlb(target)) {
            let (high, low) = (hlb(one.max(other)), hlb(one.min(other)));
            let back = made.high.value().unwrap() * high + made.low.value().unwrap() * low;
            prop_assert!(near(back, hlb(target), "0.000000000001"));
        } else {
            prop_assert!(one == other || target > one.max(other) || target < one.min(other));
        }
    }
}

/// A wax cream of the kitchen: 20 g of beeswax, 80 g of oil, 20 g of shea butter, 80 g of water.
#[test]
fn wax_and_fat_stand_against_the_oil_and_wax_alone_is_the_emulsifier() {
    let cream = |more: Vec<galenics::Line>| {
        let mut lines = vec![
            line("beeswax", MaterialKind::Wax, "20 g"),
            line("olive oil", MaterialKind::FixedOil, "80 g"),
            line("shea butter", MaterialKind::Butter, "20 g"),
        ];
        lines.extend(more);
        evaluated(&formula("cream", Preparation::Cream, lines))
    };
    let wet = cream(vec![line("water", MaterialKind::Water, "80 g")]);
    assert_eq!(wet.wax_to_oil().unwrap().value().map(|it| it.normalize()), Some(dec("0.25")));
    assert_eq!(wet.fat_to_oil().unwrap().value().map(|it| it.normalize()), Some(dec("0.25")));
    // 20 g of wax to the 100 g of oil and fat beside it.
    assert_eq!(wet.emulsifier_to_oil.value().map(|it| it.normalize()), Some(dec("0.2")));
    assert!(
        wet.emulsifier_to_oil.sentence().contains("the wax is the only emulsifier"),
        "{}",
        wet.emulsifier_to_oil.sentence()
    );

    let dry = cream(Vec::new());
    assert_eq!(dry.emulsifier_to_oil.value(), Some(dec("0")), "without water nothing is emulsified");
    let waxed = cream(vec![
        line("water", MaterialKind::Water, "80 g"),
        line("emulsifying wax", MaterialKind::Emulsifier, "12 g"),
    ]);
    assert!(near(waxed.emulsifier_to_oil.value().unwrap(), dec("0.1"), "0.0000000001"));
    let plain =
        evaluated(&formula("oil", Preparation::Liniment, vec![line("oil", MaterialKind::FixedOil, "1 g")]));
    assert!(plain.wax_to_oil().is_none() && plain.fat_to_oil().is_none());
}
