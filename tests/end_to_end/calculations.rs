//! The calculators through HTTP: published check values with their sources, refusals with pointer and cure.

mod emulsions;
mod judged;
mod liquids;
mod measures;

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TestClinic};

/// Asks a calculator, as other tools do: without an Idempotency-Key.
pub(crate) async fn ask(caller: &Caller, noun: &str, question: Value) -> Answer {
    let body = question.to_string().into_bytes();
    let headers = [("content-type", "application/json")];
    caller.send(reqwest::Method::POST, &format!("/v1/calculations/{noun}"), &headers, Some(body)).await
}

/// The figure of this name.
#[expect(clippy::panic, reason = "an answer without it fails the test")]
#[track_caller]
fn figure<'a>(answer: &'a Answer, name: &str) -> &'a Value {
    answer.json["figures"]
        .as_array()
        .unwrap()
        .iter()
        .find(|figure| figure["name"] == name)
        .unwrap_or_else(|| panic!("no figure {name:?} in {}", answer.text))
}

/// The number of the figure of this name.
#[track_caller]
pub(crate) fn number(answer: &Answer, name: &str) -> f64 {
    stillroom_tests::figures::number(figure(answer, name))
}

/// Holds a figure to a published value.
#[track_caller]
fn near(answer: &Answer, name: &str, published: f64, within: f64) {
    let found = number(answer, name);
    assert!((found - published).abs() <= within, "{name} is {found}, published {published}");
}

/// Holds a refusal to one field and to words of its cure.
#[track_caller]
fn refused(answer: Answer, pointer: &str, cure: &str) {
    let answer = answer.fields(&[pointer]);
    let detail = answer.text_at("/errors/0/detail");
    assert!(detail.contains(cure), "{pointer}: {detail}");
}

#[tokio::test(flavor = "multi_thread")]
async fn anybody_who_is_known_may_calculate_and_nobody_else() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let printer = clinic.api_client(&ilse, &["acknowledge"], &[]).await;
    let question = json!({ "quantity": "1 kg", "to": "g" });
    for caller in [&ilse, &clinic.administrator, &printer] {
        let answer = ask(caller, "quantity", question.clone()).await.expect(200);
        assert_eq!(figure(&answer, "quantity")["value"], "1000");
    }
    ask(&clinic.nobody, "quantity", question.clone()).await.problem(401, "not-known");
    let odd = ask(&ilse, "quantity", json!({ "quantity": "1 kg", "to": "g", "owner_id": 1 })).await;
    odd.fields(&["/owner_id"]);
    ilse.get("/v1/calculations/quantity").await.problem(405, "method-not-allowed");
    clinic.stop().await;
}
