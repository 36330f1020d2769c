//! Figures that a practitioner relies on, from the formula to the evaluation, the recipe, the batch and the label.

use serde_json::{Value, json};
use stillroom_tests::{Caller, TeachingClinic};

mod activity;
mod dates;
mod evaporation;
mod kinds;
mod limits;
mod measured;
mod spirits;
mod whole;
mod yields;

/// A formula of one phase. Each line is a material and its amount.
fn formula(kind: &str, route: &str, regime: &str, lines: &[(&str, &str)]) -> Value {
    let lines: Vec<Value> =
        lines.iter().map(|(material, amount)| json!({ "material": material, "amount": amount })).collect();
    json!({
        "title": format!("Trial {kind}"), "preparation": kind, "route": route, "regime": regime,
        "phases": [{ "name": "all", "lines": lines }],
        "method": [{ "do": "Mix" }],
    })
}

/// The same with a field of its own.
fn with(mut content: Value, field: &str, value: Value) -> Value {
    content[field] = value;
    content
}

/// The evaluation of a formula that is not saved.
async fn evaluated(caller: &Caller, content: &Value) -> Value {
    caller.post("/v1/evaluations?explain=true", json!({ "content": content })).await.expect(200).json
}

/// A figure by its name, among `figures`.
#[track_caller]
pub(crate) fn figure<'a>(of: &'a Value, name: &str) -> &'a Value {
    let figures = of["figures"].as_array().unwrap_or_else(|| panic!("no figures in {of}"));
    figures.iter().find(|figure| figure["name"] == name).unwrap_or_else(|| panic!("no {name:?} in {of}"))
}

/// The number of a figure.
#[track_caller]
fn number(figure: &Value) -> f64 {
    stillroom_tests::figures::number(figure)
}

/// The share of a material in a composition.
#[track_caller]
fn share(evaluation: &Value, material: &str) -> f64 {
    let leaves = evaluation["composition"].as_array().unwrap();
    let leaf = leaves.iter().find(|leaf| leaf["name"] == material);
    number(&leaf.unwrap_or_else(|| panic!("no {material} in {evaluation}"))["share"])
}

#[track_caller]
fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not within {within} of {b}");
}

/// Approves a formula and acknowledges it for the student.
async fn ready(clinic: &TeachingClinic, content: Value) -> String {
    let revision = clinic.approved(content).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    revision
}

/// Opens a batch and answers where its entries go.
async fn opened(clinic: &TeachingClinic, revision: &str, make_for: Value) -> String {
    let batch = clinic.noor.post("/v1/batches", json!({ "revision": revision, "make_for": make_for })).await;
    format!("/v1/batches/{}/entries", batch.expect(201).id())
}

/// Weighs lines; answers the record after the last.
async fn weighed(clinic: &TeachingClinic, entries: &str, lines: &[(&str, &str)]) -> Value {
    let mut record = Value::Null;
    for (line, quantity) in lines {
        let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A", "reason_later": true });
        record = clinic.noor.entered(entries, entry).await.json;
    }
    record
}
