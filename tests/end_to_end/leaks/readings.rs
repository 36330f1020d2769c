//! Ladders of what is asked of a recipe, a label or a suitability.

use serde_json::Value;
use stillroom_tests::{Answer, Caller};

use super::ladder::{Learned, climb};
use super::{House, seen};

async fn recipe(caller: &Caller, revision: &str, query: &str) -> Answer {
    caller.get(&format!("/v1/revisions/{revision}/recipe?{query}")).await
}

/// The figures of a recipe by name, with value and unit.
fn figures(recipe: &Answer) -> Vec<(String, String)> {
    let all = recipe.json["figures"].as_array().unwrap();
    all.iter()
        .map(|it| (it["name"].as_str().unwrap().to_owned(), seen(&[&it["value"], &it["unit"]])))
        .collect()
}

/// What follows from the lines of the formula itself, which its own grant serves.
const OWN: [&str; 6] = ["product", "net", "loss", "made before losses", "to weigh in all", "factor"];

#[tokio::test(flavor = "multi_thread")]
async fn a_recipe_tells_a_reader_of_the_outer_formula_its_own_lines_and_no_leaf() {
    let house = House::start().await;
    for (revision, query) in [
        (&house.balm, ""),
        (&house.balm, "mass=500%20g"),
        (&house.lotion, "mass=500%20g&evaporation_loss=3%20%25"),
        (&house.lotion, "containers=12&fill=30%20g&made_on=2026-03-02"),
        (&house.lotion, "line=1.2&line_amount=5%20g"),
    ] {
        let recipe = recipe(&house.noor, revision, query).await.expect(200);
        let names: Vec<String> = figures(&recipe).into_iter().map(|(name, _)| name).collect();
        assert!(names.iter().all(|name| OWN.contains(&name.as_str())), "{query}: {names:?}");
        // Without a volume that the author wrote, a nested line shows neither volume nor density.
        let nested = &recipe.json["phases"][0]["lines"][0];
        assert_eq!([&nested["g_per_ml"], &nested["measure"]], [&Value::Null; 2], "{query}");
        // Every material is named on the open label, none in the recipe.
        for leaf in ["sunflower", "olive oil", "linalool", "sorbate", "watery"] {
            let figures = format!("{}{}", recipe.json["figures"], recipe.json["use_by"]["figures"]);
            assert!(!figures.contains(leaf), "{query}: {leaf} in {figures}");
        }
    }
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_one_application_brings_is_told_to_readers_of_every_level_only() {
    let house = House::start().await;
    let brings = async |caller: &Caller, query: &str| {
        let recipe = recipe(caller, &house.balm, query).await;
        let status = recipe.status.as_u16();
        let of_leaves: Vec<_> = if status == 200 { figures(&recipe) } else { Vec::new() }
            .into_iter()
            .filter(|(name, _)| !OWN.contains(&name.as_str()))
            .collect();
        format!("{status} {of_leaves:?}")
    };
    let told = brings(&house.ilse, "application=2%20g").await;
    assert!(told.contains("at most of linalool"), "{told}");
    let grams = async |grams: f64| brings(&house.noor, &format!("application={grams:.3}%20g")).await;
    assert_eq!(climb(0.5, 50.0, 6, grams).await, Learned::Nothing);
    let answer = brings(&house.noor, "application=2%20g").await;
    assert_eq!(answer, r#"200 [("content of one application", "null\n\"\"")]"#);
    let spoons = async |spoons: f64| brings(&house.noor, &format!("application={spoons:.3}%20mL")).await;
    assert_eq!(climb(0.5, 50.0, 6, spoons).await, Learned::Nothing);

    // More than the water there is cannot evaporate, and the hidden sorbate passes its limit before that: where either is
    // refused, or a caution is raised, tells of the hidden formula.
    let evaporated = async |caller: &Caller, share: f64| {
        let query = format!("application=2%20g&mass=100%20g&evaporation_loss={share:.4}%20%25");
        let answer = recipe(caller, &house.lotion, &query).await;
        let cautions = &answer.json["caution_set"];
        format!("{} {} {}", answer.status, cautions["by_loss"], cautions["loss_not_judged"])
    };
    let told = climb(0.5, 99.0, 10, async |share| evaporated(&house.ilse, share).await).await;
    assert_ne!(told, Learned::Nothing);
    // What is nested counts as if all of it could evaporate: only the tenth that the outer formula adds itself cannot.
    let untold = climb(1.0, 89.9, 10, async |share| evaporated(&house.noor, share).await).await;
    assert_eq!(untold, Learned::Nothing);
    evaporated(&house.noor, 90.1)
        .await
        .starts_with("422")
        .then_some(())
        .expect("its own lines cannot evaporate");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn jars_by_volume_tell_no_density_of_a_nested_preparation() {
    let house = House::start().await;
    for (query, field) in [
        ("volume=100%20mL", "?density"),
        ("containers=4&fill=30%20mL", "?density"),
        ("line=1.1&line_amount=50%20mL", "?line_amount"),
        // A density of the product is none of the line.
        ("line=1.1&line_amount=50%20mL&density=0.9%20g%2FmL", "?line_amount"),
    ] {
        recipe(&house.ilse, &house.balm, query).await.expect(200);
        let refused = recipe(&house.noor, &house.balm, query).await.fields(&[field]);
        assert!(refused.text.contains("reveals amounts of"), "{}", refused.text);
    }
    // At the density that the reader measured, the answer is the reader's own.
    let by_own = recipe(&house.noor, &house.balm, "volume=100%20mL&density=0.9%20g%2FmL").await.expect(200);
    assert!(figures(&by_own).contains(&("net".into(), "\"90\"\n\"g\"".into())), "{}", by_own.text);
    // A batch is opened by the same rule.
    let make_for = serde_json::json!({ "volume": "100 mL" });
    let batch = serde_json::json!({ "revision": house.balm, "make_for": make_for });
    house.noor.post("/v1/batches", batch).await.fields(&["/make_for/density"]);
    house.stop().await;
}

/// A member without any grant chooses the audience, the day, the net contents and the area of a label.
#[tokio::test(flavor = "multi_thread")]
async fn a_member_without_a_grant_reads_the_same_order_and_thresholds_whatever_is_asked() {
    let house = House::start().await;
    for revision in [&house.balm, &house.lotion] {
        let read = async |query: &str| {
            let path = format!("/v1/revisions/{revision}/label?{query}");
            let label = house.otto.get(&path).await.expect(200).json;
            seen(&[&label["ingredients"], &label["allergens"], &label["warnings"], &label["storage"]])
        };
        let plain = read("").await;
        let nets = climb(1.0, 1000.0, 5, async |net| read(&format!("net={net:.3}%20g")).await).await;
        let areas = climb(1.0, 400.0, 5, async |area| read(&format!("area={area:.3}%20cm2")).await).await;
        assert_eq!((nets, areas), (Learned::Nothing, Learned::Nothing));
        let mut days = Vec::new();
        for day in ["2026-03-02", "2026-09-02", "2027-03-02"] {
            let label = house.otto.get(&format!("/v1/revisions/{revision}/label?made_on={day}")).await;
            let label = label.expect(200).json;
            let made: chrono::NaiveDate = day.parse().unwrap();
            let until: chrono::NaiveDate = label["use_by"]["day"].as_str().unwrap().parse().unwrap();
            days.push((until - made).num_days());
            let open = [&label["ingredients"], &label["allergens"], &label["warnings"], &label["storage"]];
            assert_eq!(seen(&open), plain);
        }
        // Months differ by a day or two.
        assert!(days.iter().max().unwrap() - days.iter().min().unwrap() <= 3, "{days:?}");
        // Suitability is the caution set, sorted by whom it concerns.
        let set = house.otto.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200).json;
        let keys = |list: &Value| -> Vec<String> {
            list.as_array().unwrap().iter().map(|it| it["key"].as_str().unwrap().to_owned()).collect()
        };
        let all = keys(&set["cautions"]);
        for audience in ["pregnant", "age:1m", "age:4", "age:40", "allergy:asteraceae", "condition:asthma"] {
            let path = format!("/v1/revisions/{revision}/suitability?audience={audience}");
            let answer = house.otto.get(&path).await;
            if answer.status == 200 {
                let named = [keys(&answer.json["meant_for_it"]), keys(&answer.json["meant_for_everyone"])];
                assert!(named.concat().iter().all(|key| all.contains(key)), "{audience}: {named:?}");
            }
        }
        // Nothing of the recipe, whatever the quantity.
        for query in ["", "mass=500%20g", "application=2%20g", "volume=100%20mL"] {
            recipe(&house.otto, revision, query).await.problem(403, "gate-closed");
        }
    }
    house.stop().await;
}
