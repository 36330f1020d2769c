//! A measured water activity decides whether something can grow: stated in the formula with where it is filed, or measured
//! of a batch. The line is 0.60 (USP <795> of 2023).

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{evaluated, formula, opened, ready, weighed, with};

const MADE: &str = "2026-03-02";
/// 14 days, of which the day of making is the first.
const UNPRESERVED: &str = "2026-03-15";
/// 180 days, of which the day of making is the first.
const NONAQUEOUS: &str = "2026-08-28";

/// Lozenges from a paste that holds too little sugar to keep by it, and are dried afterwards.
fn lozenge(title: &str, activity: Option<Value>) -> Value {
    let lines = [("sucrose", "50 g"), ("glycerol", "10 g"), ("purified water", "40 g")];
    let content = formula("lozenge", "by mouth", "herbal_medicine", &lines);
    let content = with(content, "title", json!(title));
    match activity {
        Some(activity) => with(content, "water_activity", activity),
        None => content,
    }
}

async fn date(clinic: &TeachingClinic, revision: &str) -> Value {
    let path = format!("/v1/revisions/{revision}/recipe?explain=true&made_on={MADE}");
    clinic.noor.get(&path).await.expect(200).json["use_by"].clone()
}

async fn warned(clinic: &TeachingClinic, revision: &str) -> bool {
    let set = clinic.noor.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200).json;
    set.to_string().contains("calculated: nothing in the watery phase is shown to preserve it")
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formula_states_its_water_activity_with_where_it_is_filed() {
    let clinic = TeachingClinic::start().await;
    let filed = |value: &str| Some(json!({ "value": value, "source": "laboratory sheet 7" }));
    for (title, activity, until, growing) in [
        ("Not measured", None, UNPRESERVED, true),
        ("Too moist", filed("0.60"), UNPRESERVED, true),
        ("Dried through", filed("aw 0.599"), NONAQUEOUS, false),
    ] {
        let revision = ready(&clinic, lozenge(title, activity)).await;
        let use_by = date(&clinic, &revision).await;
        assert_eq!(use_by["date"], until, "{title}: {use_by}");
        assert_eq!(warned(&clinic, &revision).await, growing, "{title}");
        let told = use_by.to_string().contains("laboratory sheet 7");
        assert_eq!(told, title != "Not measured", "{title}: {use_by}");
    }
    let kept = lozenge("Kept", filed("0.5"));
    let library = format!("/v1/libraries/{}/formulas", clinic.library);
    let added = clinic.ilse.post(&library, json!({ "content": kept })).await.expect(201);
    let draft = added.text_at("/revisions/0/id");
    let read = clinic.ilse.get(&format!("/v1/revisions/{draft}/draft")).await.expect(200).json;
    assert_eq!(read["water_activity"], kept["water_activity"], "{read}");
    let dry = evaluated(&clinic.ilse, &kept).await;
    assert!(dry["preservation"].is_null(), "nothing watery is left to preserve: {dry}");
    for (field, wrong) in [
        ("value", json!({ "value": "1.01", "source": "sheet 7" })),
        ("value", json!({ "value": "dry", "source": "sheet 7" })),
        ("source", json!({ "value": "0.5", "source": " " })),
    ] {
        let content = lozenge("Wrong", Some(wrong));
        let refused = clinic.ilse.post("/v1/evaluations", json!({ "content": content })).await;
        refused.fields(&[&format!("/content/water_activity/{field}")]);
    }
    clinic.stop().await;
}

/// What is measured of a batch counts in the place of what its formula states, and the last reading counts.
#[tokio::test(flavor = "multi_thread")]
async fn a_batch_is_dated_by_its_own_last_water_activity() {
    let clinic = TeachingClinic::start().await;
    let stated = json!({ "value": "0.55", "source": "laboratory sheet 7" });
    let revision = ready(&clinic, lozenge("Pastilles", Some(stated))).await;
    let entries = opened(&clinic, &revision, json!({ "mass": "100 g", "made_on": MADE })).await;
    let lines = [("1.1", "50 g"), ("1.2", "10 g"), ("1.3", "40 g")];
    let record = weighed(&clinic, &entries, &lines).await;
    assert_eq!(record["as_made"]["use_by"]["date"], NONAQUEOUS, "{}", record["as_made"]);
    let mut last = String::new();
    for (read, until) in [("0.72", UNPRESERVED), ("aw 0.58", NONAQUEOUS)] {
        let entry = json!({ "kind": "water_activity", "quantity": read, "note": "dew-point meter" });
        let written = clinic.noor.post(&entries, entry).await.expect(201).json;
        assert_eq!(written["entry"]["quantity"], read);
        assert_eq!(written["entry"]["water_activity"]["value"], read.trim_start_matches("aw "), "{written}");
        assert_eq!(written["findings"], json!([]));
        last = written["entry"]["id"].as_str().unwrap().to_owned();
        let record = clinic.noor.get(entries.trim_end_matches("/entries")).await.expect(200).json;
        assert_eq!(record["as_made"]["use_by"]["date"], until, "{read}: {}", record["as_made"]);
    }
    let corrected = json!({
        "kind": "water_activity", "quantity": "0.85", "corrects": last, "reason": "Read the wrong sample.",
    });
    clinic.noor.post(&entries, corrected).await.expect(201);
    let record = clinic.noor.get(entries.trim_end_matches("/entries")).await.expect(200).json;
    assert_eq!(record["as_made"]["use_by"]["date"], UNPRESERVED, "{}", record["as_made"]);
    for wrong in ["1.2", "moist", "-0.1"] {
        let entry = json!({ "kind": "water_activity", "quantity": wrong });
        clinic.noor.post(&entries, entry).await.fields(&["/quantity"]);
    }
    clinic.stop().await;
}

/// What a further revision begins with stands in the recipe, behind the gate, and in the record of a batch.
#[tokio::test(flavor = "multi_thread")]
async fn a_recipe_tells_yield_daily_use_and_evidence_to_whoever_it_is_open_to() {
    let clinic = TeachingClinic::start().await;
    let stated = [
        ("yield", json!("100 g")),
        ("used_daily", json!("5 g")),
        ("stability", json!({ "period": "60 days", "source": "stability file 12" })),
        ("water_activity", json!({ "value": "0.5", "source": "laboratory sheet 7" })),
    ];
    let mut content = lozenge("All of it", None);
    for (field, value) in &stated {
        content = with(content, field, value.clone());
    }
    let revision = clinic.approved(content).await;
    let path = format!("/v1/revisions/{revision}/recipe");
    let closed = clinic.noor.get(&path).await;
    assert_eq!(closed.status, 403, "{}", closed.text);
    for secret in ["stability file 12", "laboratory sheet 7"] {
        assert!(!closed.text.contains(secret), "{}", closed.text);
    }
    clinic.noor.acknowledge(&revision).await.expect(201);
    let recipe = clinic.noor.get(&path).await.expect(200).json;
    let entries = opened(&clinic, &revision, json!({ "mass": "100 g" })).await;
    let record = clinic.noor.get(entries.trim_end_matches("/entries")).await.expect(200).json;
    for (field, value) in &stated {
        assert_eq!(recipe[field], *value, "{field}");
        assert_eq!(record["recipe"][field], *value, "{field}");
    }
    clinic.stop().await;
}
