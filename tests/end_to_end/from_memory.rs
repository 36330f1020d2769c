//! What is read from memory: it opens for nobody to whom it is closed, and it never shows what was before.

mod shared;

use serde_json::{Value, json};
use stillroom_tests::{Caller, TeachingClinic};

use crate::formulas::{cream, infused_oil};

/// The cream with its oil, which the student has acknowledged; the oil itself only by whoever wrote it.
async fn with_cream() -> (TeachingClinic, String, String) {
    let clinic = TeachingClinic::start().await;
    let oil = clinic.approved(infused_oil()).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let revision = clinic.approved(cream()).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    (clinic, revision, oil)
}

async fn opened(maker: &Caller, revision: &str) -> String {
    let make_for = json!({ "containers": 4, "fill": "25 g", "made_on": "2026-03-02" });
    let batch = maker.post("/v1/batches", json!({ "revision": revision, "make_for": make_for })).await;
    let record = format!("/v1/batches/{}", batch.expect(201).id());
    for (line, quantity) in [("1.1", "8 g"), ("1.2", "30 g"), ("2.1", "0.4 g"), ("2.2", "61.6 g")] {
        let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A" });
        maker.post(&format!("{record}/entries"), entry).await.expect(201);
    }
    record
}

/// The same answer three times: read anew, perhaps on another worker, and from memory.
async fn again(caller: &Caller, path: &str) -> Value {
    let first = caller.get(path).await.expect(200).json;
    for _ in 0..4 {
        assert_eq!(caller.get(path).await.expect(200).json, first, "{path}");
    }
    first
}

/// Which of what stands in a record tells the amounts of what is nested.
fn every_level(record: &Value) -> bool {
    !record["as_made"]["evaluation"].is_null()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_record_in_memory_opens_for_nobody_who_may_not_read_it() {
    let (clinic, revision, oil) = with_cream().await;
    let other = clinic.clinic.person("tomas.lind", "student").await;
    let ines = clinic.clinic.person("ines.keller", "instructor").await;
    let outsider = clinic.clinic.person("olga.sand", "instructor").await;
    let members = format!("/v1/libraries/{}/members", clinic.library);
    for member in [&other, &ines] {
        clinic.ilse.put_bare(&format!("{members}/{}", member.id)).await.expect(204);
    }
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let batch = opened(&clinic.noor, &revision).await;
    assert!(!every_level(&again(&clinic.noor, &batch).await), "the oil is closed to the maker");
    assert!(every_level(&again(&clinic.ilse, &batch).await), "both are open to their author");

    other.get(&batch).await.expect(404);
    outsider.get(&batch).await.expect(404);
    clinic.clinic.administrator.get(&batch).await.expect(404);
    ines.get(&batch).await.problem(403, "gate-closed");
    let key = clinic.clinic.api_client(&clinic.ilse, &["recipes:read"], &[&clinic.library]).await;
    key.get(&batch).await.expect(403);

    // With a grant for the cream alone the instructor sees the record, and nothing of the oil.
    ines.acknowledge(&revision).await.expect(201);
    assert!(!every_level(&again(&ines, &batch).await));
    assert!(every_level(&again(&clinic.ilse, &batch).await));
    ines.acknowledge(&oil).await.expect(201);
    assert!(every_level(&again(&ines, &batch).await));

    clinic.ilse.delete(&format!("{members}/{}", ines.id)).await.expect(204);
    ines.get(&batch).await.expect(404);
    clinic.ilse.delete(&format!("{members}/{}", clinic.noor.id)).await.expect(204);
    clinic.noor.get(&batch).await.expect(404);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_record_in_memory_is_never_the_one_before() {
    let (clinic, revision, _) = with_cream().await;
    let noor = &clinic.noor;
    let batch = opened(noor, &revision).await;
    clinic.marek.acknowledge(&revision).await;
    let entries = |record: &Value| record["entries"].as_array().unwrap().len();
    assert_eq!(entries(&again(noor, &batch).await), 4);
    let tag = noor.get(&batch).await.etag();
    let unchanged = noor.send(reqwest::Method::GET, &batch, &[("if-none-match", tag.as_str())], None).await;
    unchanged.expect(304);

    let note = json!({ "kind": "observation", "note": "It has thickened." });
    noor.post(&format!("{batch}/entries"), note).await.expect(201);
    let changed = noor.send(reqwest::Method::GET, &batch, &[("if-none-match", tag.as_str())], None).await;
    assert_eq!(entries(&changed.expect(200).json), 5);
    assert_eq!(again(&clinic.marek, &batch).await["state"], "making");
    noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    assert_eq!(again(&clinic.marek, &batch).await["state"], "submitted");
    let verdict = json!({ "verdict": "return", "summary": "Which lot was the wax?", "comments": [] });
    clinic.marek.post(&format!("{batch}/reviews"), verdict).await.expect(201);
    let record = again(noor, &batch).await;
    assert_eq!(record["state"], "returned");
    assert_eq!(record["submissions"][0]["review"]["summary"], "Which lot was the wax?");
    clinic.stop().await;
}

/// The notice stands in recipes and caution sets, and belongs to the policy.
#[tokio::test(flavor = "multi_thread")]
async fn a_new_notice_stands_at_once_in_everything_that_shows_it() {
    let (clinic, revision, _) = with_cream().await;
    let recipe = format!("/v1/revisions/{revision}/recipe");
    let paths = [
        recipe.clone(),
        format!("{recipe}?containers=12&fill=30%20g&readability=0.1%20g"),
        format!("{recipe}?mass=250%20g"),
        format!("/v1/revisions/{revision}/cautions"),
    ];
    let notice =
        |answer: &Value| answer.pointer("/caution_set/notice").or(answer.get("notice")).unwrap().clone();
    for path in &paths {
        again(&clinic.noor, path).await;
    }
    let administrator = &clinic.clinic.administrator;
    let policy = administrator.get("/v1/policy").await.expect(200);
    let mut content = policy.json["content"].clone();
    content["notice"] = json!("Ask first. Patch-test first.");
    content["reason"] = json!("In plainer words.");
    administrator.put("/v1/policy", &policy.etag(), content).await.expect(200);
    for path in &paths {
        assert_eq!(notice(&again(&clinic.noor, path).await), "Ask first. Patch-test first.", "{path}");
    }
    clinic.stop().await;
}

/// From memory or from the database, a recipe is the same, whatever was asked for.
#[tokio::test(flavor = "multi_thread")]
async fn an_asked_quantity_from_memory_is_what_the_database_gives() {
    let (clinic, revision, _) = with_cream().await;
    let asks = [
        "",
        "?mass=250%20g",
        "?containers=12&fill=30%20g&transfer_loss=4%20%25&readability=0.1%20g",
        "?line=1.2&line_amount=75%20g",
        "?made_on=2026-03-02&application=2%20g",
        "?containers=3&fill=30%20mL&density=0.95%20g%2FmL",
    ];
    let path = |ask: &str| format!("/v1/revisions/{revision}/recipe{ask}");
    let mut warm = Vec::new();
    for ask in asks {
        warm.push(again(&clinic.noor, &path(ask)).await);
    }
    clinic.noor.get(&path("?containers=12")).await.fields(&["?fill"]);
    // Another service on the same database has nothing in memory.
    let second = stillroom_tests::clinic::serve(&clinic.clinic.database, &[]).await;
    let elsewhere = Caller::nobody(&format!("http://{}", second.address));
    let noor = stillroom_tests::clinic::sign_in(&elsewhere, "noor.haddad").await;
    for (ask, warm) in asks.iter().zip(warm) {
        assert_eq!(noor.get(&path(ask)).await.expect(200).json, warm, "{ask}");
    }
    second.stop().await.unwrap();
    clinic.stop().await;
}

/// A class that makes the same asks for the same, each by a grant of their own.
#[tokio::test(flavor = "multi_thread")]
async fn an_asked_quantity_in_memory_opens_by_a_grant_of_ones_own() {
    let (clinic, revision, _) = with_cream().await;
    let other = clinic.clinic.person("tomas.lind", "student").await;
    let member = format!("/v1/libraries/{}/members/{}", clinic.library, other.id);
    clinic.ilse.put_bare(&member).await.expect(204);
    let path = format!("/v1/revisions/{revision}/recipe?containers=12&fill=30%20g&readability=0.1%20g");
    let first = again(&clinic.noor, &path).await;
    other.get(&path).await.problem(403, "gate-closed");
    other.acknowledge(&revision).await.expect(201);
    assert_eq!(again(&other, &path).await, first);
    // Explained, and for another balance, it is another answer.
    let explained = again(&other, &format!("{path}&explain=true")).await;
    assert!(explained.to_string().len() > first.to_string().len());
    let finer = again(&other, &path.replace("0.1%20g", "0.01%20g")).await;
    assert_ne!(finer["phases"], first["phases"]);
    clinic.ilse.delete(&member).await.expect(204);
    other.get(&path).await.expect(404);
    assert_eq!(again(&clinic.noor, &path).await, first);
    clinic.stop().await;
}
