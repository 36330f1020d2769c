//! What a line may say, how it was read, and what is refused with which cure.

use serde_json::json;
use stillroom_tests::TeachingClinic;

use super::{SKIN, evaluated, formula, line, near, with};

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_be_weighed_is_refused_kindly_with_the_cure() {
    let clinic = TeachingClinic::start().await;
    for (amount, cure) in [
        ("a pinch", "Weigh yours once and write the mass, such as 0.3 g"),
        ("5 g 5 g", "is two amounts. Write one, such as 5 g"),
        ("3 furlongs", "Use one of these: ug, mg, g, kg"),
        ("3 furlongs", "imp fl oz, imp cup"),
        ("80", "has no unit. Add one of these"),
        ("4:1 in 45 %", "Write DER 4:1"),
        ("1:5 stirred in oil", "1:2 fresh in 95 %"),
        ("q.s. pH", "no target pH for q.s. pH. Enter `target_ph`, such as 4.5-5.0"),
        ("q.s. pH 15", "A pH lies from 0 to 14"),
        ("5 mg/", "1 mg/5 mL"),
        ("8-10 %", "Enter one amount, such as 8 %."),
    ] {
        let content =
            formula("Water", "lotion", SKIN, &[("purified water", "50 g"), ("lactic acid", amount)]);
        let refused = clinic.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await;
        assert!(refused.text.contains(cure), "{amount}: {}", refused.text);
        refused.fields(&["/content/phases/0/lines/1/amount"]);
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn concentrations_and_ratio_strengths_stand_in_formulas_and_at_the_calculator() {
    let clinic = TeachingClinic::start().await;
    // 1 mg in 5 mL of 500 mL are 0.1 g; one in 500 of the whole.
    let lines = [("citric acid", "1 mg/5 mL"), ("purified water", "q.s. 500 mL")];
    let found = evaluated(&clinic.ilse, formula("Wash", "lotion", SKIN, &lines)).await;
    near(&line(&found, 0)["mass"], 0.1, 1e-9);
    let lines = [("citric acid", "1 in 500"), ("purified water", "q.s. 1000 g")];
    let found = evaluated(&clinic.ilse, formula("Wash", "lotion", SKIN, &lines)).await;
    near(&line(&found, 0)["mass"], 2.0, 1e-9);
    for (text, percent, unit) in
        [("1 mg/5 mL", "0.02", "% w/v"), ("1 in 500", "0.2", "%"), ("250 mcg/mL", "0.025", "% w/v")]
    {
        let asked = json!({ "statement": { "strength": text } });
        let said = clinic.noor.post("/v1/calculations/strength", asked).await.expect(200).json;
        let figure = &said["figures"][0];
        assert_eq!((&figure["value"], &figure["unit"]), (&json!(percent), &json!(unit)), "{text}");
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn drops_and_bare_spoons_say_how_they_were_read() {
    let clinic = TeachingClinic::start().await;
    let content = formula(
        "Salve",
        "salve",
        SKIN,
        &[("olive oil", "2 tbsp"), ("lavender oil", "30 drops"), ("glycerol", "5 drops")],
    );
    let found = evaluated(&clinic.ilse, content.clone()).await;
    let read = |at: usize| line(&found, at)["read_as"].as_str().unwrap_or_default().to_owned();
    assert!(read(0).contains("US tablespoon"), "{}", read(0));
    assert_eq!(
        read(1),
        "30 drops is read at 20 drops per mL (20 drops of essential oil counted as 1 mL; droppers differ; common practice)"
    );
    // 1.5 mL of 0.885 g/mL, the middle of 0.880 to 0.890.
    near(&line(&found, 1)["mass"], 1.5 * 0.885, 1e-6);
    assert!(
        line(&found, 2)["mass"]["unknown"].as_str().unwrap().contains("drops per mL of glycerol (write ")
    );

    // The clinic counts the drops of its own dropper and writes them down once: 16 drops of glycerol in a mL.
    let listed = clinic.ilse.get("/v1/materials?search=glycerol").await.expect(200).json;
    let id =
        listed["items"].as_array().unwrap().iter().find(|it| it["name"] == "glycerol").unwrap()["id"].clone();
    let entry =
        clinic.ilse.get(&format!("/v1/materials/{}/entry", id.as_str().unwrap())).await.expect(200).json;
    let mut revised = entry["entry"].clone();
    revised["drops_per_ml"] = json!("16");
    let change =
        json!({ "revise_material": { "material": id, "version": entry["version"], "entry": revised } });
    let made = clinic
        .ilse
        .post("/v1/amendments", json!({ "change": change, "reason": "Counted with our dropper." }))
        .await
        .expect(201);
    if made.json["state"] == "awaiting_second_person" {
        let path = format!("/v1/amendments/{}/decision", made.id());
        clinic.marek.post(&path, json!({ "decision": "confirm" })).await.expect(200);
    }
    let found = evaluated(&clinic.ilse, content).await;
    near(&line(&found, 2)["mass"], 5.0 / 16.0 * 1.2612, 1e-6);
    assert!(line(&found, 2)["read_as"].as_str().unwrap().contains("16 drops per mL"));
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_brings_a_lotion_to_its_ph_is_unknown_by_itself_and_its_limit_is_not_within() {
    let clinic = TeachingClinic::start().await;
    let content = formula(
        "Lotion",
        "lotion",
        SKIN,
        &[("purified water", "q.s. 100 g"), ("glycerol", "5 g"), ("lactic acid", "q.s. pH")],
    );
    let found = evaluated(&clinic.ilse, with(content, "target_ph", json!("4.5-5.0"))).await;
    near(&line(&found, 0)["mass"], 95.0, 1e-9);
    near(&found["total"], 100.0, 1e-9);
    assert!(line(&found, 2)["mass"]["unknown"].as_str().unwrap().contains("lactic acid"));
    let acid =
        found["composition"].as_array().unwrap().iter().find(|it| it["name"] == "lactic acid").unwrap();
    assert!(acid["share"]["value"].is_null(), "{acid}");
    assert!(
        found["unknown"].as_array().unwrap().iter().any(|it| it.as_str().unwrap().contains("lactic acid"))
    );
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_ratio_that_contradicts_its_menstruum_is_refused_where_it_stands() {
    let clinic = TeachingClinic::start().await;
    for (ratio, menstruum, cure) in [
        ("1:5 in 60 %", "ethanol 45 %", "45 % by volume"),
        ("1:5 in oil", "ethanol 45 %", "names an oil"),
        ("1:5 fresh in 45 %", "ethanol 45 %", "dried calendula flower"),
        ("1:5 v/v", "ethanol 45 %", "Write the ratio w/v"),
        ("DER 4:1", "ethanol 45 %", "state the yield"),
    ] {
        let lines = [("dried calendula flower", ratio), (menstruum, "500 mL")];
        let content = formula("Tincture", "tincture", "by mouth", &lines);
        let refused = clinic.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await;
        assert!(refused.text.contains(cure), "{ratio}: {}", refused.text);
        refused.fields(&["/content/phases/0/lines/0/amount"]);
    }
    clinic.stop().await;
}
