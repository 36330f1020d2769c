//! Appeals: once, in time, and decided by somebody who gave no mark of the work; both marks stay.

use chrono::Duration;
use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Caller, database};

use super::Course;
use super::handed_in::{claim, hand_in};

fn appeal(criteria: Value) -> Value {
    json!({ "reason": "level_as_described", "criteria": criteria })
}

/// A course in which Ilse marked Noor's work, and Marek teaches too.
async fn marked(course: &Course) -> (String, String) {
    let (noor, ilse) = (&course.room.noor, &course.room.ilse);
    course.room.ilse.delete(&course.at(&format!("members/{}", course.room.marek.id))).await.expect(204);
    course.enrol(&course.room.marek.id, "instructor").await;
    let id = course.practical().await;
    let batch = course.batch(noor).await;
    ilse.acknowledge(&course.cream).await.expect(201);
    let handed = hand_in(noor, &id, &batch).await.expect(201).id();
    let early = noor.post(&format!("/v1/submissions/{handed}/appeal"), appeal(json!([1]))).await;
    assert_eq!(early.problem(409, "wrong-state").json["state"], "not_marked");
    claim(ilse, &handed).await.expect(201);
    let mark = json!({ "criteria": [{ "criterion": 1, "level": 1 }, { "criterion": 2, "level": 2 },
        { "criterion": 3, "met": true }] });
    let review = json!({ "verdict": "accept", "summary": "As I see it.", "mark": mark });
    ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
    (handed, batch)
}

async fn waiting(caller: &Caller) -> Vec<Value> {
    caller.get("/v1/appeals").await.expect(200).json["items"].as_array().unwrap().clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_mark_is_looked_at_again_by_an_instructor_who_did_not_give_it_and_both_stay() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let (handed, _) = marked(&course).await;
    let at = |what: &str| format!("/v1/submissions/{handed}/{what}");
    let before = noor.get(&at("appeal")).await.expect(200).json;
    assert_eq!(before["until"]["at"], "2026-03-16T08:00:00Z", "{before}");
    assert!(before["appeal"].is_null());
    for (criteria, pointer) in [(json!([]), "/criteria"), (json!([1, 4]), "/criteria/1")] {
        noor.post(&at("appeal"), appeal(criteria)).await.fields(&[pointer]);
    }
    course.sven.post(&at("appeal"), appeal(json!([1]))).await.problem(404, "not-found");
    ilse.post(&at("appeal"), appeal(json!([1]))).await.problem(403, "forbidden");
    let made = noor.post(&at("appeal"), appeal(json!([2, 1, 1]))).await.expect(201).json;
    assert_eq!(made["appeal"]["criteria"], json!([1, 2]));
    let again = noor.post(&at("appeal"), appeal(json!([1]))).await.problem(409, "wrong-state");
    assert_eq!(again.json["state"], "appealed");

    // It waits for whoever may decide it, and for nobody else.
    assert_eq!(waiting(ilse).await, Vec::<Value>::new());
    let line = waiting(marek).await.remove(0);
    assert_eq!((&line["submission"], &line["name"]), (&json!(handed), &json!("noor.haddad")));
    claim(ilse, &handed).await.expect(201);
    let stands = json!({ "outcome": "stands" });
    ilse.post(&at("appeal/decision"), stands.clone()).await.problem(403, "forbidden");
    ilse.delete(&at("claim")).await.expect(204);
    let unheld = marek.post(&at("appeal/decision"), stands.clone()).await.problem(409, "wrong-state");
    assert_eq!(unheld.json["state"], "not_claimed");
    claim(marek, &handed).await.expect(201);
    // A mark changes for an appeal by its decision alone.
    let past = json!({ "reason": "appeal", "criteria": [{ "criterion": 1, "level": 2 }] });
    marek.post(&at("marks"), past).await.fields(&["/reason"]);
    let both = json!({ "outcome": "stands", "criteria": [{ "criterion": 1, "level": 2 }] });
    marek.post(&at("appeal/decision"), both).await.fields(&["/criteria"]);
    marek.post(&at("appeal/decision"), json!({ "outcome": "upheld" })).await.fields(&["/criteria"]);
    let upheld = json!({ "outcome": "upheld", "criteria": [{ "criterion": 1, "level": 2 }] });
    let decided = marek.post(&at("appeal/decision"), upheld).await.expect(201).json;
    assert_eq!(decided["appeal"]["decided"]["decided_by_name"], "marek.dvorsky");
    let marks = noor.get(&at("marks")).await.expect(200).json["marks"].clone();
    assert_eq!(marks[0]["id"], decided["appeal"]["decided"]["mark"]);
    assert_eq!(
        (&marks[0]["reason"], &marks[0]["points"], &marks[1]["points"]),
        (&json!("appeal"), &json!(10), &json!(4))
    );
    assert_eq!(made["appeal"]["mark"], marks[1]["id"]);
    claim(marek, &handed).await.expect(201);
    marek.post(&at("appeal/decision"), stands).await.problem(409, "wrong-state");
    assert_eq!(waiting(marek).await, Vec::<Value>::new());
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_appeal_comes_within_two_weeks_and_the_mark_can_stand() {
    let course = Course::start().await;
    let (handed, _) = marked(&course).await;
    let path = format!("/v1/submissions/{handed}/appeal");
    let other = course.practical().await;
    let noor = course.later(Duration::days(14) + Duration::seconds(1), "noor.haddad").await;
    let late = noor.post(&path, appeal(json!([1]))).await.problem(409, "wrong-state");
    assert_eq!(late.json["state"], "appeal_over");
    let batch = course.batch(&course.later(Duration::zero(), "sven.aalto").await).await;
    let sven = course.later(Duration::zero(), "sven.aalto").await;
    let handed = hand_in(&sven, &other, &batch).await.expect(201).id();
    let (ilse, marek) = (
        course.later(Duration::zero(), "ilse.brandt").await,
        course.later(Duration::zero(), "marek.dvorsky").await,
    );
    claim(&ilse, &handed).await.expect(201);
    let mark = json!({ "criteria": [{ "criterion": 1, "level": 1 }, { "criterion": 2, "level": 2 },
        { "criterion": 3, "met": true }] });
    let review = json!({ "verdict": "accept", "summary": "As I see it.", "mark": mark });
    ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
    let path = format!("/v1/submissions/{handed}/appeal");
    sven.post(&path, appeal(json!([2]))).await.expect(201);

    // The database holds who decides, and what a decision gives.
    let mut owner = database::owner(&course.room.clinic.database).await;
    for (by, mark, why) in [
        (&ilse.id, "NULL", "may not decide the appeal"),
        (&sven.id, "NULL", "may not decide the appeal"),
        (&marek.id, "(SELECT max(id::text)::uuid FROM work_mark)", "is not given by the appeal"),
    ] {
        let sql = format!("INSERT INTO appeal_decision SELECT handed_id, '{by}', {mark}, at FROM appeal");
        let refused = owner.batch_execute(&sql).await.unwrap_err().to_string();
        assert!(refused.contains(why), "{by}: {refused}");
    }
    claim(&marek, &handed).await.expect(201);
    let decided =
        marek.post(&format!("{path}/decision"), json!({ "outcome": "stands" })).await.expect(201).json;
    assert_eq!(decided["appeal"]["decided"]["outcome"], "stands");
    let marks = sven.get(&format!("/v1/submissions/{handed}/marks")).await.expect(200).json;
    assert_eq!(marks["marks"].as_array().unwrap().len(), 1, "the mark stands");
    let claimed = ilse.get(&format!("/v1/submissions/{handed}/assessment")).await.expect(200).json;
    assert!(claimed["claim"].is_null(), "the decision let the work go");
    course.stop().await;
}
