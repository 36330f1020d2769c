//! What everybody relies on, changed: materials and cautions, by two people where it matters, and everybody reached.

mod cautions;
mod countersigned;
mod materials;
mod reached;
mod results;
mod tables;
mod turned;

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller};

/// Makes an amendment.
pub(crate) async fn amend(caller: &Caller, change: Value) -> Answer {
    caller.post("/v1/amendments", json!({ "reason": "Agreed among the teachers.", "change": change })).await
}

/// Confirms an amendment.
pub(crate) async fn confirm(caller: &Caller, amendment: &str) -> Answer {
    let decision = json!({ "decision": "confirm" });
    caller.post(&format!("/v1/amendments/{amendment}/decision"), decision).await
}

/// The id of a material by its name.
pub(crate) async fn material(caller: &Caller, name: &str) -> String {
    let found = caller.get(&format!("/v1/materials?search={}", name.replace(' ', "%20"))).await.expect(200);
    found.json["items"]
        .as_array()
        .unwrap()
        .iter()
        .find(|item| item["name"] == name)
        .unwrap_or_else(|| panic!("no {name} in {}", found.text))["id"]
        .as_str()
        .unwrap()
        .to_owned()
}

/// A caution of a revision's current set, by what its key or text holds.
pub(crate) async fn caution(caller: &Caller, revision: &str, part: &str) -> Option<Value> {
    let set = caller.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200);
    let holds = |it: &&Value| {
        it["key"].as_str().unwrap().contains(part) || it["text"].as_str().unwrap().contains(part)
    };
    set.json["cautions"].as_array().unwrap().iter().find(holds).cloned()
}

/// Reads the recipe of a revision.
pub(crate) async fn recipe(caller: &Caller, revision: &str) -> Answer {
    caller.get(&format!("/v1/revisions/{revision}/recipe")).await
}

/// A one-phase preparation of a title from these lines.
pub(crate) fn of_lines(title: &str, preparation: &str, lines: &Value) -> Value {
    json!({
        "title": title, "preparation": preparation, "route": "on intact skin, leave-on", "regime": "teaching_only",
        "phases": [{ "name": "all", "lines": lines }],
        "method": [{ "do": "Warm and stir" }],
    })
}
