//! Person B replays every id that person A created: in the address, in the query, and in the body.

use serde_json::json;
use stillroom_tests::Caller;
use stillroom_tests::database::IN_THE_BACKGROUND;

use super::document::operations;
use super::request;
use super::rows::{every_row, ids};
use super::stage::Stage;
use crate::formulas::infused_oil;

/// A stage with something of everything: what person A and A's students created.
async fn full_stage() -> (Stage, Vec<String>) {
    let mut stage = Stage::set().await;
    for case in [
        "draft",
        "proposed",
        "approved",
        "client",
        "own planned",
        "own submitted",
        "instructor's making",
        "begun",
        "handed in",
        "marked",
    ] {
        stage.thing(case).await;
    }
    let url = stage.clinic.database.clone();
    let mut all = Vec::new();
    for table in [
        "library",
        "formula",
        "revision",
        "acknowledgement",
        "batch",
        "batch_entry",
        "api_client",
        "session",
        "person",
        "event",
        "cohort",
        "cohort_code",
        "bank_question",
        "assignment",
        "assignment_work",
        "question",
        "assignment_allowance",
        "handed_work",
        "work_mark",
    ] {
        let of_table = ids(&url, table, "id").await;
        assert!(!of_table.is_empty(), "{table}");
        // Of what there is in plenty a few will do.
        all.extend(of_table.into_iter().take(5));
    }
    (stage, all)
}

#[tokio::test(flavor = "multi_thread")]
async fn person_b_replays_every_id_that_person_a_created_and_gets_nothing() {
    let (mut stage, all) = full_stage().await;
    let document = operations(&stage.clinic.nobody).await;
    let url = stage.clinic.database.clone();
    let strangers = [stage.callers[2].clone(), stage.callers[5].clone()];
    let own: Vec<String> = strangers.iter().map(|stranger| stranger.id.clone()).collect();
    let mut own_sessions = Vec::new();
    for stranger in &strangers {
        own_sessions.push(stranger.get("/v1/sessions").await.expect(200).text_at("/0/id"));
    }
    let before = every_row(&url).await;
    for operation in &document {
        let parameters = operation.path_parameters();
        // Materials are the materia medica, open to all; addresses without an id are the table's.
        if !parameters.iter().any(|(name, _)| name == "id") || operation.path.starts_with("/v1/materials") {
            continue;
        }
        for id in &all {
            if own.contains(id) || own_sessions.contains(id) {
                continue;
            }
            for stranger in &strangers {
                let path = operation.address(|name, _| match name {
                    "id" => id.clone(),
                    "number" => "1".to_owned(),
                    _ => stranger.id.clone(),
                });
                let body = request::body(&mut stage, operation, id).await;
                let answer = request::dispatch(operation, stranger, &path, Some("\"v1\""), body).await;
                let colleague = operation.name() == "GET /v1/people/{id}" && stranger.id == own[1];
                let fine = match answer.status.as_u16() {
                    403 | 404 => true,
                    // Instructors look at everybody who has an account.
                    200 => colleague,
                    _ => false,
                };
                assert!(fine, "{} {path}: {} {}", operation.method, answer.status, answer.text);
            }
        }
    }
    for id in &all {
        if own.contains(id) || own_sessions.contains(id) {
            continue;
        }
        for stranger in &strangers {
            stranger.get(&format!("/v1/events?subject={id}")).await.problem(404, "not-found");
            let listed = stranger.get(&format!("/v1/formulas?library={id}")).await.expect(200);
            assert_eq!(listed.json["items"], json!([]));
            stranger.post("/v1/batches", json!({ "revision": id })).await.problem(404, "not-found");
        }
    }
    let after = every_row(&url).await;
    for (table, rows) in after.iter().filter(|(table, _)| !IN_THE_BACKGROUND.contains(&table.as_str())) {
        assert_eq!(rows, &before[table], "{table} was written");
    }
    stage.clinic.stop().await;
}

/// The content of an oil that is made from another formula, named by an id.
fn made_from(id: &str) -> serde_json::Value {
    let mut content = infused_oil();
    content["title"] = json!("Borrowed oil");
    content["phases"][0]["lines"] = json!([{ "formula": id, "amount": "100 g", "function": "vehicle" }]);
    content["method"] = json!([]);
    content
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_of_person_a_can_be_named_inside_what_person_b_writes() {
    let (mut stage, all) = full_stage().await;
    let olga: Caller = stage.callers[5].clone();
    let marek = stage.callers[3].clone();
    let library = stage.clinic.library(&olga, "Olga's own", &[&marek]).await;
    let revision = stage.clinic.approved(&olga, &marek, &library, infused_oil()).await;
    olga.acknowledge(&revision).await.expect(201);
    let batch = olga.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let note = json!({ "kind": "observation", "note": "Clear." });
    olga.post(&format!("/v1/batches/{batch}/entries"), note).await.expect(201);
    let set = olga.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200).text_at("/digest");
    for id in &all {
        let content = json!({ "content": made_from(id) });
        olga.post("/v1/evaluations?explain=true", content.clone())
            .await
            .fields(&["/content/phases/0/lines/0/formula"]);
        olga.post(&format!("/v1/libraries/{library}/formulas"), content)
            .await
            .fields(&["/content/phases/0/lines/0/formula"]);
        let corrects =
            json!({ "kind": "observation", "note": "Cloudy.", "corrects": id, "reason": "Looked again." });
        olga.post(&format!("/v1/batches/{batch}/entries"), corrects).await.fields(&["/corrects"]);
        let on_behalf = json!({ "caution_set": set, "for_api_client": id });
        olga.post(&format!("/v1/revisions/{revision}/acknowledgements"), on_behalf)
            .await
            .fields(&["/for_api_client"]);
    }
    olga.post(&format!("/v1/batches/{batch}/submissions"), json!({})).await.expect(201);
    let entries = stage.thing("own submitted").await.id;
    let entry = marek.get(&format!("/v1/batches/{entries}")).await.expect(200).text_at("/entries/0/id");
    let review =
        json!({ "verdict": "return", "summary": "Why?", "comments": [{ "entry": entry, "text": "This?" }] });
    marek.post(&format!("/v1/batches/{batch}/reviews"), review).await.fields(&["/comments/0/entry"]);
    stage.clinic.stop().await;
}
