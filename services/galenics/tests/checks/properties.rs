//! What holds for every formula and every text.

use std::sync::Arc;

use galenics::{
    Amount, Customary, Decimal, Evaluation, Formula, Fraction, Losses, Mass, MaterialKind, Preparation,
    Quantity, Target, Temperature, Unit, Yield, evaluate, scale,
};
use proptest::prelude::*;

use crate::support::{balance, dec, density, formula, line_of, material, nested};

/// Milligrams up to a kilogram.
fn milligrams() -> impl Strategy<Value = u32> {
    1_u32..1_000_000
}

fn formula_of(masses: &[u32]) -> Formula {
    let lines = masses.iter().enumerate().map(|(at, mg)| {
        let kind = MaterialKind::ALL[at % MaterialKind::ALL.len()];
        let mut facts = material(&format!("material {}", at % 7), kind);
        facts.density = Some(density("0.9", "20", "made up for the property"));
        line_of(facts, &format!("{mg} mg"))
    });
    formula("any", Preparation::Salve, lines.collect())
}

fn sum(evaluation: &Evaluation) -> Decimal {
    evaluation.composition.iter().map(|leaf| leaf.share.value().unwrap()).sum()
}

proptest! {
    #[test]
    fn mass_is_conserved(masses in prop::collection::vec(milligrams(), 1..30)) {
        let evaluation = evaluate(&formula_of(&masses)).unwrap();
        let entered: u64 = masses.iter().map(|mg| u64::from(*mg)).sum();
        prop_assert_eq!(evaluation.product.value().unwrap(), Decimal::from(entered) / dec("1000"));
        prop_assert!((sum(&evaluation) - dec("1")).abs() < dec("0.0000000000000001"));
        let phases: Decimal = evaluation.phases.iter().map(|phase| phase.mass.value().unwrap()).sum();
        prop_assert_eq!(phases, evaluation.charged.value().unwrap());
    }

    #[test]
    fn the_order_of_lines_does_not_matter(
        (masses, shuffled) in prop::collection::vec(milligrams(), 2..20)
            .prop_flat_map(|masses| (Just(masses.clone()), Just(masses).prop_shuffle()))
    ) {
        // The materials follow their masses, so that only the order differs.
        let build = |masses: &[u32]| formula("any", Preparation::Salve, masses.iter().map(|mg| {
            line_of(material(&format!("material {mg}"), MaterialKind::FixedOil), &format!("{mg} mg"))
        }).collect());
        let shares = |masses: &[u32]| {
            let mut shares: Vec<_> = evaluate(&build(masses)).unwrap().composition.iter()
                .map(|leaf| (leaf.material.id.clone(), leaf.share.value().unwrap())).collect();
            shares.sort();
            shares
        };
        prop_assert_eq!(shares(&masses), shares(&shuffled));
    }

    #[test]
    fn scaling_is_linear_and_rounding_is_bounded_by_half_a_step(
        masses in prop::collection::vec(milligrams(), 1..20),
        grams in 1_u32..900_000,
        times in 2_u32..50,
        step in 1_u32..1000,
    ) {
        let formula = formula_of(&masses);
        let evaluation = evaluate(&formula).unwrap();
        let step = Decimal::from(step) / dec("1000");
        let balance = balance(&step.to_string());
        let work = |grams: u32| {
            let target = Target::ByMass(Quantity::parse(&format!("{grams} g")).unwrap());
            scale(&formula, &evaluation, &target, &Losses::default(), &balance)
        };
        let once = work(grams).unwrap();
        if let Some(many) = grams.checked_mul(times).filter(|grams| *grams <= 1_000_000) {
            let many = work(many).unwrap();
            for (one, many) in once.phases[0].lines.iter().zip(&many.phases[0].lines) {
                let (one, many) = (one.exact.value().unwrap(), many.exact.value().unwrap());
                prop_assert!((one * Decimal::from(times) - many).abs() <= many * dec("0.000000000000000001") + dec("0.000000000000000001"));
            }
        }
        for line in &once.phases[0].lines {
            // A share is a quotient, so that what lies in the middle between two steps lies there to some twenty digits.
            prop_assert!(line.error.value().unwrap().abs() * dec("2") <= step + dec("0.000000000001"));
            prop_assert!(line.weigh.value().unwrap() >= Decimal::ZERO);
        }
        let exact: Decimal = once.phases[0].lines.iter().map(|line| line.exact.value().unwrap()).sum();
        prop_assert!((exact - Decimal::from(grams)).abs() < dec("0.000000000001"));
    }

    #[test]
    fn gross_less_its_losses_is_net(grams in 1_u32..100_000, loss in 0_u32..9_900) {
        let formula = formula_of(&[1000, 2000]);
        let evaluation = evaluate(&formula).unwrap();
        let loss = Fraction::percent(Decimal::from(loss) / dec("100")).unwrap();
        let target = Target::ByMass(Quantity::parse(&format!("{grams} g")).unwrap());
        if let Ok(worked) = scale(&formula, &evaluation, &target, &Losses::transfer(loss), &balance("0.1")) {
            let back = worked.gross.value().unwrap() * loss.rest().get();
            prop_assert!((back - Decimal::from(grams)).abs() < dec("0.000000000000000001"));
        }
    }

    #[test]
    fn a_product_never_carries_more_herb_than_went_in(
        herb in milligrams(), oil in milligrams(), pressed in milligrams(), by_product: bool,
    ) {
        let mut infused = formula("oil", Preparation::InfusedOil, vec![
            line_of(material("herb", MaterialKind::Herb), &format!("{herb} mg")),
            line_of(material("olive oil", MaterialKind::FixedOil), &format!("{oil} mg")),
        ]).with_yield(Yield::measured(
            Mass::grams(Decimal::from(pressed) / dec("1000")).unwrap()));
        if by_product {
            infused.extract_basis = galenics::ExtractBasis::Product;
        }
        let infused = Arc::new(infused);
        let salve = formula("salve", Preparation::Salve, vec![
            nested(&infused, &format!("{pressed} mg")),
            line_of(material("beeswax", MaterialKind::Wax), "10 g"),
        ]);
        let evaluation = evaluate(&salve).unwrap();
        let carried = evaluation.herbs[0].per_gram.value().unwrap() * evaluation.product.value().unwrap();
        prop_assert!(carried <= Decimal::from(herb) + dec("0.000001"), "{} mg of {} mg", carried, herb);
    }

    #[test]
    fn no_text_makes_a_panic_or_a_negative_mass(text in ".{0,140}") {
        for family in Customary::ALL {
            if let Ok(quantity) = Quantity::parse_with(&text, *family) {
                prop_assert!(quantity.parts().iter().all(|part| part.number >= Decimal::ZERO));
                prop_assert_eq!(quantity.text(), text.trim());
            }
            let _ = Amount::parse_with(&text, *family);
        }
        let _ = Yield::parse(&text);
        let _ = Temperature::parse(&text);
    }

    #[test]
    fn near_misses_make_no_panic_either(text in "[-+]?[0-9.eE,/½ ]{0,20}( ?%)?( ?[a-zA-Zµ.]{0,8})?( (at|to|q.s.|:|@)? ?[0-9./]{0,9} ?(g|mL|per mL|oz)?)?") {
        let _ = Amount::parse(&text);
        let _ = Quantity::parse(&text);
        let _ = Temperature::parse(&text);
    }

    #[test]
    fn no_formula_of_readable_amounts_makes_a_panic_or_a_negative_mass(
        amounts in prop::collection::vec("([0-9]{1,12}(\\.[0-9]{1,12})?|q.s. to [0-9]{1,6}|[1-9]:[0-9]{1,9}) ?(kg|g|ug|mL|uL|%|% w/v|% v/v|parts|drops|US cups)?", 1..6),
        kinds in prop::collection::vec(0_usize..26, 6),
        with_density: bool,
    ) {
        let lines: Vec<_> = amounts.iter().zip(&kinds).filter_map(|(text, kind)| {
            let mut facts = material(&format!("m{kind}"), MaterialKind::ALL[*kind % MaterialKind::ALL.len()]);
            if with_density {
                facts.density = Some(density("0.93", "20", "made up for the property"));
            }
            Amount::parse(text).ok().map(|_| line_of(facts, text))
        }).collect();
        for preparation in [Preparation::Salve, Preparation::Tincture] {
            let formula = formula("any", preparation, lines.clone());
            if let Ok(evaluation) = evaluate(&formula) {
                for line in evaluation.phases.iter().flat_map(|phase| &phase.lines) {
                    prop_assert!(line.mass.value().is_none_or(|mass| mass >= Decimal::ZERO), "{}", line.mass);
                }
                let target = Target::ByMass(Quantity::parse("1 g").unwrap());
                let _ = scale(&formula, &evaluation, &target, &Losses::default(), &balance("0.0001"));
                let _ = serde_json::to_string(&evaluation).unwrap();
            }
        }
    }

    #[test]
    fn every_unit_goes_to_the_base_and_back(unit in prop::sample::select(Unit::ALL), value in 1_u64..1_000_000_000) {
        let value = Decimal::from(value) / dec("1000");
        let factor = unit.factor();
        let back = factor.from_base(factor.to_base(value).unwrap()).unwrap();
        prop_assert!((back - value).abs() <= value * dec("0.0000000000000001"));
    }

    #[test]
    fn a_mass_is_never_negative(units in any::<i64>(), scale in 0_u32..28) {
        let value = Decimal::new(units, scale);
        prop_assert_eq!(Mass::grams(value).is_ok(), value >= Decimal::ZERO && value <= dec("1000000000"));
    }
}
