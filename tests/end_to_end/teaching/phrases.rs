//! Kept phrases are one's own, and a version that comes again says which one was returned.

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller};

use super::Course;
use super::handed_in::{claim, hand_in};

async fn keep(by: &Caller, text: &str) -> Answer {
    by.post("/v1/phrases", json!({ "text": text })).await
}

async fn kept(by: &Caller) -> Vec<String> {
    let list = by.get("/v1/phrases").await.expect(200).json;
    let items = list["items"].as_array().unwrap().iter();
    items.map(|item| item["text"].as_str().unwrap().to_owned()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn phrases_are_kept_for_their_author_alone_until_they_are_removed() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let first = keep(ilse, "  Wait until the balance stands still.  ").await.expect(201);
    keep(ilse, "Say what the pH meter was set with.").await.expect(201);
    assert_eq!(
        kept(ilse).await,
        ["Wait until the balance stands still.", "Say what the pH meter was set with."],
        "in the order in which they were added"
    );
    assert_eq!(
        keep(ilse, "Wait until the balance stands still.").await.expect(201).id(),
        first.id(),
        "said again it is the same"
    );
    assert_eq!(kept(marek).await, Vec::<String>::new());
    marek.delete(&format!("/v1/phrases/{}", first.id())).await.problem(404, "not-found");
    noor.get("/v1/phrases").await.problem(403, "forbidden");
    for text in ["   ", &"é".repeat(401)] {
        keep(ilse, text).await.fields(&["/text"]);
    }
    keep(ilse, &"é".repeat(400)).await.expect(201);
    ilse.delete(&format!("/v1/phrases/{}", first.id())).await.expect(204);
    ilse.delete(&format!("/v1/phrases/{}", first.id())).await.problem(404, "not-found");
    assert_eq!(kept(ilse).await.len(), 2);
    for number in 0..48 {
        keep(ilse, &format!("Phrase {number}.")).await.expect(201);
    }
    let refused = keep(ilse, "One too many.").await;
    assert!(refused.text.contains("Remove one"), "{}", refused.text);
    refused.fields(&["/text"]);
    keep(ilse, "Phrase 3.").await.expect(201);
    course.stop().await;
}

async fn returned(course: &Course, handed: &str) -> Value {
    let path = format!("/v1/submissions/{handed}/assessment");
    course.room.ilse.get(&path).await.expect(200).json["returned"].clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_next_version_names_the_one_that_was_returned_and_where_it_ended() {
    let course = Course::start().await;
    let (noor, ilse) = (&course.room.noor, &course.room.ilse);
    let mut work = course.work(&json!([]));
    work["returns_allowed"] = json!(2);
    let id = course.publish(work).await;
    let batch = course.batch(noor).await;
    ilse.acknowledge(&course.cream).await.expect(201);
    let send_back = async |handed: &str, batch: &str| {
        claim(ilse, handed).await.expect(201);
        let review = json!({ "verdict": "return", "summary": "Weigh the wax again." });
        ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
    };
    let first = hand_in(noor, &id, &batch).await.expect(201).id();
    assert!(returned(&course, &first).await.is_null());
    send_back(&first, &batch).await;
    let entries = noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json["entries"].clone();
    let corrected = json!({ "kind": "weighing", "line": "1.1", "quantity": "79.9 g", "lot": "W-1",
        "corrects": entries[0]["id"], "reason": "Weighed again." });
    noor.post(&format!("/v1/batches/{batch}/entries"), corrected).await.expect(201);
    let second = hand_in(noor, &id, &batch).await.expect(201).id();
    let before = returned(&course, &second).await;
    assert_eq!(
        (&before["submission"], &before["number"], &before["batch"]),
        (&json!(first), &json!(1), &json!(batch))
    );
    let record = ilse.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    let newer: Vec<&str> = record["entries"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|entry| entry["number"].as_u64() > before["last_entry"].as_u64())
        .map(|entry| entry["quantity"].as_str().unwrap())
        .collect();
    assert_eq!(newer, ["79.9 g"], "what changed since");

    // Mended by making it anew: another batch, all of which is new.
    send_back(&second, &batch).await;
    let other = course.batch(noor).await;
    let third = hand_in(noor, &id, &other).await.expect(201).id();
    let before = returned(&course, &third).await;
    assert_eq!((&before["number"], &before["batch"]), (&json!(2), &json!(batch)));
    assert_ne!(other, batch);
    course.stop().await;
}
