//! Decisions that are not this person's, come too early, too late, or on stale knowledge.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::refused;
use crate::formulas::infused_oil;

const NOTE: &str = "approved by its author";

#[tokio::test(flavor = "multi_thread")]
async fn the_author_does_not_approve_while_the_policy_wants_a_second_person() {
    let room = TeachingClinic::start().await;
    let revision = room.clinic.proposed(&room.ilse, &room.library, infused_oil()).await;
    room.ilse.acknowledge(&revision).await.expect(201);
    let before = room.contents().await;
    let decision = format!("/v1/revisions/{revision}/decision");
    let own = room.ilse.post(&decision, json!({ "decision": "approve", "comment": "I am sure." })).await;
    let own = own.problem(403, "forbidden");
    assert!(own.text_at("/detail").contains("Ask another instructor"), "{}", own.text);
    refused(room.marek.post(&decision, json!({ "decision": "burn" })).await, "/decision", "approve");
    room.noor.post(&decision, json!({ "decision": "approve" })).await.problem(404, "not-found");
    assert_eq!(room.contents().await, before);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn where_the_policy_allows_it_the_author_says_why_and_it_shows_everywhere() {
    let room = TeachingClinic::start().await;
    let policy = room.clinic.administrator.get("/v1/policy").await.expect(200);
    let mut rules = policy.json["content"].clone();
    rules["second_person"] = json!(false);
    rules["reason"] = json!("There is one instructor.");
    room.clinic.administrator.put("/v1/policy", &policy.etag(), rules).await.expect(200);
    let revision = room.clinic.proposed(&room.ilse, &room.library, infused_oil()).await;
    let path = format!("/v1/revisions/{revision}");
    let decision = format!("{path}/decision");
    room.ilse.acknowledge(&revision).await.expect(201);
    let before = room.contents().await;
    for silence in [json!({ "decision": "approve" }), json!({ "decision": "approve", "comment": "  " })] {
        refused(room.ilse.post(&decision, silence).await, "/comment", "State why");
    }
    assert_eq!(room.contents().await, before);

    let reason = json!({ "decision": "approve", "comment": "Nobody else is here this term." });
    let approved = room.ilse.post(&decision, reason).await.expect(200);
    assert_eq!(approved.json["approval_note"], NOTE);
    room.noor.acknowledge(&revision).await.expect(201);
    for caller in [&room.ilse, &room.noor] {
        let seen = caller.get(&path).await.expect(200);
        assert_eq!(seen.json["approval_note"], NOTE);
        for query in ["", "?mass=500%20g"] {
            assert_eq!(
                caller.get(&format!("{path}/recipe{query}")).await.expect(200).json["approval_note"],
                NOTE
            );
        }
        let formula = caller.get(&format!("/v1/formulas/{}", seen.text_at("/formula"))).await.expect(200);
        assert_eq!(formula.json["revisions"][0]["approval_note"], NOTE, "{}", formula.text);
        let events = caller.get(&format!("/v1/events?subject={revision}")).await.expect(200);
        let event = events.json["items"]
            .as_array()
            .unwrap()
            .iter()
            .find(|event| event["action"] == "approved")
            .unwrap();
        assert_eq!(event["detail"]["note"], NOTE);
    }
    let batch = room.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201);
    assert_eq!(batch.json["recipe"]["approval_note"], NOTE);
    let comments = room.noor.get(&format!("{path}/comments")).await.expect(200);
    assert_eq!(comments.json[0]["comment"], "Nobody else is here this term.");

    // It stays marked when it is superseded by one that a second person approved, which is not marked.
    let formula = approved.text_at("/formula");
    let next = room
        .ilse
        .post(&format!("/v1/formulas/{formula}/revisions"), json!({ "content": infused_oil() }))
        .await
        .expect(201);
    let proposal = format!("/v1/revisions/{}/proposal", next.id());
    room.ilse.post_bare(&proposal, &[("if-match", &next.etag())]).await.expect(200);
    room.marek.acknowledge(&next.id()).await.expect(201);
    let second = format!("/v1/revisions/{}/decision", next.id());
    let second = room.marek.post(&second, json!({ "decision": "approve" })).await.expect(200);
    assert_eq!(second.json["approval_note"], Value::Null);
    let old = room.ilse.get(&path).await.expect(200);
    assert_eq!((&old.json["state"], &old.json["approval_note"]), (&json!("superseded"), &json!(NOTE)));
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_is_reviewed_when_it_was_handed_in_and_by_somebody_else() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    let mut batches = Vec::new();
    for maker in [&room.noor, &room.marek] {
        maker.acknowledge(&revision).await.expect(201);
        let batch = maker.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
        batches.push(format!("/v1/batches/{batch}"));
    }
    let accept = json!({ "verdict": "accept", "summary": "Fine." });
    let reviews = format!("{}/reviews", batches[0]);
    let before = room.contents().await;
    let early = room.marek.post(&reviews, accept.clone()).await.problem(409, "wrong-state");
    assert_eq!(early.json["state"], "planned");
    assert!(
        early.text_at("/detail").contains("Only a record that is submitted can become accepted"),
        "{}",
        early.text
    );
    let empty =
        room.noor.post(&format!("{}/submissions", batches[0]), json!({})).await.problem(409, "wrong-state");
    assert!(empty.text_at("/detail").contains("making or returned"), "{}", empty.text);
    assert_eq!(room.contents().await, before);

    for (maker, batch) in [&room.noor, &room.marek].into_iter().zip(&batches) {
        maker
            .post(&format!("{batch}/entries"), json!({ "kind": "observation", "note": "Begun." }))
            .await
            .expect(201);
    }
    let making = room.marek.post(&reviews, accept.clone()).await.problem(409, "wrong-state");
    assert_eq!(making.json["state"], "making");
    for (maker, batch) in [&room.noor, &room.marek].into_iter().zip(&batches) {
        maker.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    }
    let before = room.contents().await;
    let own =
        room.marek.post(&format!("{}/reviews", batches[1]), accept.clone()).await.problem(403, "forbidden");
    assert!(own.text_at("/detail").contains("Ask another instructor"));
    let closed = room.ilse.post(&reviews, accept.clone()).await.problem(403, "gate-closed");
    assert!(closed.json["outstanding"]["acknowledge"].is_string());
    for (review, pointer, cure) in [
        (json!({ "verdict": "accept", "summary": " " }), "/summary", "1 to 4000"),
        (json!({ "verdict": "accept", "summary": "x".repeat(4001) }), "/summary", "1 to 4000"),
        (json!({ "verdict": "adore", "summary": "x" }), "/verdict", "accept"),
        (
            json!({ "verdict": "accept", "summary": "x", "comments": [{ "text": "" }] }),
            "/comments/0/text",
            "1 to 4000",
        ),
        (
            json!({ "verdict": "accept", "summary": "x", "comments": [{ "entry": uuid::Uuid::nil(), "text": "x" }] }),
            "/comments/0/entry",
            "no entry with this ID",
        ),
        (json!({ "verdict": "accept", "summary": "x", "state": "accepted" }), "/state", "Unknown field"),
    ] {
        refused(room.marek.post(&reviews, review).await, pointer, cure);
    }
    assert_eq!(room.contents().await, before);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_change_on_stale_or_no_knowledge_changes_nothing() {
    let room = TeachingClinic::start().await;
    let administrator = &room.clinic.administrator;
    let made = room
        .ilse
        .post(&format!("/v1/libraries/{}/formulas", room.library), json!({ "content": infused_oil() }))
        .await
        .expect(201);
    let revision = made.text_at("/revisions/0/id");
    let proposal = format!("/v1/revisions/{revision}/proposal");
    let draft = format!("/v1/revisions/{revision}/draft");
    let policy = administrator.get("/v1/policy").await.json["content"].clone();
    let library = json!({ "name": "Renamed", "description": "" });
    let before = room.contents().await;
    for (caller, method, path, body) in [
        (&room.ilse, "PUT", draft, Some(infused_oil())),
        (&room.ilse, "POST", proposal, None),
        (&room.ilse, "PUT", format!("/v1/libraries/{}", room.library), Some(library)),
        (administrator, "PATCH", format!("/v1/people/{}", room.noor.id), Some(json!({ "name": "Noor" }))),
        (administrator, "PUT", "/v1/policy".to_owned(), Some(policy)),
    ] {
        let send = async |headers: &[(&str, &str)]| {
            let mut all = vec![("content-type", "application/json")];
            all.extend(headers);
            let body = body.as_ref().map(|body| body.to_string().into_bytes());
            caller.send(method.parse().unwrap(), &path, &all, body).await
        };
        let missing = send(&[]).await.problem(428, "precondition-required");
        assert!(missing.text_at("/detail").contains("If-Match"), "{}", missing.text);
        for tag in [
            "\"v0\"",
            "\"v99\"",
            "\"v-1\"",
            "v1",
            "W/\"v1\"",
            "\"99999999999999999999\"",
            "*",
            "\"\"",
            "nonsense",
        ] {
            let stale = send(&[("if-match", tag)]).await.problem(412, "stale");
            assert!(stale.text_at("/detail").contains("Read the current version"), "{}", stale.text);
        }
    }
    assert_eq!(room.contents().await, before);
    room.stop().await;
}
