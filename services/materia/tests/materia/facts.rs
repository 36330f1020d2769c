//! The register of published facts that bind, `data/facts.csv`: each stands in the data, or says why it does not.
//!
//! The register is no part of the data set. It keeps a fact that was read from being lost without anybody noticing.

use materia::{Files, Materia, Status};
use std::collections::{HashMap, HashSet};

const FACTS: &str = include_str!("../../data/facts.csv");

type Row = HashMap<String, String>;

fn rows(text: &str) -> Vec<Row> {
    csv::Reader::from_reader(text.as_bytes()).deserialize().map(Result::unwrap).collect()
}

/// The status of every row of the data that the register can name, by its name there.
fn named() -> HashMap<String, String> {
    let files = Files::embedded();
    let mut all = HashMap::new();
    for (file, key) in [
        ("cautions", &["key"][..]),
        ("limits", &["key"]),
        ("stops", &["key"]),
        ("allergy_groups", &["key"]),
        ("allergens", &["label_name"]),
        ("look_alikes", &["species"]),
        ("evidence", &["target", "@", "audience"]),
        ("allergies", &["group", "/", "target"]),
    ] {
        for row in rows(files.text(&format!("{file}.csv"))) {
            let name: String = key.iter().map(|part| row.get(*part).map_or(*part, String::as_str)).collect();
            // Several rows can share a name: evidence by route, look-alikes of one plant. The best read one counts.
            let status = row["status"].clone();
            let held = all.entry(format!("{file}:{name}")).or_insert_with(|| status.clone());
            if *held == Status::FromMemory.word() {
                *held = status;
            }
        }
    }
    all
}

fn held(row: &Row) -> impl Iterator<Item = &str> {
    row["held"].split(';').map(str::trim).filter(|name| !name.is_empty())
}

#[test]
fn every_fact_stands_in_the_data_or_says_why_it_is_left_out() {
    let (named, facts) = (named(), rows(FACTS));
    assert!(facts.len() >= 800, "{} facts", facts.len());
    for row in &facts {
        let at = format!("{}: {}", row["subject"], row["fact"]);
        for field in ["subject", "fact", "source"] {
            assert!(!row[field].trim().is_empty(), "{at}: no {field}");
        }
        assert_ne!(row["held"].is_empty(), row["left_out"].is_empty(), "{at}: one of held and left_out");
        for name in held(row) {
            assert!(named.contains_key(name), "{at}: {name} is not in the data");
        }
    }
}

/// What was read stays cited: a row of the data that carries such a fact does not rest on memory.
#[test]
fn a_fact_that_was_read_is_carried_by_a_row_that_says_so() {
    let named = named();
    let mut lost = Vec::new();
    for row in rows(FACTS) {
        let read = ["verified", "secondary"].contains(&row["status"].as_str());
        if read && !row["held"].is_empty() && held(&row).all(|name| named[name] == Status::FromMemory.word())
        {
            lost.push(format!("{}: {} by {}", row["subject"], row["fact"], row["held"]));
        }
    }
    assert!(lost.is_empty(), "{lost:#?}");
}

/// What the data call law, and every stop of a poison, rests on a fact of the register.
#[test]
fn every_poison_and_every_law_of_cosmetics_rests_on_a_fact() {
    let facts = rows(FACTS);
    let cited: HashSet<&str> = facts.iter().flat_map(held).collect();
    let materia = Materia::embedded().unwrap();
    let laws = materia.limits.iter().filter(|it| it.force == materia::Force::Law && it.jurisdiction == "EU");
    let poisons = materia.stops.iter().filter(|it| it.key.starts_with("poison-"));
    let names =
        laws.map(|it| format!("limits:{}", it.key)).chain(poisons.map(|it| format!("stops:{}", it.key)));
    let uncited: Vec<String> = names.filter(|name| !cited.contains(name.as_str())).collect();
    assert!(uncited.is_empty(), "{uncited:#?}");
}
