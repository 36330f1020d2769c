//! Published formulas evaluate to what their sources say.

use std::collections::BTreeMap;

use galenics::{Evaluation, Formula, Preparation, Quantity, Target, Yield, scale};
use serde::Deserialize;

use crate::support::{balance, dec, density, evaluated, file, line_of, material};

#[derive(Deserialize)]
struct Published {
    density: Vec<PublishedDensity>,
    formula: Vec<PublishedFormula>,
    scaled: Vec<PublishedScaling>,
}

#[derive(Deserialize)]
struct PublishedDensity {
    material: String,
    g_per_ml: String,
    celsius: String,
    source: String,
}

#[derive(Deserialize)]
struct PublishedFormula {
    title: String,
    preparation: Preparation,
    #[serde(rename = "yield")]
    yields: Option<String>,
    source: String,
    status: String,
    grams: String,
    /// By what part of itself the total may differ.
    within: String,
    /// Phase, material, kind, amount.
    lines: Vec<[String; 4]>,
    #[serde(default)]
    shares: BTreeMap<String, String>,
    #[serde(default)]
    masses: BTreeMap<String, String>,
}

#[derive(Deserialize)]
struct PublishedScaling {
    title: String,
    source: String,
    wanted: String,
    #[serde(default)]
    by_volume: bool,
    /// Material, kind, amount, and what it comes to in g; empty where the source does not say.
    lines: Vec<[String; 4]>,
}

fn published() -> Published {
    file("galenics-formulas.toml")
}

fn built(published: &PublishedFormula, densities: &[PublishedDensity]) -> Formula {
    let mut formula = Formula::new(published.title.clone(), published.title.clone(), published.preparation);
    formula.yields = published.yields.as_deref().map(|text| Yield::parse(text).unwrap());
    for [phase, name, kind, amount] in &published.lines {
        let line = line_of(known(name, kind, densities), amount);
        match formula.phases.iter_mut().find(|known| known.name.as_str() == phase) {
            Some(known) => known.lines.push(line),
            None => formula = formula.with_phase(phase.clone(), vec![line]),
        }
    }
    formula
}

fn known(name: &str, kind: &str, densities: &[PublishedDensity]) -> galenics::MaterialFacts {
    let mut facts = material(name, kind.parse().unwrap());
    facts.density = densities
        .iter()
        .find(|density| density.material == name)
        .map(|of| density(&of.g_per_ml, &of.celsius, &of.source));
    facts
}

fn named(title: &str) -> (Formula, Evaluation) {
    let published = published();
    let of = published.formula.iter().find(|formula| formula.title == title).unwrap();
    let formula = built(of, &published.density);
    let evaluation = evaluated(&formula);
    (formula, evaluation)
}

#[test]
fn every_published_formula_comes_to_what_its_source_says() {
    let published = published();
    for of in &published.formula {
        assert_eq!(of.status, "verified", "{}", of.title);
        let evaluation = evaluated(&built(of, &published.density));
        let (made, stated) = (evaluation.product.value().unwrap(), dec(&of.grams));
        let apart = (made - stated).abs() / stated;
        assert!(apart <= dec(&of.within), "{} comes to {made} g, not {stated} ({})", of.title, of.source);
        let sum: galenics::Decimal =
            evaluation.composition.iter().filter_map(|leaf| leaf.share.value()).sum();
        assert!((sum - dec("1")).abs() < dec("0.0000000000000001"), "{}: {sum}", of.title);
        for (name, share) in &of.shares {
            let leaf =
                evaluation.composition.iter().find(|leaf| leaf.material.name.as_str() == name).unwrap();
            assert_eq!(leaf.share.value().unwrap(), dec(share), "{name} in {}", of.title);
        }
        for (name, grams) in &of.masses {
            let mut lines = evaluation.phases.iter().flat_map(|phase| &phase.lines);
            let line = lines.find(|line| line.name.as_str() == name).unwrap();
            assert_eq!(line.mass.value().unwrap(), dec(grams), "{name} in {}", of.title);
        }
    }
}

#[test]
fn the_official_ointment_turns_each_millilitre_into_grams_by_a_density_whose_source_is_shown() {
    let (_, evaluation) = named("Rose Water Ointment, USP 30-NF 25");
    let water = &evaluation.phases[1].lines[2];
    assert_eq!(water.name.as_str(), "purified water");
    assert_eq!(water.volume.as_ref().unwrap().value(), Some(dec("165")));
    let json = serde_json::to_value(&water.mass).unwrap();
    let inputs = json["inputs"].as_array().unwrap();
    let density = inputs.iter().find(|input| input["name"] == "density").unwrap();
    assert!(density["source"]["text"].as_str().unwrap().contains("Tanaka"), "{density}");
    assert_eq!(json["sentence"], "165 mL, 165 mL, at 0.9982 g/mL: 164.7 g");
    let gap = evaluation.against_stated_yield.unwrap();
    assert!((gap.value().unwrap() - dec("1")).abs() < dec("0.01"), "{}", gap.sentence());
}

#[test]
fn without_the_density_of_rose_oil_its_mass_and_the_total_are_unknown_and_say_why() {
    let published = published();
    let of = &published.formula[0];
    let rest: Vec<_> =
        published.density.into_iter().filter(|density| density.material != "rose oil").collect();
    let evaluation = evaluated(&built(of, &rest));
    assert_eq!(evaluation.product.value(), None);
    assert_eq!(evaluation.product.sentence(), "unknown: density of rose oil");
    assert_eq!(evaluation.unknown, ["density of rose oil".to_owned().into()]);
    // What does not need it is still known.
    assert_eq!(evaluation.phases[0].mass.value(), Some(dec("805")));
}

#[test]
fn old_ounces_and_grains_agree_with_the_grams_printed_beside_them_to_half_a_grain() {
    let (_, grams) = named("Rose Water Ointment, USP of about 1890 to 1910, in grams");
    let (_, ounces) =
        named("Rose Water Ointment, USP of about 1890 to 1910, in avoirdupois ounces and grains");
    for (a, b) in grams.phases[0].lines.iter().zip(&ounces.phases[0].lines) {
        let apart = (a.mass.value().unwrap() - b.mass.value().unwrap()).abs();
        assert!(apart <= dec("0.0324"), "{}: {apart} g apart", a.name);
    }
    // "about 1000 g = 35 oz av. 120 gr"
    let galenics::Measure::Mass(whole) = Quantity::parse("35 oz av. 120 gr").unwrap().measure() else {
        panic!()
    };
    assert!((whole.g() - dec("1000")).abs() <= dec("0.0324"), "{}", whole.g());
}

#[test]
fn every_published_scaling_comes_to_what_its_source_says() {
    let published = published();
    for of in &published.scaled {
        let mut formula = Formula::new(of.title.clone(), of.title.clone(), Preparation::Lotion);
        let mut lines = Vec::new();
        for [name, kind, amount, _] in &of.lines {
            lines.push(line_of(known(name, kind, &published.density), amount));
        }
        formula = formula.with_phase("all", lines);
        let evaluation = evaluated(&formula);
        let wanted = Quantity::parse(&of.wanted).unwrap();
        let target = if of.by_volume { Target::ByVolume(wanted) } else { Target::ByMass(wanted) };
        let worked =
            scale(&formula, &evaluation, &target, &galenics::Losses::default(), &balance("0.0001")).unwrap();
        for ([name, .., grams], line) in of.lines.iter().zip(&worked.phases[0].lines) {
            if !grams.is_empty() {
                assert!(
                    (line.exact.value().unwrap() - dec(grams)).abs() < dec("0.0005"),
                    "{name}: {} by {}",
                    line.exact.sentence(),
                    of.source
                );
            }
        }
    }
}
