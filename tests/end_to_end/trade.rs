//! Questions that the trade asks of a formula, through HTTP, one subject a file.

mod comfrey;
mod daisies;
mod fresh_herbs;
mod limonene;
mod methyl_eugenol;
mod peppermint;
mod sorbate;

use serde_json::{Value, json};
use stillroom_tests::Caller;

const SKIN: &str = "on intact skin, leave-on";

/// A formula of one phase: lines of a name and an amount, where a name in brackets is another formula.
fn formula(title: &str, preparation: &str, route: &str, regime: &str, lines: &[(&str, &str)]) -> Value {
    let lines: Vec<Value> = lines
        .iter()
        .map(|(name, amount)| match name.strip_prefix('[').and_then(|name| name.strip_suffix(']')) {
            Some(nested) => json!({ "formula": nested, "amount": amount }),
            None => json!({ "material": name, "amount": amount }),
        })
        .collect();
    json!({
        "title": title, "preparation": preparation, "route": route, "regime": regime,
        "phases": [{ "name": "all of it", "lines": lines }],
        "method": [{ "do": "Mix" }]
    })
}

/// How a formula comes out, without keeping it.
async fn evaluated(caller: &Caller, content: Value) -> Value {
    caller.post("/v1/evaluations?explain=true", json!({ "content": content })).await.expect(200).json
}

/// What the one limit on a subject comes to, by where it holds.
#[track_caller]
fn outcome<'a>(evaluation: &'a Value, subject: &str, jurisdiction: &str) -> &'a str {
    let limits = evaluation["limits"].as_array().unwrap();
    let on = |limit: &&Value| limit["subject"] == subject && limit["jurisdiction"] == jurisdiction;
    let found: Vec<&Value> = limits.iter().filter(on).collect();
    assert_eq!(found.len(), 1, "limits on {subject} in {jurisdiction}: {limits:?}");
    found[0]["outcome"].as_str().unwrap()
}

/// For whom a revision is meant.
async fn asked_for(caller: &Caller, revision: &str, audience: &str) -> Value {
    caller.get(&format!("/v1/revisions/{revision}/suitability?audience={audience}")).await.expect(200).json
}

/// The caution of a key, as the caution set has it; none where it is not in it.
async fn caution(caller: &Caller, revision: &str, key: &str) -> Option<Value> {
    let set = caller.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200);
    set.json["cautions"].as_array().unwrap().iter().find(|caution| caution["key"] == key).cloned()
}

/// Acknowledges a set as it is, but for one contraindication.
async fn acknowledge_all_but(caller: &Caller, revision: &str, left_out: &str) -> stillroom_tests::Answer {
    let set = caller.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200).json;
    let keys: Vec<&Value> = set["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|caution| caution["level"] == "contraindication" && caution["key"] != left_out)
        .map(|caution| &caution["key"])
        .collect();
    let body = json!({ "caution_set": set["digest"], "contraindications": keys });
    caller.post(&format!("/v1/revisions/{revision}/acknowledgements"), body).await
}
