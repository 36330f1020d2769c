//! Ethanol and water in formulas: mass and ethanol stay, the volume contracts as the calculator says, and what is made
//! up to a volume fills it.

use std::sync::Arc;

use galenics::{
    Decimal, Fraction, Losses, Mass, MaterialFacts, MaterialKind, Preparation, Quantity, Source, Sourced,
    Status, Target,
    alcohol::{self, Stream, mix},
    alcohol_content::alcohol_content,
    evaluate, scale,
};
use proptest::prelude::*;

use crate::support::{balance, dec, density, evaluated, float, formula, line_of, material, near, nested};

fn spirit(percent: u32) -> MaterialFacts {
    let strength = Fraction::percent(Decimal::from(percent)).unwrap();
    let p = alcohol::by_mass(f64::from(percent) / 100.0, 20.0).unwrap();
    let rho = alcohol::density(p, 20.0).unwrap() / 1000.0;
    let mut facts = material(&format!("ethanol {percent} %"), MaterialKind::Ethanol);
    facts.ethanol_by_volume =
        Some(Sourced::new(strength, Source::new("by definition".to_owned(), Status::Definition)));
    facts.density = Some(density(&format!("{rho:.12}"), "20", "OIML R 22"));
    facts
}

fn water() -> MaterialFacts {
    let mut facts = material("purified water", MaterialKind::Water);
    facts.density = Some(density("0.998201230000", "20", "OIML R 22"));
    facts
}

fn liquid(percent: u32) -> MaterialFacts {
    if percent == 0 { water() } else { spirit(percent) }
}

fn close(a: &galenics::Figure, b: &galenics::Figure) -> bool {
    (float(a) - float(b)).abs() <= 1e-8 * float(b).abs().max(1.0)
}

proptest! {
    #[test]
    fn spirits_as_lines_come_to_what_the_calculator_says(
        lines in prop::collection::vec((0_u32..=99, 1_u32..100_000), 1..8)
    ) {
        let streams: Vec<Stream> = lines.iter().map(|(percent, mg)| Stream::ByMass {
            mass: Mass::grams(Decimal::new((*mg).into(), 3)).unwrap(),
            strength: Fraction::percent(Decimal::from(*percent)).unwrap(),
        }).collect();
        let calculated = mix(&streams).unwrap();
        let made = evaluated(&formula("mixture", Preparation::Liniment, lines.iter()
            .map(|(percent, mg)| line_of(liquid(*percent), &format!("{mg} mg"))).collect()));
        prop_assert!(close(&made.product, &calculated.mass));
        prop_assert!(close(&made.volume, &calculated.volume), "{} {}", made.volume, calculated.volume);
        let alcohol = alcohol_content(&made);
        prop_assert!(close(&alcohol.by_mass, &calculated.by_mass));
        prop_assert!(close(&alcohol.by_volume, &calculated.by_volume));
        prop_assert!(close(&alcohol.of_watery_part, &calculated.by_volume));
        // The water of the spirits counts: ethanol and water are all of it.
        prop_assert!((float(&alcohol.by_mass) + float(&made.water) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn it_does_not_matter_in_which_vessel_spirits_meet(
        first in prop::collection::vec((0_u32..=99, 1_u32..100_000), 1..4),
        second in prop::collection::vec((0_u32..=99, 1_u32..100_000), 1..4),
    ) {
        let lines = |of: &[(u32, u32)]| of.iter()
            .map(|(percent, mg)| line_of(liquid(*percent), &format!("{mg} mg"))).collect::<Vec<_>>();
        let all = evaluated(&formula("at once", Preparation::Liniment, [lines(&first), lines(&second)].concat()));
        let inner = Arc::new(formula("first", Preparation::Liniment, lines(&first)));
        let amount: u32 = first.iter().map(|(_, mg)| mg).sum();
        let mut outer = vec![nested(&inner, &format!("{amount} mg"))];
        outer.extend(lines(&second));
        let twice = evaluated(&formula("in turns", Preparation::Liniment, outer));
        prop_assert!(close(&twice.volume, &all.volume), "{} {}", twice.volume, all.volume);
        prop_assert!(close(&twice.water, &all.water));
    }

    #[test]
    fn what_is_made_up_to_a_volume_fills_it_and_its_bottles(
        percent in 20_u32..=99, ml in 1_u32..900, share in 0_u32..30,
    ) {
        let mut glycerol = material("glycerol", MaterialKind::Humectant);
        glycerol.density = Some(density("1.26", "20", "made up for the property"));
        let liniment = formula("wash", Preparation::Liniment, vec![
            line_of(spirit(percent), &format!("{ml} mL")),
            line_of(glycerol, &format!("{share}.5 %")),
            line_of(water(), "q.s. 1000 mL"),
        ]);
        // Beside 1000 mL of thick glycerol there may be no room for the water.
        let Ok(made) = evaluate(&liniment) else { return Ok(()) };
        let apart: Decimal = made.phases[0].lines.iter().map(|line| {
            line.volume.as_ref().and_then(galenics::Figure::value).unwrap_or_default()
        }).sum();
        prop_assert!(apart >= Decimal::ZERO);
        let mass = float(&made.product);
        prop_assert!((mass / float(&made.density) - 1000.0).abs() < 1e-6, "{} {}", mass, made.density);
        let bottles = Target::Containers { count: 7, fill: Quantity::parse("100 mL").unwrap() };
        let worked = scale(&liniment, &made, &bottles, &Losses::default(), &balance("0.001")).unwrap();
        prop_assert!((float(&worked.gross) / float(&made.density) - 700.0).abs() < 1e-6);
    }
}

/// 403.71 g of spirit with 378.9 g of ethanol and 499.10 g of water are 41.97 % by mass, which has 931.1 kg/m3 by OIML R 22:
/// 969.6 mL, not a litre. `tests/reference/crosscheck.py` puts such mixtures to CoolProp.
#[test]
fn half_spirit_and_half_water_are_less_than_their_sum() {
    let made = evaluated(&formula(
        "half",
        Preparation::Liniment,
        vec![line_of(spirit(96), "500 mL"), line_of(water(), "500 mL")],
    ));
    assert!(near(made.volume.value().unwrap(), dec("969.61"), "0.02"), "{}", made.volume);
    assert!(
        made.volume.sentence().contains("of contraction of ethanol and water"),
        "{}",
        made.volume.sentence()
    );
    let alcohol = alcohol_content(&made);
    assert_eq!(alcohol.by_volume.value(), alcohol.of_watery_part.value());
}

#[test]
fn the_volume_of_spirit_and_water_is_unknown_where_the_strength_is() {
    let mut unknown = material("spirit", MaterialKind::Ethanol);
    unknown.density = Some(density("0.9", "20", "made up for the check"));
    let alone = evaluated(&formula("alone", Preparation::Liniment, vec![line_of(unknown.clone(), "10 g")]));
    assert!(alone.volume.value().is_some(), "one line alone loses nothing");
    let both =
        formula("both", Preparation::Liniment, vec![line_of(unknown, "10 g"), line_of(water(), "10 g")]);
    assert_eq!(evaluated(&both).volume.sentence(), "unknown: strength of spirit");
}
