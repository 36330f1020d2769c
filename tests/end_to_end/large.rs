//! Formulas of many lines that nest one another, and calculations that take too long. What is counted is counted in the
//! tests of the calculations; here such formulas are answered at all, and what passes a maximum is refused with the cure.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use crate::formulas::infused_oil;

/// No calculation of these tests may be stopped, however busy the machine is.
const PATIENT: [(&str, &str); 1] = [("STILLROOM_CALCULATION_MILLISECONDS", "120000")];

fn of(title: &str, lines: Vec<Value>) -> Value {
    json!({
        "title": title, "preparation": "salve", "route": "on intact skin, leave-on", "regime": "cosmetic",
        "phases": [{ "name": "all", "lines": lines }],
        "method": [{ "do": "Melt together" }],
    })
}

fn materials(count: usize) -> Vec<Value> {
    let names = ["olive oil", "beeswax", "dried calendula flower", "lavender oil"];
    let line = |at: usize| json!({ "material": names[at % names.len()], "amount": "1 g" });
    (0..count).map(line).collect()
}

fn nesting(formula: &str, count: usize) -> Vec<Value> {
    vec![json!({ "formula": formula, "amount": "1 g" }); count]
}

/// Writes, approves and lets the author read a formula, so that it can be nested.
async fn nestable(clinic: &TeachingClinic, content: Value) -> String {
    let revision = clinic.approved(content).await;
    clinic.ilse.acknowledge(&revision).await.expect(201);
    revision
}

async fn three_levels_are_answered(lines: usize) {
    let clinic = TeachingClinic::start_with(&PATIENT).await;
    nestable(&clinic, of("First", materials(lines))).await;
    nestable(&clinic, of("Second", nesting("First", lines))).await;
    let third = of("Third", nesting("Second", lines));

    let evaluated =
        clinic.ilse.post("/v1/evaluations?explain=true", json!({ "content": third })).await.expect(200).json;
    assert_eq!(evaluated["total"]["value"], lines.to_string());
    assert_eq!(evaluated["composition"].as_array().unwrap().len(), 4);
    let herb = evaluated["figures"]
        .as_array()
        .unwrap()
        .iter()
        .find(|figure| figure["name"].as_str().unwrap().starts_with("dried herb per gram"));
    // It rests on the same figure of the nested formula for every line, and explains it once.
    let inputs = herb.unwrap()["inputs"].as_array().unwrap();
    let explained =
        inputs.iter().filter(|input| input["figure"]["inputs"].as_array().is_some_and(|it| !it.is_empty()));
    assert_eq!(explained.count(), 1);

    let approved = nestable(&clinic, third).await;
    let cautions = clinic.ilse.get(&format!("/v1/revisions/{approved}/cautions")).await.expect(200).json;
    let daisies =
        cautions["cautions"].as_array().unwrap().iter().find(|it| it["key"] == "allergy-asteraceae");
    assert_eq!(
        daisies.unwrap()["origins"][0],
        "Second > First > dried calendula flower > allergy group daisy family (Asteraceae)",
        "{daisies:?}"
    );
    let recipe = format!("/v1/revisions/{approved}/recipe?made_on=2026-03-02");
    assert!(clinic.ilse.get(&recipe).await.expect(200).json["use_by"]["date"].is_string());
    clinic.ilse.get(&format!("/v1/revisions/{approved}/label?made_on=2026-03-02")).await.expect(200);
}

#[tokio::test(flavor = "multi_thread")]
async fn three_levels_of_160_lines_are_evaluated_approved_and_dated() {
    three_levels_are_answered(160).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn three_levels_of_200_lines_are_evaluated_approved_and_dated() {
    three_levels_are_answered(200).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formula_past_a_maximum_is_refused_with_the_field_and_the_cure() {
    let clinic = TeachingClinic::start().await;
    let content = of("Endless", materials(201));
    let evaluated = clinic.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await;
    let saved = clinic
        .ilse
        .post(&format!("/v1/libraries/{}/formulas", clinic.library), json!({ "content": content }))
        .await;
    for refused in [evaluated, saved] {
        let problem = refused.problem(422, "invalid-request").json;
        assert_eq!(problem["errors"][0]["pointer"], "/content/phases", "{problem}");
        let detail = problem["errors"][0]["detail"].as_str().unwrap();
        assert!(detail.contains("200") && detail.contains("a formula of their own"), "{detail}");
    }

    // Each level nests the one before: twelve levels are the most, the formula itself included.
    nestable(&clinic, of("Level 1", materials(4))).await;
    for level in 2..=12 {
        nestable(&clinic, of(&format!("Level {level}"), nesting(&format!("Level {}", level - 1), 2))).await;
    }
    let content = of("Level 13", nesting("Level 12", 1));
    let problem = clinic
        .ilse
        .post("/v1/evaluations?explain=true", json!({ "content": content }))
        .await
        .problem(422, "invalid-request")
        .json;
    assert_eq!(problem["errors"][0]["pointer"], "/content/phases");
    assert!(problem["errors"][0]["detail"].as_str().unwrap().contains("at most 12 levels deep"), "{problem}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_calculation_past_its_time_is_refused_and_the_service_answers_others() {
    let settings = [("STILLROOM_CALCULATION_MILLISECONDS", "0"), ("STILLROOM_WORKERS", "1")];
    let clinic = TeachingClinic::start_with(&settings).await;
    let formulas = format!("/v1/libraries/{}/formulas", clinic.library);
    // More than there are cores: what was stopped has given its place back.
    for _ in 0..5 {
        let refused =
            clinic.ilse.post("/v1/evaluations?explain=true", json!({ "content": infused_oil() })).await;
        assert_eq!(refused.header("retry-after"), "1");
        let problem = refused.problem(503, "took-too-long").json;
        assert!(problem["detail"].as_str().unwrap().contains("split the formula"), "{problem}");
        clinic.ilse.get("/v1/me").await.expect(200);
    }
    clinic.ilse.post(&formulas, json!({ "content": infused_oil() })).await.problem(503, "took-too-long");
    let listed = clinic.ilse.get("/v1/formulas").await.expect(200).json;
    assert_eq!(listed["items"].as_array().unwrap().len(), 0, "nothing was saved: {listed}");
}
