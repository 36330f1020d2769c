//! A bench in the units of its recipe, a lotion with a target pH, and the balance in the recipe's own quantity.

use serde_json::{Value, json};
use stillroom_tests::{Caller, TeachingClinic};

use super::{SKIN, figure, formula, line, near, with};

async fn opened(caller: &Caller, revision: &str, make_for: Value) -> String {
    caller.acknowledge(revision).await.expect(201);
    let batch =
        caller.post("/v1/batches", json!({ "revision": revision, "make_for": make_for })).await.expect(201);
    format!("/v1/batches/{}", batch.id())
}

/// Writes an entry and answers the whole record.
async fn written(caller: &Caller, batch: &str, entry: Value) -> Value {
    caller.post(&format!("{batch}/entries"), entry).await.expect(201);
    caller.get(&format!("{batch}?explain=true")).await.expect(200).json
}

fn last(record: &Value) -> &Value {
    record["entries"].as_array().unwrap().last().unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn drops_spoons_and_millilitres_are_taken_by_what_the_recipe_says_and_kept_as_typed() {
    let clinic = TeachingClinic::start().await;
    let revision = clinic
        .approved(formula(
            "Rub",
            "liniment",
            SKIN,
            &[("olive oil", "2 tbsp"), ("lavender oil", "30 drops"), ("emulsifying wax", "5 g")],
        ))
        .await;
    let noor = &clinic.noor;
    let batch = opened(noor, &revision, json!({})).await;
    let weighed = |line: &str, quantity: &str| json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A", "reason_later": true });
    for (line, quantity, grams, by) in [
        ("1.1", "2 tbsp", 2.0 * 14.786_764_781_25 * 0.9145 * 0.998_207, "2 tbsp, 0.9129 g/mL"),
        ("1.1", "30 mL", 30.0 * 0.9145 * 0.998_207, "30 mL, 0.9129 g/mL"),
        ("1.2", "30 drops", 30.0 / 20.0 * 0.885, "30 drops at 20 drops per mL, 0.885 g/mL"),
        ("1.2", "25 drops at 25 per mL", 0.885, "25 drops at 25 per mL, 0.885 g/mL"),
    ] {
        let record = written(noor, &batch, weighed(line, quantity)).await;
        let entry = last(&record);
        assert_eq!(entry["quantity"], quantity, "as typed");
        let found = stillroom_tests::figures::number(&entry["grams"]);
        assert!((found - grams).abs() < 1e-3, "{quantity}: {entry}");
        assert_eq!(entry["converted_by"], by, "{entry}");
    }
    let record = written(noor, &batch, weighed("1.2", "1.3 g")).await;
    assert!(last(&record)["converted_by"].is_null(), "a mass needs no density");
    // What nobody recorded is asked for, with the cure.
    let refused = noor.post(&format!("{batch}/entries"), weighed("1.1", "20 drops")).await;
    assert!(refused.text.contains("The drops per mL of olive oil are not recorded"), "{}", refused.text);
    refused.fields(&["/quantity"]);
    let refused = noor.post(&format!("{batch}/entries"), weighed("1.3", "1 tsp")).await;
    assert!(refused.text.contains("density of emulsifying wax is unknown"), "{}", refused.text);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_yield_is_measured_in_millilitres_by_the_density_that_was_worked_out() {
    let clinic = TeachingClinic::start().await;
    let lines = [("dried calendula flower", "1:5 in 45 %"), ("ethanol 45 %", "500 mL")];
    let tincture = with(formula("Tincture", "tincture", "by mouth", &lines), "yield", json!("400 mL"));
    let revision = clinic.approved(tincture).await;
    let batch = opened(&clinic.noor, &revision, json!({})).await;
    let record = written(&clinic.noor, &batch, json!({ "kind": "yield", "quantity": "390 mL" })).await;
    let grams = stillroom_tests::figures::number(&last(&record)["grams"]);
    assert!((grams - 390.0 * 0.93954).abs() < 0.01, "{}", last(&record));
    near(figure(&record["recipe"], "density"), 0.93954, 1e-4);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_preserved_lotion_is_judged_against_its_target_ph() {
    let clinic = TeachingClinic::start().await;
    let content = formula(
        "Lotion",
        "lotion",
        SKIN,
        &[
            ("purified water", "q.s. 100 g"),
            ("glycerol", "5 g"),
            ("potassium sorbate", "0.4 %"),
            ("lactic acid", "q.s. pH"),
        ],
    );
    let revision = clinic.approved(with(content, "target_ph", json!("pH 4.5-5.0"))).await;
    let noor = &clinic.noor;
    let batch = opened(noor, &revision, json!({})).await;
    let findings = |record: &Value, about: &str| -> Vec<Value> {
        let all = record["findings"].as_array().unwrap();
        all.iter().filter(|it| it["sentence"].as_str().unwrap().contains(about)).cloned().collect()
    };
    for (line, quantity) in [("1.1", "94.6 g"), ("1.2", "5 g"), ("1.3", "0.4 g")] {
        let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A", "reason_later": true });
        written(noor, &batch, entry).await;
    }
    let record = noor.get(&batch).await.expect(200).json;
    assert_eq!(record["recipe"]["target_ph"], "pH 4.5-5.0");
    assert_eq!(findings(&record, "The target is pH 4.5-5.0, but no pH is recorded.").len(), 1);
    // What was really put in is weighed, and counts in what was made.
    let acid = json!({ "kind": "weighing", "line": "1.4", "quantity": "0.6 g", "lot": "A" });
    let record = written(noor, &batch, acid).await;
    assert!(findings(&record, "lactic acid").is_empty(), "{}", record["findings"]);
    let made = record["as_made"]["evaluation"]["composition"].as_array().unwrap();
    let share = &made.iter().find(|it| it["name"] == "lactic acid").unwrap()["share"];
    near(share, 0.6 / 100.6, 1e-6);
    for (ph, missed) in [("5.6", true), ("4.7", false)] {
        let record = written(noor, &batch, json!({ "kind": "ph", "quantity": ph })).await;
        let found = findings(&record, "The target is pH 4.5-5.0");
        assert_eq!(found.len(), usize::from(missed), "{ph}: {found:?}");
        if missed {
            assert_eq!((&found[0]["kind"], &found[0]["recorded"]), (&json!("ph"), &json!("pH 5.6")));
        }
    }
    for wrong in ["sour", "5-4", "4.5-15"] {
        let content =
            with(formula("Lotion", "lotion", SKIN, &[("purified water", "1 g")]), "target_ph", json!(wrong));
        let refused = clinic.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await;
        refused.fields(&["/content/target_ph"]);
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_range_of_temperatures_judges_what_was_read() {
    let clinic = TeachingClinic::start().await;
    let mut content = formula("Salve", "salve", SKIN, &[("yellow beeswax", "10 g"), ("olive oil", "50 g")]);
    content["method"] = json!([{ "do": "Melt", "temperature": "60-70 C" }]);
    let revision = clinic.approved(content).await;
    let batch = opened(&clinic.noor, &revision, json!({})).await;
    for (read, broken) in [("60 C", 0), ("158 F", 0), ("71 C", 1)] {
        let entry = json!({ "kind": "temperature", "step": 1, "quantity": read });
        let record = written(&clinic.noor, &batch, entry).await;
        let found = record["findings"].as_array().unwrap();
        assert_eq!(found.iter().filter(|it| it["kind"] == "temperature").count(), broken, "{read}");
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_balance_counts_in_the_recipes_own_quantity_too_with_the_aliquot() {
    let clinic = TeachingClinic::start().await;
    let revision = clinic
        .approved(formula(
            "Wash",
            "lotion",
            SKIN,
            &[("citric acid", "0.12 g"), ("purified water", "q.s. 100 g")],
        ))
        .await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    let read = async |query: &str| {
        clinic.noor.get(&format!("/v1/revisions/{revision}/recipe{query}")).await.expect(200).json
    };
    let own = read("?readability=0.1%20g").await;
    let asked = read("?mass=100%20g&readability=0.1%20g").await;
    // The same lines, whether the own quantity is named or not.
    assert_eq!(own["phases"], asked["phases"]);
    let small = line(&own, 0);
    assert!(small["weighing_note"].as_str().unwrap().contains("by aliquot"), "{small}");
    let aliquot = small["aliquot"].as_array().unwrap();
    assert_eq!(aliquot[0]["name"], "weigh of it");
    near(&aliquot[0], 1.0, 1e-9);
    assert_eq!(line(&own, 1)["weigh"]["value"], "99.9");
    near(&line(&own, 1)["rounding"], 0.02, 1e-9);
    clinic.stop().await;
}
