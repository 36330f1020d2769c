//! The clinic's own word on cautions: added, raised, lowered by two people, set aside and still visible, and what is
//! withheld until somebody decides.

use serde_json::{Value, json};
use stillroom_tests::clinic::TeachingClinic;

use super::{amend, caution, confirm, material, recipe};
use crate::formulas::infused_oil;

async fn calendula() -> (TeachingClinic, String) {
    let here = TeachingClinic::start().await;
    let oil = here.approved(infused_oil()).await;
    here.noor.acknowledge(&oil).await.expect(201);
    recipe(&here.noor, &oil).await.expect(200);
    (here, oil)
}

fn level(key: &str, level: Option<&str>) -> Value {
    match level {
        Some(level) => json!({ "change_caution": { "key": key, "level": level } }),
        None => json!({ "change_caution": { "key": key } }),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_raised_caution_holds_at_once_and_ends_acknowledgements() {
    let (here, oil) = calendula().await;
    let shown = caution(&here.noor, &oil, "pregnan").await.unwrap();
    assert_eq!(shown["level"], "caution");
    let key = shown["key"].as_str().unwrap();
    let raised = amend(&here.ilse, level(key, Some("contraindication"))).await.expect(201);
    assert_eq!(raised.json["state"], "in_force");
    let now = caution(&here.noor, &oil, key).await.unwrap();
    assert_eq!(now["level"], "contraindication");
    assert_eq!(now["changed"]["was"], "caution");
    assert_eq!(now["changed"]["reason"], "Agreed among the teachers.");
    assert_eq!(now["changed"]["amendment"], raised.id().as_str());
    recipe(&here.noor, &oil).await.problem(403, "gate-closed");
    // Each contraindication is acknowledged on its own, and the acknowledgement keeps the exact text.
    let set = here.noor.get(&format!("/v1/revisions/{oil}/cautions")).await.expect(200);
    let without = json!({ "caution_set": set.json["digest"], "contraindications": [] });
    let refused = here.noor.post(&format!("/v1/revisions/{oil}/acknowledgements"), without).await;
    let refused = refused.problem(422, "invalid-request");
    assert!(refused.text.contains(key), "{}", refused.text);
    let given = here.noor.acknowledge(&oil).await.expect(201);
    assert!(given.text.contains(now["text"].as_str().unwrap()));
    recipe(&here.noor, &oil).await.expect(200);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_caution_is_lowered_or_set_aside_by_two_and_stays_where_it_was() {
    let (here, oil) = calendula().await;
    let key = caution(&here.noor, &oil, "pregnan").await.unwrap()["key"].as_str().unwrap().to_owned();
    let lowered = amend(&here.ilse, level(&key, Some("note"))).await.expect(201);
    assert_eq!(lowered.json["state"], "awaiting_second_person");
    assert_eq!(caution(&here.noor, &oil, &key).await.unwrap()["level"], "caution", "nothing holds yet");
    let waiting = here.marek.get("/v1/amendments?state=awaiting_second_person").await.expect(200);
    assert_eq!(waiting.json["items"][0]["id"], lowered.id().as_str());
    confirm(&here.ilse, &lowered.id()).await.problem(403, "forbidden");
    confirm(&here.noor, &lowered.id()).await.problem(403, "forbidden");
    confirm(&here.marek, &lowered.id()).await.expect(200);
    confirm(&here.marek, &lowered.id()).await.problem(409, "wrong-state");
    let now = caution(&here.noor, &oil, &key).await.unwrap();
    assert_eq!((now["level"].as_str(), now["changed"]["was"].as_str()), (Some("note"), Some("caution")));
    assert_eq!(now["changed"]["set_aside"], false);

    let aside = amend(&here.marek, level(&key, None)).await.expect(201);
    confirm(&here.ilse, &aside.id()).await.expect(200);
    let now = caution(&here.noor, &oil, &key).await.unwrap();
    assert_eq!(now["changed"]["set_aside"], true);
    assert_eq!(now["changed"]["reason"], "Agreed among the teachers.");
    assert!(now["text"].as_str().unwrap().contains("regnancy"), "the words stay: {now}");

    // A formula proposed afterwards shows the same.
    let mut other = infused_oil();
    other["title"] = json!("Infused oil of calendula, second pressing");
    let later = here.approved(other).await;
    assert_eq!(caution(&here.noor, &later, &key).await.unwrap()["changed"]["set_aside"], true);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_gains_a_stop_is_withheld_until_an_instructor_decides() {
    let (here, oil) = calendula().await;
    let batch = here.noor.post("/v1/batches", json!({ "revision": oil })).await.expect(201).id();
    let herb = material(&here.ilse, "dried calendula flower").await;
    let stop = json!({ "add_caution": {
        "on": { "material": herb }, "level": "stop", "text": "This year's lots were found contaminated.",
    } });
    let made = amend(&here.ilse, stop).await.expect(201);
    assert_eq!(made.json["state"], "in_force");
    let affected = here.ilse.get(&format!("/v1/amendments/{}/affected", made.id())).await.expect(200);
    assert_eq!(affected.json["items"][0]["withheld"], true);
    assert_eq!(affected.json["items"][0]["still_withheld"], true);
    let shown = here.noor.get(&format!("/v1/revisions/{oil}")).await.expect(200);
    assert!(shown.json["withheld_since"].is_string());
    let list = here.noor.get("/v1/formulas").await.expect(200);
    assert!(list.json["items"][0]["withheld_since"].is_string());

    let closed = recipe(&here.noor, &oil).await.problem(403, "gate-closed");
    assert!(closed.text.contains("withheld"), "{}", closed.text);
    let tomas = here.clinic.person("tomas.lind", "student").await;
    here.ilse.put_bare(&format!("/v1/libraries/{}/members/{}", here.library, tomas.id)).await.expect(204);
    tomas.acknowledge(&oil).await.problem(409, "wrong-state");
    // Whoever has a batch in hand is told, may finish the record, and gets no recipe by it.
    let step = json!({ "kind": "step_done", "step": 1 });
    let entries = format!("/v1/batches/{batch}/entries");
    here.noor.post(&entries, step.clone()).await.problem(403, "gate-closed");
    let told = here.noor.acknowledge(&oil).await.expect(201);
    assert_eq!((told.json["purpose"].as_str(), told.json["open"].as_bool()), (Some("record"), Some(false)));
    here.noor.post(&entries, step).await.expect(201);
    recipe(&here.noor, &oil).await.problem(403, "gate-closed");
    // An instructor may look, to decide; nobody may make it.
    here.marek.acknowledge(&oil).await.expect(201);
    recipe(&here.marek, &oil).await.expect(200);
    here.marek.post("/v1/batches", json!({ "revision": oil })).await.problem(409, "wrong-state");
    let reinstate = json!({ "reason": "The new lot's report is clean." });
    let path = format!("/v1/revisions/{oil}/reinstatement");
    let refused = here.marek.post(&path, reinstate.clone()).await.problem(409, "wrong-state");
    assert!(refused.text.contains("found contaminated"), "{}", refused.text);

    let key =
        caution(&here.noor, &oil, "found contaminated").await.unwrap()["key"].as_str().unwrap().to_owned();
    let lowered = amend(&here.ilse, level(&key, Some("caution"))).await.expect(201);
    assert_eq!(lowered.json["state"], "awaiting_second_person");
    confirm(&here.marek, &lowered.id()).await.expect(200);
    // Still withheld: that nothing stops it any more does not decide by itself.
    tomas.acknowledge(&oil).await.problem(409, "wrong-state");
    let back = here.marek.post(&path, reinstate.clone()).await.expect(200);
    assert_eq!(back.json["withheld_since"], Value::Null);
    here.marek.post(&path, reinstate).await.problem(409, "wrong-state");
    here.noor.acknowledge(&oil).await.expect(201);
    recipe(&here.noor, &oil).await.expect(200);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stop_blocks_approval_and_a_withheld_preparation_goes_into_nothing() {
    let (here, oil) = calendula().await;
    let salve = super::of_lines(
        "Calendula salve",
        "salve",
        &json!([
            { "formula": "Infused oil of calendula", "amount": "85 g" },
            { "material": "yellow beeswax", "amount": "15 g" } ]),
    );
    here.ilse.acknowledge(&oil).await.expect(201);
    let proposed = here.clinic.proposed(&here.ilse, &here.library, salve.clone()).await;
    here.marek.acknowledge(&proposed).await.expect(201);
    let stop = json!({ "add_caution": {
        "on": { "preparation": "infused oil" }, "level": "stop", "text": "No infused oils until the press is repaired.",
    } });
    amend(&here.ilse, stop).await.expect(201);
    // The cautions that were acknowledged are no longer the current ones.
    let approve = json!({ "decision": "approve" });
    let path = format!("/v1/revisions/{proposed}/decision");
    here.marek.post(&path, approve.clone()).await.problem(403, "gate-closed");
    here.marek.acknowledge(&proposed).await.expect(201);
    let refused = here.marek.post(&path, approve).await.problem(409, "wrong-state");
    assert!(refused.text.contains("until the press is repaired"), "{}", refused.text);
    let nested = caution(&here.ilse, &proposed, "the press is repaired").await.unwrap();
    assert!(nested["origins"][0].as_str().unwrap().starts_with("Infused oil of calendula"), "{nested}");
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_be_said_of_cautions_is_refused_at_its_field() {
    let (here, oil) = calendula().await;
    let before = here.contents().await;
    amend(&here.ilse, level("no-such-caution", Some("note"))).await.fields(&["/change/change_caution/key"]);
    let key = caution(&here.noor, &oil, "pregnan").await.unwrap()["key"].as_str().unwrap().to_owned();
    amend(&here.ilse, level(&key, Some("caution"))).await.fields(&["/change/change_caution/level"]);
    let wrong = json!({ "add_caution": {
        "on": { "preparation": "potion", "route": "by telepathy" }, "level": "note",
        "audiences": ["dragons", "allergy:unicorns"], "text": " ",
    } });
    amend(&here.ilse, wrong).await.fields(&[
        "/change/add_caution/text",
        "/change/add_caution/audiences/0",
        "/change/add_caution/audiences/1",
        "/change/add_caution/on",
        "/change/add_caution/on/preparation",
        "/change/add_caution/on/route",
    ]);
    let nobody = json!({ "reason": " ", "change": { "add_caution": { "level": "note", "text": "x" } } });
    here.ilse.post("/v1/amendments", nobody).await.fields(&["/reason"]);
    amend(&here.noor, json!({ "add_caution": { "level": "note", "text": "x" } }))
        .await
        .problem(403, "forbidden");
    assert_eq!(before, here.contents().await);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_note_ends_no_acknowledgement_and_stands_in_the_next_reading_of_the_recipe() {
    let (here, oil) = calendula().await;
    recipe(&here.noor, &oil).await.expect(200);
    let note = json!({ "add_caution": { "level": "note", "text": "Smells of hay when it is ready." } });
    amend(&here.ilse, note).await.expect(201);
    let read = recipe(&here.noor, &oil).await.expect(200);
    assert!(read.text.contains("Smells of hay when it is ready."), "what is kept in memory is not stale");
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn one_person_never_makes_a_caution_bind_less_by_raising_it_to_less() {
    let (here, oil) = calendula().await;
    let key = caution(&here.noor, &oil, "pregnan").await.unwrap()["key"].as_str().unwrap().to_owned();
    amend(&here.ilse, level(&key, Some("stop"))).await.expect(201);
    let less = amend(&here.ilse, level(&key, Some("contraindication"))).await.expect(201);
    assert_eq!(less.json["state"], "awaiting_second_person");
    assert_eq!(caution(&here.noor, &oil, &key).await.unwrap()["level"], "stop");
    confirm(&here.marek, &less.id()).await.expect(200);
    assert_eq!(caution(&here.noor, &oil, &key).await.unwrap()["level"], "contraindication");
    here.stop().await;
}
