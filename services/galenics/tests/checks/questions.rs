//! What learners are asked agrees with the calculators, for whatever numbers.

use galenics::{
    Density, Fraction, Losses, Mass, MaterialKind, Preparation, Quantity, Target, Temperature, Volume,
    alcohol::{Stream, mix},
    evaluate,
    number::to_significant_text,
    questions::{Bottles, CommonError, Dilution, Expected, Jars, judge},
    scale,
};
use proptest::prelude::*;
use rust_decimal::Decimal;

use crate::support::{balance, formula, line};

fn tenths(value: u32) -> Decimal {
    Decimal::new(value.into(), 1)
}

fn percent(value: u32) -> Fraction {
    Fraction::percent(tenths(value)).unwrap()
}

/// A salve of which the ingredient is so much of the whole, worked out for a target by the calculator of recipes.
fn scaled(share: u32, loss: u32, target: &Target) -> Decimal {
    let share = tenths(share);
    let rest = Decimal::ONE_HUNDRED - share;
    let lines = vec![
        line("wax", MaterialKind::Wax, &format!("{share} g")),
        line("oil", MaterialKind::FixedOil, &format!("{rest} g")),
    ];
    let salve = formula("salve", Preparation::Salve, lines);
    let evaluation = evaluate(&salve).expect("nothing is wrong with it");
    let losses = Losses::transfer(percent(loss));
    let worked = scale(&salve, &evaluation, target, &losses, &balance("0.001")).expect("a quantity");
    worked.phases[0].lines[0].exact.value().expect("a mass")
}

fn agrees(expected: &Expected, calculated: Decimal) {
    let answer = format!("{} g", to_significant_text(calculated, 6));
    assert!(judge(expected, &answer).unwrap().right, "{answer} for {expected:?}");
}

fn each_mistake_is_named(expected: &Expected, unit: &str) {
    for (error, value) in &expected.mistakes {
        let found = judge(expected, &format!("{} {unit}", to_significant_text(*value, 7))).unwrap();
        assert!(!found.right, "{error}: {value} of {expected:?}");
        assert!(found.error.is_some(), "{error}: {value} of {expected:?}");
    }
}

proptest! {
    #[test]
    fn jars_are_filled_with_what_the_recipe_would_weigh(
        jars in 5_u32..=24, net in 15_u32..=120, empty in 41_u32..=149, loss in 80_u32..=150, share in 15_u32..=245,
    ) {
        let asked = Jars {
            jars,
            full: Mass::grams((net + empty).into()).unwrap(),
            empty: Mass::grams(empty.into()).unwrap(),
            loss: percent(loss),
            share: percent(share),
        };
        if let Some(expected) = asked.expected() {
            let fill = Quantity::parse(&format!("{net} g")).unwrap();
            agrees(&expected, scaled(share, loss, &Target::Containers { count: jars, fill }));
            each_mistake_is_named(&expected, "g");
        }
    }

    #[test]
    fn bottles_are_filled_with_what_the_recipe_would_weigh_at_that_density(
        bottles in 4_u32..=20, fill in 3_u32..=25, density in 175_u32..=194, loss in 80_u32..=150, share in 15_u32..=245,
    ) {
        let density = Decimal::new(i64::from(density) * 5, 3);
        let fill = Decimal::from(fill * 10);
        let asked = Bottles {
            bottles,
            fill: Volume::millilitres(fill).unwrap(),
            density: Density::new(density, Temperature::TWENTY).unwrap(),
            loss: percent(loss),
            share: percent(share),
        };
        if let Some(expected) = asked.expected() {
            let mass = Quantity::parse(&format!("{} g", fill * density)).unwrap();
            agrees(&expected, scaled(share, loss, &Target::Containers { count: bottles, fill: mass }));
            each_mistake_is_named(&expected, "g");
            let in_volume = expected.mistakes.iter().any(|(error, _)| *error == CommonError::WeightInVolume);
            prop_assert!(in_volume);
        }
    }

    #[test]
    fn spirit_and_water_mix_to_the_volume_and_strength_that_were_asked_for(
        volume in 10_u32..=100, strength in 25_u32..=70, stock in 170_u32..=192,
    ) {
        let wanted = Decimal::from(volume * 10);
        let (strength, stock) = (percent(strength * 10), percent(stock * 5));
        let asked = Dilution { wanted: Volume::millilitres(wanted).unwrap(), strength, stock };
        if let Some((spirit, water)) = asked.expected() {
            let part = |of: &Expected, strength| Stream::ByVolume { volume: Volume::millilitres(of.value).unwrap(), strength };
            let made = mix(&[part(&spirit, stock), part(&water, Fraction::ZERO)]).unwrap();
            let near = |found: Decimal, wanted: Decimal| (found - wanted).abs() < wanted * Decimal::new(1, 6);
            prop_assert!(near(made.volume.value().unwrap(), wanted), "{}", made.volume);
            prop_assert!(near(made.by_volume.value().unwrap(), strength.get()), "{}", made.by_volume);
            each_mistake_is_named(&spirit, "mL");
            each_mistake_is_named(&water, "mL");
        }
    }

    #[test]
    fn a_right_answer_is_right_in_every_unit_of_its_kind(grams in 1_u32..=5000) {
        let grams = tenths(grams);
        let expected = Expected {
            asked: galenics::questions::Asked::Mass,
            value: grams,
            tolerance_percent: Decimal::new(25, 2),
            mistakes: Vec::new(),
        };
        // 1 oz is 28.349523125 g, 1 kg 1000 g (NIST Handbook 44, appendix C).
        for (unit, of_a_gram) in [("oz", "0.03527396194958"), ("kg", "0.001"), ("mg", "1000")] {
            let factor: Decimal = of_a_gram.parse().unwrap();
            let answer = format!("{} {unit}", to_significant_text(grams * factor, 8));
            let found = judge(&expected, &answer).unwrap();
            prop_assert!(found.right && found.read_as.is_some(), "{answer} for {grams} g");
        }
    }
}
