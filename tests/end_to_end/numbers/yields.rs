//! More cannot come out than went in: a stated yield is refused, a recorded one is kept and must be explained.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{evaluated, figure, formula, near, number, opened, ready, weighed, with};

const SKIN: &str = "on intact skin, leave-on";

fn oil(stated: &str) -> Value {
    let lines = [("dried calendula flower", "100 g"), ("olive oil", "1000 g")];
    with(formula("infused oil", SKIN, "cosmetic", &lines), "yield", json!(stated))
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stated_yield_above_what_stays_is_refused_with_the_figures() {
    let clinic = TeachingClinic::start().await;
    let refused = clinic.ilse.post("/v1/evaluations?explain=true", json!({ "content": oil("1050 g") })).await;
    let refused = refused.fields(&["/content/yield"]);
    assert!(refused.text.contains("1050 g exceeds the 1000 g that remain"), "{}", refused.text);
    clinic
        .ilse
        .post("/v1/evaluations?explain=true", json!({ "content": oil("1.2 L") }))
        .await
        .fields(&["/content/yield"]);
    // The most is allowed, and beside the author's yield stands what a press usually gives.
    let evaluation = evaluated(&clinic.ilse, &oil("1000 g")).await;
    near(number(figure(&evaluation, "expected yield")), 900.0, 1e-9);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recorded_yield_above_what_went_in_stays_as_read_and_must_be_explained() {
    let clinic = TeachingClinic::start().await;
    let revision = ready(&clinic, oil("850 g")).await;
    let entries = opened(&clinic, &revision, json!({ "mass": "850 g" })).await;
    weighed(&clinic, &entries, &[("1.1", "100 g"), ("1.2", "1000 g")]).await;
    let yields = json!({ "kind": "yield", "quantity": "1040 g" });
    let record = clinic.noor.entered(&entries, yields).await.json;
    let entry = record["entries"].as_array().unwrap().last().unwrap().clone();
    assert_eq!(entry["quantity"], "1040 g");
    let found = record["findings"].as_array().unwrap();
    let found = found.iter().find(|finding| finding["kind"] == "yield").expect("a finding of the yield");
    assert!(
        found["sentence"].as_str().unwrap().contains("exceeds the input without dried herbs, 1000 g."),
        "{found}"
    );

    let batch = entries.trim_end_matches("/entries");
    clinic.noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let review = |comments: Value| json!({ "verdict": "accept", "summary": "Good.", "comments": comments });
    let reviews = format!("{batch}/reviews");
    let refused = clinic.ilse.post(&reviews, review(json!([]))).await.fields(&["/comments"]);
    assert!(refused.text.contains("exceeds the input"), "{}", refused.text);
    let about = json!([{ "entry": entry["id"], "text": "Weighed with the jar; 190 g taken off." }]);
    let accepted = clinic.ilse.post(&reviews, review(about)).await.expect(201).json;
    assert_eq!(accepted["state"], "accepted");
    clinic.stop().await;
}
