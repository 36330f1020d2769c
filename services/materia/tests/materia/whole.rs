//! The data set as a whole: large enough, without dead rows, and safe to show.

use crate::embedded;
use materia::{Condition, Files, Level, Materia, Material, MaterialKind, State, Status, Subject};
use std::collections::HashSet;

fn of_kind(materia: &Materia, kinds: &[MaterialKind]) -> usize {
    materia.materials.iter().filter(|material| kinds.contains(&material.kind)).count()
}

#[test]
fn the_materia_holds_what_the_trade_needs_at_least() {
    use MaterialKind as K;
    let materia = embedded();
    let herbs: HashSet<&str> = materia
        .materials
        .iter()
        .filter(|material| material.kind == K::Herb)
        .filter_map(|material| Some(material.botanical.as_ref()?.species.key.as_str()))
        .collect();
    assert!(herbs.len() >= 150, "{} herbs", herbs.len());
    for (kinds, least) in [
        (vec![K::EssentialOil], 41),
        (vec![K::FixedOil], 30),
        (vec![K::Emulsifier], 15),
        (vec![K::Preservative], 16),
        (vec![K::Thickener, K::Mineral], 12),
        (vec![K::WateryBase], 12),
        (vec![K::Solvent], 10),
        (vec![K::Humectant], 6),
    ] {
        let found = of_kind(&materia, &kinds);
        assert!(found >= least, "{found} of {kinds:?}");
    }
}

#[test]
fn all_the_words_for_preparations_are_there() {
    let materia = embedded();
    let words = [
        "cream",
        "ointment",
        "salve",
        "balm",
        "lotion",
        "liniment",
        "infused oil",
        "tincture",
        "succus",
        "glycerite",
        "infusion",
        "decoction",
        "aromatic water",
        "syrup",
        "oxymel",
        "compress",
        "poultice",
        "tea blend",
        "powder",
        "capsule",
        "lozenge",
        "electuary",
        "acetum",
        "gel",
        "lip balm",
        "bath",
        "gargle",
        "steam",
    ];
    assert_eq!(materia.preparations.iter().map(|kind| kind.name.as_str()).collect::<Vec<_>>(), words);
}

#[test]
fn every_herb_states_what_a_herb_must() {
    let materia = embedded();
    for herb in materia.materials.iter().filter(|material| material.kind == MaterialKind::Herb) {
        let botanical = herb.botanical.as_ref().unwrap();
        assert!(!botanical.species.author.is_empty() && !botanical.species.common_names.is_empty());
        assert!(botanical.cut.is_some() && herb.inci.is_some(), "{}", herb.key);
        let from_the_field = herb.water_content_fresh.is_some();
        let seed_or_meal = ["seed", "meal", "fruit"].contains(&botanical.part.as_str());
        assert!(from_the_field || seed_or_meal, "{}: no water content fresh", herb.key);
        if botanical.state == Some(State::Dried) {
            assert!(herb.water_content.is_some(), "{}", herb.key);
        } else {
            assert!(herb.water_content_dried.is_some() && herb.water_content.is_none(), "{}", herb.key);
        }
    }
}

#[test]
fn every_herb_has_a_usual_form() {
    let materia = embedded();
    let bare: Vec<&str> = materia
        .materials
        .iter()
        .filter(|material| material.kind == MaterialKind::Herb && material.usual_forms.is_empty())
        .map(|material| material.key.as_str())
        .collect();
    assert!(bare.is_empty(), "{bare:?}");
}

#[test]
fn every_essential_oil_states_its_constituents_and_what_it_restricts() {
    let materia = embedded();
    for oil in materia.materials.iter().filter(|material| material.kind == MaterialKind::EssentialOil) {
        assert!(oil.density.is_some(), "{}", oil.key);
        let restricted = |subject: &Subject| match subject {
            Subject::Substance(key) => oil.constituents.iter().any(|part| part.substance == *key),
            Subject::Material(key) => oil.key == *key,
            Subject::Species(key) => oil.is_of_species(key),
            Subject::Genus(genus) => oil.is_of_genus(genus),
        };
        let bound = materia.limits.iter().any(|limit| restricted(&limit.subject))
            || materia.allergens.iter().any(|allergen| restricted(&allergen.subject));
        assert!(bound || oil.key == "vetiver-oil", "{} restricts nothing", oil.key);
    }
}

#[test]
fn constituents_never_add_up_to_more_than_the_whole_at_their_lower_ends() {
    for material in &embedded().materials {
        let sum: rust_decimal::Decimal = material.constituents.iter().map(|part| part.low_percent).sum();
        assert!(sum <= rust_decimal::Decimal::ONE_HUNDRED, "{}: {sum}", material.key);
    }
}

/// Keys in the first column of a file.
fn keys(file: &str) -> Vec<String> {
    let files = Files::embedded();
    let mut reader = csv::Reader::from_reader(files.text(file).as_bytes());
    reader.records().map(|row| row.unwrap()[0].to_owned()).collect()
}

#[test]
fn every_caution_is_carried_by_something() {
    let materia = embedded();
    let carried: HashSet<&str> = (materia.materials.iter().flat_map(|one| &one.cautions))
        .chain(materia.preparations.iter().flat_map(|one| &one.cautions))
        .chain(materia.routes.iter().flat_map(|one| &one.cautions))
        .chain(&materia.raised)
        .chain(materia.joint.iter().map(|joint| &joint.caution))
        .map(|caution| caution.key.as_str())
        .collect();
    let dead: Vec<String> =
        keys("cautions.csv").into_iter().filter(|key| !carried.contains(key.as_str())).collect();
    assert!(dead.is_empty(), "{dead:?}");
}

#[test]
fn every_target_of_a_row_reaches_a_material() {
    let materia = embedded();
    let files = Files::embedded();
    for file in ["cautions.csv", "allergies.csv", "evidence.csv"] {
        let mut reader = csv::Reader::from_reader(files.text(file).as_bytes());
        let at = reader.headers().unwrap().iter().position(|heading| heading.starts_with("target")).unwrap();
        for row in reader.records().map(Result::unwrap) {
            for target in row[at].split(';').map(str::trim) {
                assert!(reaches(&materia, target), "{file}: {target} reaches nothing");
            }
        }
    }
}

fn reaches(materia: &Materia, target: &str) -> bool {
    let (sort, name) = target.split_once(':').unwrap();
    let any = |test: &dyn Fn(&Material) -> bool| materia.materials.iter().any(test);
    match sort {
        "material" | "preparation" | "route" | "evidence" | "calculation" => true,
        "together" => name.split('+').all(|key| materia.caution_rules.contains_key(key)),
        "species" => any(&|one| one.botanical.as_ref().is_some_and(|plant| plant.species.key == name)),
        "family" => any(&|one| one.botanical.as_ref().is_some_and(|plant| plant.species.family == name)),
        "kind" => any(&|one| one.kind.word() == name),
        "group" => any(&|one| one.is_in_allergy_group(name)),
        "substance" => {
            let (key, least) = name.split_once('@').unwrap_or((name, "0"));
            let least = rust_decimal::Decimal::from_str_exact(least).unwrap();
            any(&|one| {
                one.constituents.iter().any(|part| part.substance == key && part.high_percent >= least)
            })
        }
        other => panic!("{other}"),
    }
}

#[test]
fn every_source_substance_species_and_group_is_used() {
    let materia = embedded();
    let files = Files::embedded();
    let used: HashSet<String> = [
        "regimes.csv",
        "allergy_groups.csv",
        "allergies.csv",
        "substances.csv",
        "species.csv",
        "look_alikes.csv",
        "preparations.csv",
        "routes.csv",
        "materials.csv",
        "properties.csv",
        "constituents.csv",
        "forms.csv",
        "evidence.csv",
        "cautions.csv",
        "stops.csv",
        "limits.csv",
        "allergens.csv",
        "dating_sets.csv",
        "dating_rules.csv",
    ]
    .into_iter()
    .flat_map(|file| {
        let mut reader = csv::Reader::from_reader(files.text(file).as_bytes());
        let at = reader.headers().unwrap().iter().position(|heading| heading == "source").unwrap();
        reader.records().map(|row| row.unwrap()[at].to_owned()).collect::<Vec<_>>()
    })
    .collect();
    let unused: Vec<String> = keys("sources.csv").into_iter().filter(|key| !used.contains(key)).collect();
    assert!(unused.is_empty(), "sources: {unused:?}");

    for species in &materia.species {
        // The law names plants that the trade no longer keeps.
        let forbidden =
            materia.limits.iter().any(|limit| limit.subject == Subject::Species(species.key.clone()))
                || materia.allergens.iter().any(|one| one.subject == Subject::Species(species.key.clone()));
        let used = forbidden
            || materia
                .materials
                .iter()
                .any(|one| one.botanical.as_ref().is_some_and(|plant| plant.species.key == species.key));
        assert!(used, "species {}", species.key);
    }
    for group in &materia.allergy_groups {
        assert!(
            materia.materials.iter().any(|one| one.is_in_allergy_group(&group.key)),
            "group {}",
            group.key
        );
    }
    for substance in &materia.substances {
        let held = materia
            .materials
            .iter()
            .flat_map(|one| &one.constituents)
            .any(|part| part.substance == substance.key);
        let counted = materia
            .substances
            .iter()
            .filter_map(|one| one.as_acid.as_ref())
            .any(|acid| acid.acid == substance.key);
        assert!(held || counted, "substance {}", substance.key);
    }
}

#[test]
fn every_limit_and_allergen_can_be_met_by_some_material() {
    let materia = embedded();
    let held = |subject: &Subject| match subject {
        Subject::Material(_) => true,
        Subject::Species(key) => materia.species.iter().any(|one| one.key == *key),
        // A genus that the materia does not keep is prohibited in what a clinic enters.
        Subject::Genus(_) => true,
        Subject::Substance(key) => materia.materials.iter().flat_map(|one| &one.constituents).any(|part| {
            let acid = materia.substance(&part.substance).and_then(|found| found.as_acid.as_ref());
            part.substance == *key || acid.is_some_and(|acid| acid.acid == *key)
        }),
    };
    for limit in &materia.limits {
        assert!(held(&limit.subject), "{}", limit.key);
    }
    for allergen in &materia.allergens {
        assert!(held(&allergen.subject), "{}", allergen.label_name);
    }
}

#[test]
fn a_remembered_figure_is_never_a_stop_and_says_so() {
    let materia = embedded();
    for material in &materia.materials {
        for caution in &material.cautions {
            assert!(caution.level < Level::Stop, "{}: stops are raised by stops.csv alone", caution.key);
            if caution.status == Status::FromMemory {
                assert!(caution.source.text.contains("from memory"), "{}", caution.key);
            }
        }
    }
    for limit in materia.limits.iter().filter(|limit| limit.status == Status::FromMemory) {
        assert!(limit.source.text.starts_with("from memory"), "{}", limit.key);
    }
}

/// A contraindication or a limit rests on memory alone only where something was looked for and not found.
#[test]
fn a_remembered_contraindication_or_limit_says_what_was_looked_for() {
    let materia = embedded();
    let carried = (materia.materials.iter().flat_map(|one| &one.cautions))
        .chain(materia.preparations.iter().flat_map(|one| &one.cautions))
        .chain(materia.routes.iter().flat_map(|one| &one.cautions))
        .chain(&materia.raised);
    let cautions = carried.filter(|one| one.level >= Level::Contraindication);
    let limits = materia.limits.iter().map(|one| (&one.key, one.status, &one.source.text));
    let facts = cautions.map(|one| (&one.key, one.status, &one.source.text)).chain(limits);
    for (key, _, said) in facts.filter(|(_, status, _)| *status == Status::FromMemory) {
        assert!(said.contains("looked for"), "{key}: {said}");
    }
}

#[test]
fn every_condition_is_used_and_every_audience_reads_back_as_written() {
    let materia = embedded();
    let audiences: HashSet<String> = materia
        .materials
        .iter()
        .flat_map(|one| &one.cautions)
        .flat_map(|caution| &caution.audiences)
        .map(ToString::to_string)
        .collect();
    for condition in Condition::ALL {
        let audience = materia::Audience::Condition(*condition).to_string();
        assert!(audiences.contains(&audience), "{audience} is asked of nothing");
    }
    for written in audiences {
        let read: materia::Audience = written.parse().unwrap();
        assert_eq!(read.to_string(), written);
    }
}
