//! The notation of the trade, from the formula to the bench, through HTTP.

mod amounts;
mod bench;
mod calculators;
mod composition;
mod herbalist;

use serde_json::{Value, json};
use stillroom_tests::Caller;

/// A formula of one phase: lines of a name and an amount, where a name in brackets is another formula.
fn formula(title: &str, preparation: &str, route: &str, lines: &[(&str, &str)]) -> Value {
    let lines: Vec<Value> = lines
        .iter()
        .map(|(name, amount)| match name.strip_prefix('[').and_then(|name| name.strip_suffix(']')) {
            Some(nested) => json!({ "formula": nested, "amount": amount }),
            None => json!({ "material": name, "amount": amount }),
        })
        .collect();
    json!({
        "title": title, "preparation": preparation, "route": route, "regime": "herbal_medicine",
        "phases": [{ "name": "all of it", "lines": lines }],
        "method": [{ "do": "Make it" }]
    })
}

/// The same with one more field.
fn with(mut content: Value, field: &str, value: Value) -> Value {
    content[field] = value;
    content
}

async fn evaluated(caller: &Caller, content: Value) -> Value {
    caller.post("/v1/evaluations?explain=true", json!({ "content": content })).await.expect(200).json
}

/// A line of the first phase of an evaluation.
fn line(evaluation: &Value, at: usize) -> &Value {
    &evaluation["phases"][0]["lines"][at]
}

#[track_caller]
fn figure<'a>(of: &'a Value, name: &str) -> &'a Value {
    let figures = of["figures"].as_array().unwrap();
    figures.iter().find(|figure| figure["name"] == name).unwrap_or_else(|| panic!("no {name:?} in {of}"))
}

#[track_caller]
fn near(value: &Value, expected: f64, within: f64) {
    let found = stillroom_tests::figures::number(value);
    assert!((found - expected).abs() <= within, "{found} is not {expected}: {value}");
}

const SKIN: &str = "on intact skin, leave-on";
