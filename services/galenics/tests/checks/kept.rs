//! Kept results: what they give back, what they refuse, and what is told of another engine.

use std::sync::Arc;

use galenics::{
    Evaluation, Formula, Fraction, Losses, Mass, MaterialKind, Preparation, Quantity, Target, Volume, Worked,
    alcohol_content::alcohol_content,
    as_made::{Outcome, Weighing, as_made},
    dose::{Application, dose},
    evaluate,
    kept::{ENGINE, FORMAT, KeptEvaluation, KeptProblem, compare},
    scale,
    tolerance::Tolerances,
};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::{
    random::formula_from,
    support::{balance, dec, density, evaluated, formula, line, line_of, material, nested},
};

fn kept(formula: &Formula) -> KeptEvaluation {
    KeptEvaluation::of(formula, &evaluated(formula)).unwrap()
}

fn stored(formula: &Formula) -> Value {
    serde_json::from_str(&kept(formula).to_json().unwrap()).unwrap()
}

fn read(stored: &Value) -> Result<KeptEvaluation, KeptProblem> {
    KeptEvaluation::from_json(&stored.to_string())
}

/// A salve on an infused oil, with a measured line and one whose density is not known.
fn salve() -> Formula {
    let mut oil = material("olive oil", MaterialKind::FixedOil);
    oil.density = Some(density("0.9145", "20", "a handbook"));
    let infused = formula(
        "infused",
        Preparation::InfusedOil,
        vec![line("calendula", MaterialKind::Herb, "100 g"), line_of(oil.clone(), "1 kg")],
    );
    formula(
        "salve",
        Preparation::Salve,
        vec![
            nested(&Arc::new(infused), "200 g"),
            line_of(oil, "4 US fl oz"),
            line("beeswax", MaterialKind::Wax, "1 oz"),
        ],
    )
}

/// The number of the figure of a line's mass.
fn mass_of(stored: &Value, line: usize) -> usize {
    usize::try_from(stored["phases"][0]["lines"][line]["mass"].as_u64().unwrap()).unwrap()
}

fn scaled(formula: &Formula, evaluation: &Evaluation, target: &Target) -> Result<Worked, String> {
    let losses = Losses::transfer(Fraction::percent(dec("4")).unwrap());
    scale(formula, evaluation, target, &losses, &balance("0.01")).map_err(|problem| problem.to_string())
}

fn targets() -> Vec<Target> {
    let quantity = |text: &str| Quantity::parse(text).unwrap();
    let by_line = |line, text: &str| Target::ByLine { phase: 0, line, quantity: quantity(text) };
    vec![
        Target::ByMass(quantity("431.7 g")),
        Target::ByVolume(quantity("2 US cups")),
        Target::Containers { count: 12, fill: quantity("30 mL") },
        by_line(0, "73 g"),
        by_line(0, "1 US fl oz"),
        by_line(1, "55 mL"),
        by_line(1, "40 drops"),
    ]
}

fn json<T: serde::Serialize>(value: &T) -> Value {
    serde_json::to_value(value).unwrap()
}

/// Everything that later work derives from an evaluation.
fn derived(formula: &Formula, evaluation: &Evaluation) -> Vec<Value> {
    let mut all = vec![json(evaluation), json(&alcohol_content(evaluation))];
    for target in targets() {
        let worked = scaled(formula, evaluation, &target);
        if let Ok(worked) = &worked {
            let weighings: Vec<_> = formula
                .lines()
                .map(|(phase, line, _)| Weighing { phase, line, weighed: Quantity::parse("12.5 g").unwrap() })
                .collect();
            let tolerance = Fraction::percent(dec("1")).unwrap();
            let tolerances = Tolerances { active: tolerance, other: tolerance };
            let made = as_made(
                formula,
                &worked.targets(),
                &weighings,
                tolerances,
                &Losses::default(),
                &Outcome::default(),
            );
            all.push(made.as_ref().map_or_else(|problem| json!(problem.to_string()), json));
        }
        all.push(worked.as_ref().map_or_else(|problem| json!(problem), json));
    }
    for at_once in [
        Application::Weighed(Mass::grams(dec("2")).unwrap()),
        Application::Measured(Volume::millilitres(dec("5")).unwrap()),
    ] {
        let dose = dose(evaluation, &[], at_once, 3);
        all.push(dose.as_ref().map_or_else(|refusal| json!(refusal.says.as_str()), json));
    }
    let less = evaluation.concentrated(Mass::grams(dec("1")).unwrap());
    all.push(less.as_ref().map_or_else(|refusal| json!(refusal.says.as_str()), json));
    all.push(json(&evaluation.measured(&density("0.97", "20", "measured"))));
    all
}

proptest! {
    #[test]
    fn a_restored_evaluation_gives_the_values_units_and_sentences_of_the_original(
        entropy in prop::collection::vec(any::<u16>(), 40..200),
    ) {
        let formula = formula_from(&entropy);
        let Ok(original) = evaluate(&formula) else { return Ok(()) };
        let text = KeptEvaluation::of(&formula, &original).unwrap().to_json().unwrap();
        let kept = KeptEvaluation::from_json(&text).unwrap();
        let restored = kept.restore(&formula).unwrap();
        prop_assert_eq!(&KeptEvaluation::of(&formula, &restored).unwrap().to_json().unwrap(), &text);
        prop_assert_eq!(compare(&kept, &KeptEvaluation::of(&formula, &restored).unwrap()), vec![]);
        let (before, after) = (derived(&formula, &original), derived(&formula, &restored));
        for (before, after) in before.iter().zip(&after) {
            prop_assert_eq!(before, after);
        }
        for (before, after) in original.composition.iter().zip(&restored.composition) {
            prop_assert_eq!(&before.material, &after.material);
        }
    }
}

#[test]
fn random_formulas_are_mostly_evaluable_and_of_every_sort() {
    let (mut sound, mut nested, mut unknown, mut marc) = (0, 0, 0, 0);
    for seed in 0_u16..400 {
        let entropy: Vec<u16> = (0_u16..120)
            .map(|at| seed.wrapping_mul(7919).wrapping_add(at.wrapping_mul(31_337)) ^ at)
            .collect();
        let formula = formula_from(&entropy);
        if let Ok(evaluation) = evaluate(&formula) {
            sound += 1;
            nested += usize::from(!evaluation.contains.iter().all(|it| it.through.is_empty()));
            unknown += usize::from(!evaluation.unknown.is_empty());
            marc += usize::from(evaluation.contains.iter().any(|it| it.left_with_marc));
        }
    }
    assert!(sound > 200 && nested > 50 && unknown > 50 && marc > 50, "{sound} {nested} {unknown} {marc}");
}

#[test]
fn scaling_takes_the_kept_mass_when_the_engine_would_give_another() {
    let formula = salve();
    let mut stored = stored(&formula);
    let at = mass_of(&stored, 2);
    stored["figures"][at]["value"] = json!({ "number": "30.00" });
    let restored = read(&stored).unwrap().restore(&formula).unwrap();
    let worked = scaled(
        &formula,
        &restored,
        &Target::ByLine { phase: 0, line: 2, quantity: Quantity::parse("60 g").unwrap() },
    );
    assert_eq!(worked.unwrap().factor.value(), Some(dec("2")));
}

#[test]
fn scaling_by_a_nested_line_takes_the_kept_density() {
    let formula = salve();
    let mut stored = stored(&formula);
    stored["phases"][0]["lines"][0]["density"] = json!("0.8");
    let restored = read(&stored).unwrap().restore(&formula).unwrap();
    let target = Target::ByLine { phase: 0, line: 0, quantity: Quantity::parse("500 mL").unwrap() };
    assert_eq!(scaled(&formula, &restored, &target).unwrap().factor.value(), Some(dec("2")));
}

#[test]
fn a_restored_figure_shows_the_sentence_that_was_kept() {
    let formula = salve();
    let mut stored = stored(&formula);
    let rules = stored["rules"].as_array_mut().unwrap();
    let rule = rules.iter_mut().find(|rule| rule["key"] == "mass_made").unwrap();
    rule["says"] = json!("in the old days all lines were {=}");
    let restored = read(&stored).unwrap().restore(&formula).unwrap();
    assert!(
        restored.product.sentence().starts_with("in the old days all lines were "),
        "{:?}",
        restored.product
    );
}

#[test]
fn another_value_is_a_difference_and_another_sentence_is_none() {
    let formula = salve();
    let now = kept(&formula);
    let mut stored = stored(&formula);
    for rule in stored["rules"].as_array_mut().unwrap() {
        rule["says"] = json!("said otherwise: {=}");
    }
    stored["sources"][0]["text"] = json!("another handbook");
    assert_eq!(compare(&read(&stored).unwrap(), &now), vec![]);
    let at = mass_of(&stored, 2);
    stored["figures"][at]["value"] = json!({ "number": "30" });
    stored["phases"][0]["lines"][0]["fate"] = json!("marc");
    let differences = compare(&read(&stored).unwrap(), &now);
    let told: Vec<String> = differences.iter().map(ToString::to_string).collect();
    assert_eq!(
        told,
        [
            "phases/0/lines/0/fate: marc was kept, stays is computed now",
            "phases/0/lines/2/mass: 30 g was kept, 28.349523125 g is computed now",
        ]
    );
}

#[test]
fn another_unit_is_a_difference_and_trailing_zeros_are_none() {
    let formula = salve();
    let now = kept(&formula);
    let mut stored = stored(&formula);
    let at = mass_of(&stored, 0);
    stored["figures"][at]["value"] = json!({ "number": "200.000" });
    assert_eq!(compare(&read(&stored).unwrap(), &now), vec![]);
    stored["figures"][at]["unit"] = json!("mg");
    let differences = compare(&read(&stored).unwrap(), &now);
    assert_eq!(differences.len(), 1);
    assert_eq!(differences[0].path, "phases/0/lines/0/mass");
}

#[test]
fn a_value_that_becomes_known_is_a_difference() {
    let unknown = formula("oil", Preparation::Liniment, vec![line("oil", MaterialKind::FixedOil, "10 mL")]);
    let mut facts = material("oil", MaterialKind::FixedOil);
    facts.density = Some(density("0.9", "20", "a handbook"));
    let known = formula("oil", Preparation::Liniment, vec![line_of(facts, "10 mL")]);
    let differences = compare(&kept(&unknown), &kept(&known));
    let mass = differences.iter().find(|it| it.path == "phases/0/lines/0/mass").unwrap();
    assert_eq!(mass.kept.as_deref(), Some("unknown (density of oil) g"));
    assert_eq!(mass.now.as_deref(), Some("9.0 g"));
    assert!(differences.iter().any(|it| it.path == "materials/oil/density" && it.kept.is_none()));
}

#[test]
fn an_unknown_format_is_refused_by_its_number_whatever_else_is_in_it() {
    let later = json!({ "format": FORMAT + 1, "figures": "of another shape" });
    assert_eq!(read(&later), Err(KeptProblem::UnknownFormat(u64::from(FORMAT) + 1)));
    let mut stored = stored(&salve());
    stored["format"] = json!(FORMAT + 1);
    assert!(serde_json::from_value::<KeptEvaluation>(stored).is_err());
}

#[test]
fn a_text_that_is_no_kept_result_is_refused_without_quoting_it() {
    let refused = KeptEvaluation::from_json("{\"format\":1,\"engine\":\"12.5 g of opium\"}").unwrap_err();
    assert!(matches!(refused, KeptProblem::Unreadable { .. }), "{refused:?}");
    assert!(!refused.to_string().contains("opium"), "{refused}");
    let text = kept(&salve()).to_json().unwrap();
    assert!(KeptEvaluation::from_json(&text[..text.len() - 1]).is_err());
}

#[test]
fn a_damaged_reference_is_refused_with_its_number() {
    let formula = salve();
    let mut damaged = stored(&formula);
    damaged["product"] = json!(9999);
    let refused = read(&damaged).unwrap().restore(&formula).unwrap_err();
    assert_eq!(refused, KeptProblem::NoSuch { what: "figure", number: 9999 });
    let mut circle = stored(&formula);
    circle["figures"][0]["inputs"] = json!([{ "figure": ["itself", 0] }]);
    let refused = read(&circle).unwrap().restore(&formula).unwrap_err();
    assert_eq!(refused, KeptProblem::NoSuch { what: "figure", number: 0 });
    let mut unit = stored(&formula);
    unit["figures"][0]["unit"] = json!("stone");
    assert_eq!(read(&unit).unwrap().restore(&formula).unwrap_err(), KeptProblem::UnknownUnit("stone".into()));
}

#[test]
fn a_kept_result_is_refused_for_another_revision_of_its_formula() {
    let kept = kept(&salve());
    let mut longer = salve();
    longer.phases[0].lines.push(line("vitamin e", MaterialKind::Antioxidant, "1 g"));
    let mut heavier = salve();
    heavier.phases[0].lines[2] = line("beeswax", MaterialKind::Wax, "2 oz");
    let mut other = salve();
    other.id = "another".into();
    for formula in [longer.clone(), heavier, other.clone()] {
        assert!(matches!(kept.restore(&formula), Err(KeptProblem::NotItsFormula(_))));
    }
    let evaluation = evaluated(&salve());
    for formula in [longer, other] {
        assert!(matches!(KeptEvaluation::of(&formula, &evaluation), Err(KeptProblem::NotItsFormula(_))));
    }
}

#[test]
fn a_kept_result_names_the_engine_that_gave_it() {
    assert_eq!(kept(&salve()).engine(), ENGINE);
}

#[test]
fn equal_evaluations_are_kept_as_equal_text() {
    assert_eq!(kept(&salve()).to_json(), kept(&salve()).to_json());
}
