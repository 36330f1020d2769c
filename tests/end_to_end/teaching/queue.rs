//! The markers' queue: exceptions first, paged by a cursor, filtered, with claims; nothing that is settled or not theirs.

use chrono::Duration;
use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Caller, database};

use super::handed_in::{claim, hand_in};
use super::{Course, act, cohort};
use crate::cost::counted;

/// A batch of the cream with these weighings.
async fn made(course: &Course, maker: &Caller, weighed: &[(&str, &str)]) -> String {
    maker.acknowledge(&course.cream).await.expect(201);
    let batch = maker.post("/v1/batches", json!({ "revision": course.cream })).await.expect(201).id();
    for (line, quantity) in weighed {
        // One of them may lie above its tolerance.
        let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "W-1", "reason_later": true });
        maker.post(&format!("/v1/batches/{batch}/entries"), entry).await.expect(201);
    }
    batch
}

/// Returns work that waits, so that its maker hands it in again.
async fn returned(by: &Caller, handed: &str, batch: &str) {
    claim(by, handed).await.expect(201);
    let review = json!({ "verdict": "return", "summary": "Weigh the wax again." });
    by.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
}

fn ids(list: &Value) -> Vec<String> {
    let items = list["items"].as_array().unwrap().iter();
    items.map(|item| item["submission"].as_str().unwrap().to_owned()).collect()
}

async fn queue(caller: &Caller, query: &str) -> Value {
    caller.get(&format!("/v1/submissions{query}")).await.expect(200).json
}

/// Every page of a list, two at a time.
async fn all(caller: &Caller, query: &str) -> Vec<String> {
    let (mut seen, mut next) = (Vec::new(), String::new());
    loop {
        let page = queue(caller, &format!("?limit=2{query}{next}")).await;
        seen.extend(ids(&page));
        let Some(cursor) = page["next"].as_str() else { return seen };
        next = format!("&after={cursor}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_stands_out_comes_first_and_one_thing_of_it_is_told() {
    let course = Course::start().await;
    let (noor, ilse) = (&course.room.noor, &course.room.ilse);
    let first = course.practical().await;
    let mut soon = course.work(&json!([]));
    soon["due"] = json!("2026-03-02T10:00");
    let soon = course.publish(soon).await;
    ilse.acknowledge(&course.cream).await.expect(201);

    // The wax is too heavy and no temperature is written. All of it was written at once too.
    let lines = [("1.1", "90 g"), ("1.2", "300 g"), ("2.1", "4 g"), ("2.2", "616 g")];
    let batch = made(&course, noor, &lines).await;
    let note = json!({ "kind": "observation", "note": "Smooth." });
    noor.post(&format!("/v1/batches/{batch}/entries"), note).await.expect(201);
    let one = hand_in(noor, &first, &batch).await.expect(201).id();
    let only = &queue(ilse, "").await["items"][0].clone();
    assert_eq!(
        (&only["submission"], &only["stands_out"], &only["finding"]),
        (&json!(one), &json!("noted"), &json!("out_of_tolerance")),
        "{only}"
    );
    assert!(only["findings"].as_u64().unwrap() > 1, "{only}");
    assert_eq!((&only["late"], &only["noted"], &only["number"]), (&json!(false), &json!(true), &json!(1)));
    assert_eq!(only["name"], "noor.haddad");
    assert_eq!(only["due"]["local"], "2026-03-20T18:00:00+01:00");
    assert!(only["claim"].is_null());

    // It came back: that is what its marker has to know.
    returned(ilse, &one, &batch).await;
    assert_eq!(queue(ilse, "").await["items"], json!([]), "what was returned waits no more");
    let again = hand_in(noor, &first, &batch).await.expect(201).id();
    let only = &queue(ilse, "?came_back=true").await["items"][0].clone();
    assert_eq!((&only["submission"], &only["stands_out"]), (&json!(again), &json!("came_back")));

    // Late, after the clock has moved, by somebody who took an hour over the record.
    let sven = course.later(Duration::hours(3), "sven.aalto").await;
    let batch = made(&course, &sven, &[("1.1", "80 g")]).await;
    let sven = course.later(Duration::hours(1), "sven.aalto").await;
    let weighed = json!({ "kind": "weighing", "line": "1.2", "quantity": "299 g", "lot": "O-1" });
    sven.post(&format!("/v1/batches/{batch}/entries"), weighed).await.expect(201);
    let late = hand_in(&sven, &soon, &batch).await.expect(201).id();
    let noor = course.later(Duration::zero(), "noor.haddad").await;
    let ilse = course.later(Duration::zero(), "ilse.brandt").await;
    let list = queue(&ilse, "?order=oldest").await;
    assert_eq!(ids(&list), [again.clone(), late.clone()]);
    let item = &list["items"][1];
    assert_eq!((&item["late"], &item["stands_out"]), (&json!(true), &json!("found")), "{item}");
    // No check was made before the start: that is graver than what is not written.
    assert_eq!(item["finding"], "check", "{item}");
    assert_eq!(ids(&queue(&ilse, "?order=due").await), [late.clone(), again.clone()]);

    // Who holds it stands beside it; what is settled is gone.
    claim(&ilse, &late).await.expect(201);
    let marek = course.later(Duration::zero(), "marek.dvorsky").await;
    let list = queue(&marek, "?order=due").await;
    assert_eq!(list["items"][0]["claim"]["marker_name"], "ilse.brandt");
    let review = json!({ "verdict": "reject", "summary": "Too little is written." });
    ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
    assert_eq!(ids(&queue(&ilse, "").await), [again]);
    noor.get("/v1/submissions").await.problem(403, "forbidden");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_marker_sees_the_work_of_their_cohorts_and_none_of_a_declared_relation() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let id = course.practical().await;
    let batch = made(&course, noor, &[("1.1", "80 g")]).await;
    let handed = hand_in(noor, &id, &batch).await.expect(201).id();
    let other = ilse.post("/v1/cohorts", cohort("Second year")).await.expect(201).id();
    assert_eq!(ids(&queue(ilse, &format!("?cohort={}", course.cohort)).await), [handed.as_str()]);
    assert_eq!(queue(ilse, &format!("?cohort={other}")).await["items"], json!([]));
    marek.get(&format!("/v1/submissions?cohort={other}")).await.problem(404, "not-found");
    assert_eq!(ids(&queue(marek, "").await), [handed]);
    marek.post("/v1/relations", json!({ "student": noor.id })).await.expect(201);
    assert_eq!(queue(marek, "").await["items"], json!([]));
    // Whoever left the cohort sees nothing of it.
    let sten = course.room.clinic.person("sten.berg", "instructor").await;
    assert_eq!(queue(&sten, "").await["items"], json!([]));
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn pages_follow_each_other_in_every_order_and_each_costs_the_same() {
    let course = Course::start().await;
    let (ilse, marek) = (&course.room.ilse, &course.room.marek);
    let mut handed = Vec::new();
    for number in 0..5 {
        let student = course.room.clinic.person(&format!("student.{number}"), "student").await;
        let member = format!("/v1/libraries/{}/members/{}", course.room.library, student.id);
        ilse.put_bare(&member).await.expect(204);
        course.enrol(&student.id, "student").await;
        let mut work = course.work(&json!([]));
        work["due"] = json!(format!("2026-03-{}T18:00", 20 - number));
        let id = course.publish(work).await;
        let batch = made(&course, &student, &[("1.1", "80 g")]).await;
        handed.push(hand_in(&student, &id, &batch).await.expect(201).id());
        course.room.clinic.service.clinic.clock().advance(Duration::seconds(1));
    }
    // What is ordered by is a fact of the database: two of them are clean.
    let mut owner = database::owner(&course.room.clinic.database).await;
    let clean = format!(
        "UPDATE work_waiting SET findings = '{{}}', noted = false, clean = true WHERE handed_id IN ('{}', '{}')",
        handed[0], handed[2]
    );
    owner.batch_execute(&clean).await.unwrap();
    let (service, nobody, tally) = counted(&course.room).await;
    let marek = nobody.with(marek.token.as_deref().unwrap(), &marek.id);
    let of = |order: [usize; 5]| order.map(|place| handed[place].clone()).to_vec();
    assert_eq!(all(&marek, "").await, of([1, 3, 4, 0, 2]), "exceptions first, then what is clean");
    assert_eq!(all(&marek, "&order=oldest").await, of([0, 1, 2, 3, 4]));
    assert_eq!(all(&marek, "&order=due").await, of([4, 3, 2, 1, 0]));
    let clean = &queue(&marek, "").await["items"][4].clone();
    assert!(clean["stands_out"].is_null() && clean["finding"].is_null(), "{clean}");
    // A cursor is of its order.
    let next = queue(&marek, "?limit=2").await["next"].as_str().unwrap().to_owned();
    marek.get(&format!("/v1/submissions?order=due&after={next}")).await.fields(&["?after"]);
    marek.get("/v1/submissions?after=nonsense").await.fields(&["?after"]);
    let mut costs = Vec::new();
    for limit in [1, 100] {
        let (answer, spent) = tally.during(marek.get(&format!("/v1/submissions?limit={limit}"))).await;
        answer.expect(200);
        let read = spent.iter().filter(|one| one.begin.ends_with("READ ONLY"));
        costs.push(read.map(|one| one.statements).sum::<usize>());
    }
    assert_eq!(costs[0], costs[1], "one statement for the list, however long it is");
    service.stop().await.unwrap();
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_but_the_triggers_writes_what_waits() {
    let course = Course::start().await;
    let id = course.practical().await;
    let batch = made(&course, &course.room.noor, &[("1.1", "80 g")]).await;
    hand_in(&course.room.noor, &id, &batch).await.expect(201);
    let mut owner = database::owner(&course.room.clinic.database).await;
    for act in ["UPDATE work_waiting SET late = true", "DELETE FROM work_waiting"] {
        let as_service = format!("BEGIN; SET LOCAL ROLE stillroom_service; {act}");
        let refused = owner.batch_execute(&as_service).await.unwrap_err().to_string();
        assert!(refused.contains("permission denied"), "{refused}");
        owner.batch_execute("ROLLBACK").await.unwrap();
    }
    // The one who claims and gives up leaves it where it was.
    let path = format!("/v1/submissions/{}/claim", ids(&queue(&course.room.ilse, "").await)[0]);
    act(&course.room.ilse, &path).await.expect(201);
    course.room.ilse.delete(&path).await.expect(204);
    assert_eq!(queue(&course.room.ilse, "").await["items"].as_array().unwrap().len(), 1);
    course.stop().await;
}
