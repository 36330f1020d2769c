//! Acts of marking that lock the same work or the same line of the queue: held up where they would meet in two orders.

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller};

use super::TOGETHER;
use super::deadlocks::{met, stop_without_deadlock};
use crate::teaching::handed_in::{claim, hand_in};
use crate::teaching::{Course, act};

fn accept() -> Value {
    let mark = json!({ "criteria": [{ "criterion": 1, "level": 2 }, { "criterion": 2, "level": 2 },
        { "criterion": 3, "met": true }] });
    json!({ "verdict": "accept", "summary": "As I see it.", "mark": mark })
}

async fn review(by: Caller, batch: String) -> Answer {
    by.post(&format!("/v1/batches/{batch}/reviews"), accept()).await
}

/// A record with the same figures as others of this course, of which each differs from what was asked.
async fn alike(course: &Course, maker: &Caller) -> String {
    maker.acknowledge(&course.cream).await.expect(201);
    let batch = maker.post("/v1/batches", json!({ "revision": course.cream })).await.expect(201).id();
    for (line, quantity) in [("1.1", "79.3 g"), ("1.2", "301.7 g"), ("2.1", "4.03 g")] {
        let weighed = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "W-1" });
        maker.post(&format!("/v1/batches/{batch}/entries"), weighed).await.expect(201);
    }
    batch
}

#[tokio::test(flavor = "multi_thread")]
async fn handing_in_the_same_figures_and_settling_the_first_do_not_deadlock() {
    let course = Course::start_with(&TOGETHER).await;
    let id = course.practical().await;
    let ilse = course.room.ilse.clone();
    ilse.acknowledge(&course.cream).await.expect(201);
    let first = alike(&course, &course.room.noor).await;
    let handed = hand_in(&course.room.noor, &id, &first).await.expect(201).id();
    let line = ilse.get("/v1/submissions").await.expect(200).json["items"][0].clone();
    assert_eq!(line["noted"], false, "nobody else has these figures yet: {line}");
    let second = alike(&course, &course.sven).await;
    claim(&ilse, &handed).await.expect(201);
    // Both change the line of the first in the queue: it gets a note, and it goes.
    let held = format!("SELECT FROM work_waiting WHERE handed_id = '{handed}'");
    let sven = course.sven.clone();
    let handing = async move { hand_in(&sven, &id, &second).await };
    let [came, settled] = met(&course.room, &held, handing, review(ilse.clone(), first)).await;
    came.expect(201);
    settled.expect(201);
    let left = ilse.get("/v1/submissions").await.expect(200).json["items"].clone();
    assert_eq!(left.as_array().unwrap().len(), 1);
    assert_eq!(left[0]["noted"], true, "the same as in another student's work: {left}");
    stop_without_deadlock(course.room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_relation_that_ends_a_claim_and_the_verdict_under_it_follow_each_other() {
    let course = Course::start_with(&TOGETHER).await;
    let id = course.practical().await;
    let (ilse, noor) = (course.room.ilse.clone(), course.room.noor.clone());
    ilse.acknowledge(&course.cream).await.expect(201);
    let batch = course.batch(&noor).await;
    let handed = hand_in(&noor, &id, &batch).await.expect(201).id();
    claim(&ilse, &handed).await.expect(201);
    let by = ilse.clone();
    let declaring = async move { by.post("/v1/relations", json!({ "student": noor.id })).await };
    let held = "SELECT FROM assignment_work".to_owned();
    let [declared, decided] = met(&course.room, &held, declaring, review(ilse, batch)).await;
    declared.expect(201);
    assert!([403, 409].contains(&decided.status.as_u16()), "{}", decided.text);
    stop_without_deadlock(course.room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_appeal_and_a_changed_mark_of_the_same_work_follow_each_other() {
    let course = Course::start_with(&TOGETHER).await;
    let id = course.practical().await;
    let (ilse, noor) = (course.room.ilse.clone(), course.room.noor.clone());
    ilse.acknowledge(&course.cream).await.expect(201);
    let batch = course.batch(&noor).await;
    let handed = hand_in(&noor, &id, &batch).await.expect(201).id();
    claim(&ilse, &handed).await.expect(201);
    review(ilse.clone(), batch).await.expect(201);
    act(&ilse, &format!("/v1/submissions/{handed}/claim")).await.expect(201);
    let (marks, appeal) =
        (format!("/v1/submissions/{handed}/marks"), format!("/v1/submissions/{handed}/appeal"));
    let change = json!({ "reason": "wrong_level", "criteria": [{ "criterion": 1, "level": 1 }] });
    let changing = async move { ilse.post(&marks, change).await };
    let student = noor.clone();
    let appealing =
        async move { student.post(&appeal, json!({ "reason": "finding_wrong", "criteria": [1] })).await };
    let held = "SELECT FROM assignment_work".to_owned();
    let [changed, appealed] = met(&course.room, &held, changing, appealing).await;
    changed.expect(201);
    // It is against the mark that counts when it is made.
    let made = appealed.expect(201).json;
    let marks = noor.get(&format!("/v1/submissions/{handed}/marks")).await.expect(200).json;
    assert_eq!(made["appeal"]["mark"], marks["marks"][0]["id"]);
    stop_without_deadlock(course.room).await;
}
