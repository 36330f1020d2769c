//! What readers share: a record in one state, and a page of formulas that several ask for at the same moment. Each gets
//! what is theirs, as it is by then.

use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::Caller;

use super::{again, every_level, opened, with_cream};
use crate::amendments::material;
use crate::formulas::infused_oil;

fn entries(record: &Value) -> &Vec<Value> {
    record["entries"].as_array().unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_correction_stands_at_once_in_what_every_reader_sees() {
    let (clinic, revision, _) = with_cream().await;
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let batch = opened(&clinic.noor, &revision).await;
    let first = again(&clinic.noor, &batch).await;
    again(&clinic.ilse, &batch).await;
    let wrong = &entries(&first)[0];
    let correction = json!({ "kind": "weighing", "line": "1.1", "quantity": "8.4 g", "lot": "A",
        "corrects": wrong["id"], "reason": "Misread the balance.", "reason_later": true });
    let written = clinic.noor.post(&format!("{batch}/entries"), correction).await.expect(201).json;
    for reader in [&clinic.noor, &clinic.ilse] {
        let record = reader.get(&batch).await.expect(200).json;
        assert_eq!(record["version"], written["version"]);
        assert_eq!(entries(&record)[0]["corrected_by"], written["entry"]["id"]);
        assert_eq!(entries(&record)[4]["id"], written["entry"]["id"]);
        // In brief from memory, and explained from the database.
        let explained = reader.get(&format!("{batch}?explain=true")).await.expect(200).json;
        assert_eq!(every_level(&record), every_level(&explained));
        for part in ["version", "state", "submissions", "summary", "caution_change"] {
            assert_eq!(record[part], explained[part], "{part}");
        }
        assert_eq!(entries(&record).len(), entries(&explained).len());
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_record_says_to_each_reader_whether_changed_cautions_are_outstanding_for_them() {
    let (clinic, revision, _) = with_cream().await;
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let batch = opened(&clinic.noor, &revision).await;
    for reader in [&clinic.noor, &clinic.ilse] {
        assert!(again(reader, &batch).await["caution_change"].is_null());
    }
    let wax = material(&clinic.ilse, "emulsifying wax").await;
    let change = json!({ "on": { "material": wax }, "level": "caution", "text": "Not on broken skin." });
    let body = json!({ "reason": "Agreed in the meeting", "change": { "add_caution": change } });
    clinic.ilse.post("/v1/amendments", body).await.expect(201);
    assert!(again(&clinic.noor, &batch).await["caution_change"].is_string());
    clinic.ilse.get(&batch).await.problem(403, "gate-closed");
    clinic.noor.acknowledge(&revision).await.expect(201);
    assert!(again(&clinic.noor, &batch).await["caution_change"].is_null());
    clinic.ilse.acknowledge(&revision).await.expect(201);
    assert!(again(&clinic.ilse, &batch).await["caution_change"].is_null());
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_record_shuts_again_what_is_nested_when_the_grant_for_it_ends() {
    let (clinic, revision, _) = with_cream().await;
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let batch = opened(&clinic.noor, &revision).await;
    assert!(every_level(&again(&clinic.ilse, &batch).await));
    // What the oil is made of gets a caution, which ends the grants for oil and cream; only that for the cream is renewed.
    let flower = material(&clinic.ilse, "dried calendula flower").await;
    let change = json!({ "on": { "material": flower }, "level": "caution", "text": "Not with asthma." });
    let body = json!({ "reason": "Agreed in the meeting", "change": { "add_caution": change } });
    clinic.ilse.post("/v1/amendments", body).await.expect(201);
    clinic.ilse.get(&batch).await.problem(403, "gate-closed");
    clinic.ilse.acknowledge(&revision).await.expect(201);
    assert!(!every_level(&again(&clinic.ilse, &batch).await));

    // Whoever has signed out reads nothing, whatever is in memory.
    again(&clinic.noor, &batch).await;
    clinic.noor.delete("/v1/sessions/current").await.expect(204);
    clinic.noor.get(&batch).await.expect(401);
    clinic.stop().await;
}

/// The titles of the first page.
fn titles(page: &Value) -> Vec<&str> {
    page["items"].as_array().unwrap().iter().map(|one| one["title"].as_str().unwrap()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_that_is_read_at_once_by_many_is_for_each_their_own() {
    // One worker, so that what is asked at once goes in one statement.
    let clinic = stillroom_tests::TeachingClinic::start_with(&[("STILLROOM_WORKERS", "1")]).await;
    clinic.approved(infused_oil()).await;
    let tomas = clinic.clinic.person("tomas.lind", "student").await;
    let olga = clinic.clinic.person("olga.sand", "instructor").await;
    let hers = clinic.clinic.library(&olga, "Olga's own", &[&clinic.marek]).await;
    let mut other = infused_oil();
    other["title"] = json!("Another oil of calendula");
    let made = olga.post(&format!("/v1/libraries/{hers}/formulas"), json!({ "content": other })).await;
    made.expect(201);
    let (both, one) =
        (vec!["Another oil of calendula", "Infused oil of calendula"], vec!["Infused oil of calendula"]);
    let of = |caller: &Caller, query: &str| {
        let (caller, path) = (caller.clone(), format!("/v1/formulas{query}"));
        tokio::spawn(async move { caller.get(&path).await.expect(200).json })
    };
    for _ in 0..20 {
        let limited = clinic.marek.get("/v1/formulas?limit=1").await.expect(200).json;
        assert_eq!(titles(&limited), both[..1]);
        let next = format!("?limit=1&after={}", limited["next"].as_str().unwrap());
        let asked = [
            (of(&clinic.noor, ""), one.clone()),
            (of(&clinic.ilse, ""), one.clone()),
            (of(&clinic.marek, ""), both.clone()),
            (of(&clinic.marek, &next), one.clone()),
            (of(&clinic.marek, "?approved=true"), one.clone()),
            (of(&clinic.marek, &format!("?library={hers}")), both[..1].to_vec()),
            (of(&clinic.noor, &format!("?library={hers}")), Vec::new()),
            (of(&olga, ""), both[..1].to_vec()),
            (of(&olga, "?approved=true"), Vec::new()),
            (of(&tomas, ""), Vec::new()),
            (of(&clinic.noor, ""), one.clone()),
        ];
        for (page, expected) in asked {
            assert_eq!(titles(&page.await.unwrap()), expected);
        }
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_list_shows_at_once_what_was_approved_and_who_became_a_member() {
    let clinic = stillroom_tests::TeachingClinic::start().await;
    let tag = clinic.noor.get("/v1/formulas").await.expect(200).etag();
    let conditional = async |tag: &str| {
        clinic.noor.send(Method::GET, "/v1/formulas", &[("if-none-match", tag)], None).await
    };
    conditional(&tag).await.expect(304);
    clinic.approved(infused_oil()).await;
    let now = conditional(&tag).await.expect(200);
    assert_eq!(titles(&now.json), ["Infused oil of calendula"]);
    conditional(&now.etag()).await.expect(304);
    let member = format!("/v1/libraries/{}/members/{}", clinic.library, clinic.noor.id);
    clinic.ilse.delete(&member).await.expect(204);
    assert_eq!(titles(&conditional(&now.etag()).await.expect(200).json), Vec::<&str>::new());
    clinic.stop().await;
}
