//! The names of people beside their ids, for people; API clients are told ids.

use serde_json::{Value, json};
use stillroom_tests::{Caller, TeachingClinic};

use crate::amendments::{amend, confirm};
use crate::formulas::infused_oil;

/// The value of a field of an answer.
async fn told(caller: &Caller, path: &str, pointer: &str) -> Value {
    let answer = caller.get(path).await.expect(200);
    answer.json.pointer(pointer).cloned().unwrap_or(Value::Null)
}

#[tokio::test(flavor = "multi_thread")]
async fn people_are_named_beside_their_ids_for_people_and_not_for_api_clients() {
    let room = TeachingClinic::start().await;
    let (ilse, marek, noor) = (&room.ilse, &room.marek, &room.noor);
    let name = async |caller: &Caller| told(caller, "/v1/me", "/person/name").await;
    let (author, decider, maker) = (name(ilse).await, name(marek).await, name(noor).await);

    let revision = room.approved(infused_oil()).await;
    let path = format!("/v1/revisions/{revision}");
    assert_eq!(told(noor, &path, "/author_name").await, author);
    assert_eq!(told(noor, &path, "/decided_by_name").await, decider);
    let formula = told(noor, &path, "/formula").await;
    let formula = format!("/v1/formulas/{}", formula.as_str().unwrap());
    assert_eq!(told(noor, &formula, "/revisions/0/author_name").await, author);
    let events = format!("/v1/events?subject={revision}");
    let approved = async |caller: &Caller| {
        let events = caller.get(&events).await.expect(200).json;
        let events = events["items"].as_array().unwrap().clone();
        events.into_iter().find(|event| event["action"] == "approved").unwrap()
    };
    assert_eq!(approved(noor).await["actor_name"], decider);

    noor.acknowledge(&revision).await.expect(201);
    marek.acknowledge(&revision).await.expect(201);
    let made = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201);
    let batch = format!("/v1/batches/{}", made.id());
    assert_eq!(made.json["maker_name"], maker);
    assert_eq!(told(marek, "/v1/batches", "/items/0/maker_name").await, maker);
    let entry = json!({ "kind": "observation", "note": "Deep yellow." });
    let written = noor.post(&format!("{batch}/entries"), entry).await.expect(201);
    assert_eq!(written.json["entry"]["by_name"], maker);
    noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    let back = json!({ "verdict": "return", "summary": "Weigh it." });
    let reviewed = marek.post(&format!("{batch}/reviews"), back).await.expect(201);
    assert_eq!(reviewed.json["submissions"][0]["review"]["reviewer_name"], decider);
    assert_eq!(reviewed.json["entries"][0]["by_name"], maker);

    let wax =
        json!({ "name": "hill wax", "kind": "wax", "source": "the beekeeper", "status": "common practice" });
    let amended = amend(ilse, json!({ "add_material": wax })).await;
    let amendment = amended.expect(201).id();
    confirm(marek, &amendment).await.expect(200);
    let path = format!("/v1/amendments/{amendment}");
    assert_eq!(told(marek, &path, "/made_by_name").await, author);
    assert_eq!(told(marek, &path, "/decided_by_name").await, decider);
    assert_eq!(told(marek, "/v1/amendments", "/items/0/made_by_name").await, author);

    // A tool's responsible person, for people; for the tool an id is enough.
    let tool = room.clinic.api_client(ilse, &["formulas:read"], &[&room.library]).await;
    let client = format!("/v1/api-clients/{}", tool.id);
    assert_eq!(told(ilse, &client, "/responsible_name").await, author);
    let path = format!("/v1/revisions/{revision}");
    assert_eq!(told(&tool, &path, "/author").await, ilse.id.as_str());
    for (path, pointer) in
        [(&path, "/author_name"), (&path, "/decided_by_name"), (&formula, "/revisions/0/author_name")]
    {
        assert_eq!(told(&tool, path, pointer).await, Value::Null, "{pointer}");
    }
    assert_eq!(approved(&tool).await["actor_name"], Value::Null);

    // Who leaves keeps the name under what they did.
    let person = room.clinic.administrator.get(&format!("/v1/people/{}", ilse.id)).await.expect(200);
    let disabled = json!({ "state": "disabled" });
    let path = format!("/v1/people/{}", ilse.id);
    room.clinic.administrator.patch(&path, &person.etag(), disabled).await.expect(200);
    assert_eq!(told(noor, &format!("/v1/revisions/{revision}"), "/author_name").await, author);
    assert_eq!(told(noor, &formula, "/revisions/0/author_name").await, author);
    room.stop().await;
}
