//! The density of a syrup by its sugar.

use galenics::{Formula, MaterialKind, Preparation};
use proptest::prelude::*;
use rust_decimal::Decimal;
use serde::Deserialize;

use crate::support::{dec, density, evaluated, file, formula, line_of, material, near};

#[derive(Deserialize)]
struct Published {
    syrup: Vec<Syrup>,
}

#[derive(Deserialize)]
struct Syrup {
    sucrose: String,
    water: String,
    specific_gravity: String,
    within: String,
    source: String,
}

/// Water at 25 C, by the CIPM formula of 2001.
const WATER_25: &str = "0.997047";

fn of(preparation: Preparation, sucrose: &str, water: &str) -> Formula {
    let mut sugar = material("sucrose", MaterialKind::Sugar);
    sugar.dissolved = Some(density("1.576", "25", "worked out from Syrup USP"));
    let fluid = material("purified water", MaterialKind::Water).with_density(density(WATER_25, "25", "CIPM"));
    formula("syrup", preparation, vec![line_of(sugar, sucrose), line_of(fluid, water)])
}

#[test]
fn a_syrup_weighs_what_was_published() {
    for row in file::<Published>("galenics-syrup.toml").syrup {
        let syrup = of(Preparation::Syrup, &format!("{} g", row.sucrose), &format!("{} g", row.water));
        let gravity = evaluated(&syrup).density.known().unwrap() / dec(WATER_25);
        assert!(near(gravity, dec(&row.specific_gravity), &row.within), "{gravity}: {}", row.source);
    }
}

/// Syrup USP as it is written: 850 g of sucrose and water to make a litre.
#[test]
fn a_syrup_is_made_up_to_a_volume() {
    let made = evaluated(&of(Preparation::Syrup, "850 g", "q.s. 1000 mL"));
    assert!(near(made.volume.known().unwrap(), dec("1000"), "0.000001"));
    assert!(near(made.product.known().unwrap(), dec("1309.1"), "0.5"), "{:?}", made.product.value());
    let explained = serde_json::to_string(&made.density).unwrap();
    assert!(explained.contains("worked out from Syrup USP"), "{explained}");
}

/// A spoonful of loose sugar has air in it, and a dry mixture too: there it is not known.
#[test]
fn loose_sugar_is_not_measured_by_what_it_fills_dissolved() {
    let spoon = evaluated(&of(Preparation::Syrup, "2 US tbsp", "100 g"));
    assert!(spoon.product.value().is_none());
    assert!(
        spoon.unknown.iter().any(|missing| missing.contains("density of sucrose")),
        "{:?}",
        spoon.unknown
    );
    assert!(evaluated(&of(Preparation::Powder, "90 g", "10 g")).density.value().is_none());
}

proptest! {
    #[test]
    fn a_syrup_is_the_heavier_the_more_sugar_is_in_it(sucrose in 1_u32..70, more in 1_u32..20) {
        let of = |sucrose: u32| {
            let syrup = of(Preparation::Syrup, &format!("{sucrose} g"), &format!("{} g", 100 - sucrose));
            evaluated(&syrup).density.known().unwrap()
        };
        prop_assert!(of(sucrose + more) > of(sucrose));
        prop_assert!(of(sucrose) > dec(WATER_25) && of(sucrose) < Decimal::from(2));
    }
}
