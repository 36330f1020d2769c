//! Ethanol and water against published points, a table that does not come from the same formula, and the laws
//! that mixing must keep.

use galenics::alcohol_content::alcohol_content;
use galenics::{
    Density, Formula, Fraction, Mass, MaterialKind, Preparation, Quantity, Reason, Source, Sourced, Status,
    Temperature, Volume,
    alcohol::{
        Stream, by_mass, by_volume, density, dilute, dilute_with, from_density, mass_from_density, mix,
        read_hydrometer, strength_by_mass, strength_by_volume,
    },
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::support::{dec, evaluated, file, float, line, line_of, material, nested};

#[derive(Deserialize)]
struct Published {
    density: Vec<Point>,
    table: Vec<TableRow>,
    strength: Vec<StrengthRow>,
    dilution: Vec<DilutionRow>,
}

#[derive(Deserialize)]
struct Point {
    by_mass: f64,
    celsius: f64,
    kg_per_m3: f64,
    within: f64,
    source: String,
}

#[derive(Deserialize)]
struct TableRow {
    by_volume: f64,
    by_mass: f64,
    sg_25: Option<f64>,
    sg_15: Option<f64>,
}

#[derive(Deserialize)]
struct StrengthRow {
    by_volume: f64,
    grams_in_100_g: f64,
    grams_in_100_ml: f64,
    within_g: f64,
    within_ml: f64,
    source: String,
}

#[derive(Deserialize)]
struct DilutionRow {
    wanted: String,
    strength: String,
    stock: String,
    stock_g: Option<f64>,
    stock_ml: Option<f64>,
    within: f64,
    source: String,
}

/// 60 F in C.
const SIXTY_F: f64 = 140.0 / 9.0;

fn published() -> Published {
    file("galenics-alcohol.toml")
}

fn percent(value: &str) -> Fraction {
    Fraction::percent(dec(value)).unwrap()
}

fn celsius(value: &str) -> Temperature {
    Temperature::celsius(dec(value)).unwrap()
}

#[test]
fn the_density_formula_meets_its_published_points() {
    for point in published().density {
        let rho = density(point.by_mass, point.celsius).unwrap();
        assert!(
            (rho - point.kg_per_m3).abs() <= point.within,
            "{rho} against {} ({})",
            point.kg_per_m3,
            point.source
        );
    }
}

#[test]
fn strengths_meet_the_pharmacopoeial_table_that_does_not_come_from_the_formula() {
    for row in published().table {
        if row.sg_25.is_some() {
            // Printed to two decimals by mass; the tables differ by at most one of the last.
            let mass = by_mass(row.by_volume / 100.0, SIXTY_F).unwrap() * 100.0;
            assert!(
                (mass - row.by_mass).abs() <= 0.0055,
                "{} % vol: {mass} against {}",
                row.by_volume,
                row.by_mass
            );
        } else {
            let volume = by_volume(row.by_mass / 100.0, SIXTY_F).unwrap() * 100.0;
            assert!((volume - row.by_volume).abs() <= 0.0055, "{} % w/w: {volume}", row.by_mass);
        }
        let p = by_mass(row.by_volume / 100.0, SIXTY_F).unwrap();
        for (printed, t) in [(row.sg_25, 25.0), (row.sg_15, SIXTY_F)] {
            if let Some(printed) = printed {
                let gravity = density(p, t).unwrap() / density(0.0, t).unwrap();
                assert!((gravity - printed).abs() <= 0.000_11, "{} % vol at {t}: {gravity}", row.by_volume);
            }
        }
    }
}

#[test]
fn strengths_at_20_c_meet_published_conversions() {
    for row in published().strength {
        let both = strength_by_mass(percent(&row.by_volume.to_string()), celsius("20")).unwrap();
        let mass = float(&both.by_mass) * 100.0;
        assert!((mass - row.grams_in_100_g).abs() <= row.within_g, "{mass} by {}", row.source);
        let in_volume = mass * float(&both.density);
        assert!((in_volume - row.grams_in_100_ml).abs() <= row.within_ml, "{in_volume} by {}", row.source);
    }
}

#[test]
fn dilutions_meet_published_ones_and_state_the_water_that_contraction_takes() {
    for row in published().dilution {
        let dilution =
            dilute(&Quantity::parse(&row.wanted).unwrap(), percent(&row.strength), percent(&row.stock))
                .unwrap();
        if let Some(grams) = row.stock_g {
            assert!((float(&dilution.stock_mass) - grams).abs() <= row.within, "{}", row.source);
        }
        if let Some(millilitres) = row.stock_ml {
            assert!((float(&dilution.stock_volume) - millilitres).abs() <= row.within, "{}", row.source);
            let whole = float(&dilution.volume);
            let simple = whole - millilitres;
            assert!(
                float(&dilution.diluent_volume) > simple,
                "water is {} mL, not {simple}",
                dilution.diluent_volume
            );
        }
    }
}

#[test]
fn the_reference_temperature_changes_the_strength() {
    // 40 % by volume is less ethanol at 20 C than at 60 F, since ethanol swells more than water.
    let cold = by_mass(0.40, SIXTY_F).unwrap();
    let warm = by_mass(0.40, 20.0).unwrap();
    assert!(cold > warm && cold - warm < 0.001);
    let stated = strength_by_volume(Fraction::new(dec("0.333")).unwrap(), celsius("20")).unwrap();
    assert_eq!(stated.by_volume.unit(), "fraction v/v");
    assert!(stated.by_volume.sentence().contains("at 20 °C"), "{}", stated.by_volume.sentence());
}

#[test]
fn a_hydrometer_at_20_c_reads_the_truth_and_a_warm_one_too_much() {
    let read = |at| float(&read_hydrometer(percent("40"), celsius(at)).unwrap().by_volume) * 100.0;
    assert!((read("20") - 40.0).abs() < 1e-9);
    assert!(read("25") < 39.0 && read("25") > 37.0, "{}", read("25"));
    assert!(read("15") > 41.0 && read("15") < 43.0, "{}", read("15"));
    let measured = Density::new(dec("0.94805"), celsius("20")).unwrap();
    assert!((float(&from_density(measured).unwrap().by_volume) - 0.40).abs() < 0.0001);
}

#[test]
fn impossible_strengths_are_refused_with_what_is_possible() {
    let litre = Quantity::parse("1 L").unwrap();
    let stronger = dilute(&litre, percent("97"), percent("96")).unwrap_err();
    assert_eq!((stronger.field, stronger.reason), ("strength", Reason::Impossible));
    assert!(stronger.says.contains("96 % and 0 % make only strengths between them"), "{stronger}");
    assert!(dilute_with(&litre, percent("30"), percent("96"), percent("40")).is_err());
    assert!(dilute_with(&litre, percent("40"), percent("40"), percent("40")).is_err());
    assert_eq!(strength_by_mass(percent("40"), celsius("41")).unwrap_err().field, "temperature");
    assert_eq!(density(1.1, 20.0).unwrap_err().field, "strength");
    assert_eq!(density(f64::NAN, 20.0).unwrap_err().field, "strength");
    assert_eq!(density(0.5, f64::INFINITY).unwrap_err().field, "temperature");
    let gold = Density::new(dec("19.3"), celsius("20")).unwrap();
    assert_eq!(from_density(gold).unwrap_err().field, "density");
    assert_eq!(mix(&[]).unwrap_err().field, "streams");
}

#[test]
fn the_alcohol_of_a_cream_comes_through_its_nested_tincture() {
    let spirit = |name: &str, strength: &str| {
        let mut facts = material(name, MaterialKind::Ethanol);
        facts.ethanol_by_volume =
            Some(Sourced::new(percent(strength), Source::fixed("label", Status::Entered)));
        facts
    };
    let tincture =
        std::sync::Arc::new(Formula::new("tincture", "Tincture", Preparation::Tincture).with_phase(
            "all",
            vec![
                line("sage", MaterialKind::Herb, "100 g"),
                line_of(spirit("spirit of 70 per cent", "70"), "500 g"),
            ],
        ));
    let cream = Formula::new("cream", "Cream", Preparation::Cream).with_phase(
        "all",
        vec![
            nested(&tincture, "100 g"),
            line("purified water", MaterialKind::Water, "400 g"),
            line("olive oil", MaterialKind::FixedOil, "500 g"),
        ],
    );
    let content = alcohol_content(&evaluated(&cream));
    let ethanol = by_mass(0.70, 20.0).unwrap() / 10.0;
    assert!((float(&content.by_mass) - ethanol).abs() < 1e-9);
    let watery = by_volume(ethanol / 0.5, 20.0).unwrap();
    assert!((float(&content.of_watery_part) - watery).abs() < 1e-9);
    assert!(content.by_volume.unknown().is_some(), "no density is known of the cream");

    let unlabelled = Formula::new("t", "T", Preparation::Lotion)
        .with_phase("all", vec![line("spirit", MaterialKind::Ethanol, "1 g")]);
    let content = alcohol_content(&evaluated(&unlabelled));
    assert_eq!(content.by_mass.sentence(), "unknown: strength of spirit");
}

fn stream() -> impl Strategy<Value = Stream> {
    (1_u32..1_000_000, 0_u32..=10_000, any::<bool>()).prop_map(|(amount, strength, by_volume)| {
        let amount = dec(&amount.to_string()) / dec("100");
        let strength = Fraction::new(dec(&strength.to_string()) / dec("10000")).unwrap();
        if by_volume {
            Stream::ByVolume { volume: Volume::millilitres(amount).unwrap(), strength }
        } else {
            Stream::ByMass { mass: Mass::grams(amount).unwrap(), strength }
        }
    })
}

proptest! {
    #[test]
    fn by_volume_and_by_mass_turn_back_into_themselves(q in 0.0..=1.0_f64, t in -20.0..=40.0_f64) {
        let p = by_mass(q, t).unwrap();
        prop_assert!((by_volume(p, t).unwrap() - q).abs() < 1e-9, "{} {}", p, q);
        let back = mass_from_density(density(p, t).unwrap(), t).unwrap();
        // Below 4 C very thin mixtures hardly change in density with strength.
        prop_assert!((back - p).abs() < 1e-7, "{} {}", back, p);
    }

    #[test]
    fn density_falls_with_strength(p in 0.0..0.999_f64, t in -20.0..=40.0_f64) {
        prop_assert!(density(p + 0.001, t).unwrap() < density(p, t).unwrap());
    }

    #[test]
    fn mixing_keeps_mass_and_ethanol_and_does_not_mind_the_order(streams in prop::collection::vec(stream(), 1..8)) {
        let mixture = mix(&streams).unwrap();
        let mut backwards = streams.clone();
        backwards.reverse();
        let other = mix(&backwards).unwrap();
        prop_assert!((float(&mixture.by_mass) - float(&other.by_mass)).abs() < 1e-9);
        prop_assert!((float(&mixture.volume) - float(&other.volume)).abs() < 1e-6 * float(&mixture.volume));
        let together = float(&mixture.ethanol) + float(&mixture.water);
        prop_assert!((float(&mixture.mass) - together).abs() <= 1e-9 * together);
        // Mixing in two steps comes to the same.
        if streams.len() > 2 {
            let first = mix(&streams[..2]).unwrap();
            let between = Stream::ByMass {
                mass: Mass::grams(first.mass.value().unwrap()).unwrap(),
                strength: Fraction::new(first.by_volume.value().unwrap()).unwrap(),
            };
            let mut rest = vec![between];
            rest.extend_from_slice(&streams[2..]);
            let twice = mix(&rest).unwrap();
            prop_assert!((float(&twice.ethanol) - float(&mixture.ethanol)).abs() <= 1e-8 * together);
        }
    }

    #[test]
    fn a_dilution_keeps_the_ethanol(strength in 1_u32..9500, above in 1_u32..500, grams in 1_u32..100_000) {
        let share = |ten_thousandths: u32| Fraction::new(dec(&ten_thousandths.to_string()) / dec("10000")).unwrap();
        let wanted = Quantity::parse(&format!("{grams} g")).unwrap();
        let dilution = dilute(&wanted, share(strength), share(strength + above)).unwrap();
        let ethanol = f64::from(grams) * by_mass(f64::from(strength) / 10_000.0, 20.0).unwrap();
        let taken = float(&dilution.stock_mass) * by_mass(f64::from(strength + above) / 10_000.0, 20.0).unwrap();
        prop_assert!((ethanol - taken).abs() <= 1e-8 * f64::from(grams));
        let sum = float(&dilution.stock_mass) + float(&dilution.diluent_mass);
        prop_assert!((sum - f64::from(grams)).abs() <= 1e-8 * f64::from(grams));
    }
}
