//! Whole formulas of a working herbalist, in the units that they use, from the evaluation to the date.

use serde_json::json;
use stillroom_tests::TeachingClinic;

use super::{evaluated, figure, formula, near, number, opened, ready, share, weighed, with};

const SKIN: &str = "on intact skin, leave-on";
const MOUTH: &str = "by mouth";

/// A cream of the kitchen: US cups and ounces. 0.75 US cup is 177.44 mL, an ounce 28.35 g (NIST unit tables).
#[tokio::test(flavor = "multi_thread")]
async fn a_wax_cream_in_cups_and_ounces_is_an_emulsion_by_its_wax_and_keeps_as_unpreserved() {
    let clinic = TeachingClinic::start().await;
    let lines = [
        ("almond oil", "0.75 US cup"),
        ("coconut oil", "2 oz"),
        ("yellow beeswax", "1 oz"),
        ("rose water", "0.75 US cup"),
    ];
    let content = formula("cream", SKIN, "cosmetic", &lines);
    let evaluation = evaluated(&clinic.ilse, &content).await;
    let mass = |line: usize| number(&evaluation["phases"][0]["lines"][line]["mass"]);
    near(mass(0), 177.44 * 0.912, 1.5);
    near(mass(1), 56.70, 0.01);
    near(mass(2), 28.35, 0.01);
    near(number(figure(&evaluation, "wax to oil")), mass(2) / mass(0), 1e-6);
    near(number(figure(&evaluation, "fat to oil")), mass(1) / mass(0), 1e-6);
    let emulsifier = figure(&evaluation, "emulsifier to oil");
    near(number(emulsifier), mass(2) / (mass(0) + mass(1)), 1e-6);
    assert!(
        emulsifier["sentence"].as_str().unwrap().contains("the wax is the only emulsifier"),
        "{emulsifier}"
    );
    assert_eq!(evaluation["preservation"]["value"], "unpreserved");

    let revision = ready(&clinic, content).await;
    let recipe =
        clinic.noor.get(&format!("/v1/revisions/{revision}/recipe?explain=true&made_on=2026-03-02")).await;
    let recipe = recipe.expect(200).json;
    near(number(figure(&recipe, "wax to oil")), mass(2) / mass(0), 1e-6);
    // Warmth preserves nothing: 14 days in the cold, of which the day of making is the first.
    assert_eq!(recipe["use_by"]["date"], "2026-03-15");
    assert_eq!(recipe["use_by"]["refrigerate"], true);
    clinic.stop().await;
}

/// 0.8 % of potassium sorbate is 0.6 % of acid; at pH 4.5 64 % of it is undissociated (Henderson and Hasselbalch, pKa 4.76).
#[tokio::test(flavor = "multi_thread")]
async fn a_lotion_is_preserved_at_the_ph_that_was_measured_and_its_label_follows() {
    let clinic = TeachingClinic::start().await;
    let lines = [
        ("emulsifying wax", "4 %"),
        ("almond oil", "12 %"),
        ("glycerol", "3 %"),
        ("potassium sorbate", "0.8 %"),
        ("rose water", "q.s. 500 g"),
    ];
    let revision = ready(&clinic, formula("lotion", SKIN, "cosmetic", &lines)).await;
    let entries = opened(&clinic, &revision, json!({ "mass": "500 g", "made_on": "2026-03-02" })).await;
    let all = [("1.1", "20 g"), ("1.2", "60 g"), ("1.3", "15 g"), ("1.4", "4 g"), ("1.5", "401 g")];
    let record = weighed(&clinic, &entries, &all).await;
    assert_eq!(record["as_made"]["use_by"]["date"], "2026-03-15");
    let read = async |ph: &str| {
        let entry = json!({ "kind": "ph", "quantity": ph });
        clinic.noor.entered(&entries, entry).await.json["as_made"]["use_by"]["date"].clone()
    };
    assert_eq!(read("6.5").await, "2026-03-15");
    assert_eq!(read("4.5").await, "2026-03-23");
    clinic.stop().await;
}

/// Honey is 82.5 % sugar (from memory). Half decoction and half honey are 41 %: no syrup keeps by that. Five of honey to one of
/// decoction are 69 %, and the day of the decoction ends to matter.
#[tokio::test(flavor = "multi_thread")]
async fn a_honey_syrup_from_a_decoction_keeps_by_its_sugar_or_not_at_all() {
    let clinic = TeachingClinic::start().await;
    let lines = [("dried thyme herb", "50 g"), ("purified water", "1000 g")];
    let decoction = with(formula("decoction", MOUTH, "food", &lines), "title", json!("Decoction of thyme"));
    let decoction = ready(&clinic, decoction).await;
    clinic.ilse.acknowledge(&decoction).await.expect(201);
    let syrup = |title: &str, honey: &str, decoction: &str| {
        let mut content = formula("syrup", MOUTH, "food", &[("honey", honey)]);
        content["title"] = json!(title);
        let nested = json!({ "formula": "Decoction of thyme", "amount": decoction });
        content["phases"][0]["lines"].as_array_mut().unwrap().push(nested);
        content
    };
    for (title, honey, decoction, kept, date) in [
        ("Half and half", "500 g", "500 g", "unpreserved", "2026-03-03"),
        ("Five to one", "500 g", "100 g", "preserved", "2026-09-02"),
    ] {
        let content = syrup(title, honey, decoction);
        let evaluation = evaluated(&clinic.ilse, &content).await;
        assert_eq!(evaluation["preservation"]["value"], kept, "{title}");
        let honey = share(&evaluation, "honey");
        near(number(figure(&evaluation, "water")), 1.0 - honey * 0.825, 1e-6);
        let revision = ready(&clinic, content).await;
        let recipe = clinic
            .noor
            .get(&format!("/v1/revisions/{revision}/recipe?explain=true&made_on=2026-03-02"))
            .await;
        assert_eq!(recipe.expect(200).json["use_by"]["date"], date, "{title}");
    }
    clinic.stop().await;
}
