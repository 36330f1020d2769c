//! Marks: by the rubric, with the verdict, by one marker at a time, and never of one's own.

use chrono::Duration;
use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, database};

use super::handed_in::{claim, hand_in};
use super::{Course, rubric};

/// A course with work of Noor's that waits to be marked, and two markers who may read the record.
struct Marked {
    course: Course,
    batch: String,
    handed: String,
}

impl Marked {
    async fn start() -> Self {
        Self::start_with(rubric()).await
    }

    async fn start_with(rubric: Value) -> Self {
        let course = Course::start().await;
        let mut work = course.work(&json!([]));
        work["rubric"] = rubric;
        let id = course.publish(work).await;
        let batch = course.batch(&course.room.noor).await;
        for marker in [&course.room.ilse, &course.room.marek] {
            marker.acknowledge(&course.cream).await.expect(201);
        }
        let handed = hand_in(&course.room.noor, &id, &batch).await.expect(201).id();
        Self { course, batch, handed }
    }

    fn at(&self, what: &str) -> String {
        format!("/v1/submissions/{}/{what}", self.handed)
    }

    async fn review(&self, by: &Caller, verdict: &str, mark: Value) -> Answer {
        let review = json!({ "verdict": verdict, "summary": "As I see it.", "mark": mark });
        by.post(&format!("/v1/batches/{}/reviews", self.batch), review).await
    }
}

/// Every criterion of the rubric decided.
fn full() -> Value {
    json!({ "criteria": [{ "criterion": 1, "level": 1, "comment": "The wax is off by 3 g." },
        { "criterion": 2, "level": 2 }, { "criterion": 3, "met": true }] })
}

fn pointers(answer: &Answer) -> Vec<String> {
    let errors = answer.json["errors"].as_array().unwrap().iter();
    errors.map(|error| error["pointer"].as_str().unwrap().to_owned()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_mark_is_released_with_the_verdict_and_every_criterion_is_decided() {
    let marked = Marked::start().await;
    let (noor, ilse) = (&marked.course.room.noor, &marked.course.room.ilse);
    claim(ilse, &marked.handed).await.expect(201);
    for (verdict, mark, expected) in [
        ("accept", Value::Null, vec!["/mark"]),
        ("return", full(), vec!["/mark"]),
        (
            "accept",
            json!({ "criteria": [{ "criterion": 1, "level": 3 }, { "criterion": 2, "level": 1 }] }),
            vec!["/mark/criteria/0/level", "/mark/criteria"],
        ),
        (
            "accept",
            json!({ "criteria": [{ "criterion": 1, "level": 1 }, { "criterion": 2, "level": 1 },
                { "criterion": 3, "met": false, "comment": "One lot is missing." }] }),
            vec!["/mark/criteria/2/met"],
        ),
        (
            "reject",
            json!({ "criteria": [{ "criterion": 1, "level": 1 }, { "criterion": 2, "level": 1 },
                { "criterion": 3, "met": false }] }),
            vec!["/mark/criteria/2/comment"],
        ),
    ] {
        let refused = marked.review(ilse, verdict, mark.clone()).await.problem(422, "invalid-request");
        assert_eq!(pointers(&refused), expected, "{mark}");
    }
    let none = noor.get(&marked.at("marks")).await.expect(200).json;
    assert_eq!(none["marks"], json!([]), "nothing was written");

    marked.review(ilse, "accept", full()).await.expect(201);
    let own = noor.get(&marked.at("marks")).await.expect(200).json;
    assert_eq!(own["marks"][0]["points"], 4);
    assert_eq!(
        own["marks"][0]["criteria"][0],
        json!({ "criterion": 1, "level": 1, "points": 0, "comment": 1 })
    );
    assert_eq!(own["rubric"]["total_points"], 10);
    assert!(!own.to_string().contains("The wax"), "what is said of amounts stands behind the gate: {own}");
    let record = noor.get(&format!("/v1/batches/{}", marked.batch)).await.expect(200).json;
    assert_eq!(record["submissions"][0]["review"]["comments"][0]["text"], "The wax is off by 3 g.");
    marked.course.sven.get(&marked.at("marks")).await.problem(404, "not-found");
    noor.get(&marked.at("assessment")).await.problem(403, "forbidden");
    noor.get(&marked.at("notes")).await.problem(403, "forbidden");
    marked.course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn one_marker_holds_work_at_a_time_and_an_abandoned_claim_ends() {
    let marked = Marked::start().await;
    let (ilse, marek) = (&marked.course.room.ilse, &marked.course.room.marek);
    let first = claim(ilse, &marked.handed).await.expect(201).json;
    assert_eq!(first["until"]["at"], "2026-03-02T08:30:00Z", "{first}");
    let refused = claim(marek, &marked.handed).await.problem(409, "wrong-state");
    let says = refused.text_at("/detail");
    assert!(says.contains("ilse.brandt") && says.contains("2026-03-02T09:30:00+01:00"), "{says}");
    let refused = marked.review(marek, "accept", full()).await.problem(409, "wrong-state");
    assert_eq!(refused.json["state"], "claimed");
    marek.delete(&marked.at("claim")).await.problem(404, "not-found");

    // Claiming again prolongs it; half an hour after the last act it is anybody's.
    let course = &marked.course;
    let ilse = course.later(Duration::minutes(20), "ilse.brandt").await;
    claim(&ilse, &marked.handed).await.expect(201);
    let ilse = course.later(Duration::minutes(29), "ilse.brandt").await;
    let marek = course.later(Duration::zero(), "marek.dvorsky").await;
    claim(&marek, &marked.handed).await.problem(409, "wrong-state");
    course.room.clinic.service.clinic.clock().advance(Duration::minutes(1));
    let late = marked.review(&ilse, "accept", full()).await.problem(409, "wrong-state");
    assert_eq!(late.json["state"], "not_claimed");
    claim(&marek, &marked.handed).await.expect(201);
    claim(&ilse, &marked.handed).await.problem(409, "wrong-state");
    marek.delete(&marked.at("claim")).await.expect(204);
    claim(&ilse, &marked.handed).await.expect(201);

    // The database holds it too.
    let mut owner = database::owner(&marked.course.room.clinic.database).await;
    let taken = format!(
        "UPDATE work_claim SET marker_id = '{}', claimed_at = ends_at - interval '1 minute' WHERE handed_id = '{}'",
        marek.id, marked.handed
    );
    let refused = owner.batch_execute(&taken).await.unwrap_err().to_string();
    assert!(refused.contains("is claimed by"), "{refused}");
    let marks = format!(
        "INSERT INTO work_mark (id, handed_id, number, marker_id, at)
         SELECT gen_random_uuid(), handed_id, 1, '{}', claimed_at FROM work_claim",
        marek.id
    );
    let refused = owner.batch_execute(&marks).await.unwrap_err().to_string();
    assert!(refused.contains("is not claimed by"), "{refused}");
    marked.course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn of_many_who_claim_at_once_one_holds_the_work() {
    let marked = Marked::start().await;
    let mut all = tokio::task::JoinSet::new();
    for round in 0..12 {
        let room = &marked.course.room;
        let marker = if round % 2 == 0 { room.ilse.clone() } else { room.marek.clone() };
        let handed = marked.handed.clone();
        all.spawn(async move { (marker.id.clone(), claim(&marker, &handed).await) });
    }
    let mut holders = std::collections::BTreeSet::new();
    while let Some(done) = all.join_next().await {
        let (marker, answer) = done.unwrap();
        match answer.status.as_u16() {
            201 => drop(holders.insert(marker)),
            409 => {}
            other => panic!("{other}: {}", answer.text),
        }
    }
    assert_eq!(holders.len(), 1, "{holders:?}");
    marked.course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_marks_the_work_of_a_student_to_whom_they_declared_a_relation() {
    let marked = Marked::start().await;
    let (noor, ilse, marek) = (&marked.course.room.noor, &marked.course.room.ilse, &marked.course.room.marek);
    let declare =
        async |by: &Caller, student: &str| by.post("/v1/relations", json!({ "student": student })).await;
    let refused = declare(ilse, &marek.id).await.problem(422, "invalid-request");
    assert_eq!(pointers(&refused), ["/student"]);
    declare(noor, &marked.course.sven.id).await.problem(403, "forbidden");
    claim(ilse, &marked.handed).await.expect(201);
    let made = declare(ilse, &noor.id).await.expect(201).json;
    assert_eq!(made["student_name"], "noor.haddad");
    // Said again it is the same; the claim ended with it.
    assert_eq!(declare(ilse, &noor.id).await.expect(201).json["id"], made["id"]);
    claim(ilse, &marked.handed).await.problem(403, "forbidden");
    marked.review(ilse, "accept", full()).await.problem(403, "forbidden");
    let own = ilse.get("/v1/relations").await.expect(200).json;
    assert_eq!(own["items"].as_array().unwrap().len(), 1);
    assert_eq!(marek.get("/v1/relations").await.expect(200).json["items"], json!([]));

    let mut owner = database::owner(&marked.course.room.clinic.database).await;
    for by in [&ilse.id, &noor.id] {
        let claims = format!(
            "INSERT INTO work_claim SELECT id, '{by}', received_at, received_at + interval '1 hour' FROM handed_work"
        );
        let refused = owner.batch_execute(&claims).await.unwrap_err().to_string();
        assert!(refused.contains("may not mark work"), "{refused}");
    }
    claim(marek, &marked.handed).await.expect(201);
    marked.review(marek, "accept", full()).await.expect(201);
    marked.course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_changed_mark_is_another_one_and_both_stay() {
    let marked = Marked::start().await;
    let (noor, ilse) = (&marked.course.room.noor, &marked.course.room.ilse);
    let change =
        |level: u32| json!({ "reason": "record_misread", "criteria": [{ "criterion": 1, "level": level }] });
    let early = ilse.post(&marked.at("marks"), change(2)).await.problem(409, "wrong-state");
    assert_eq!(early.json["state"], "not_claimed");
    claim(ilse, &marked.handed).await.expect(201);
    let early = ilse.post(&marked.at("marks"), change(2)).await.problem(409, "wrong-state");
    assert_eq!(early.json["state"], "not_marked");
    marked.review(ilse, "accept", full()).await.expect(201);
    ilse.post(&marked.at("marks"), change(2)).await.problem(409, "wrong-state");
    claim(ilse, &marked.handed).await.expect(201);
    for (criterion, level, pointer) in
        [(1, 1, "/criteria"), (1, 3, "/criteria/0/level"), (3, 1, "/criteria/0/criterion")]
    {
        let body = json!({ "reason": "appeal", "criteria": [{ "criterion": criterion, "level": level }] });
        let refused = ilse.post(&marked.at("marks"), body).await.problem(422, "invalid-request");
        assert_eq!(pointers(&refused), [pointer]);
    }
    ilse.post(&marked.at("marks"), change(2)).await.expect(201);
    let marks = noor.get(&marked.at("marks")).await.expect(200).json;
    let points = |place: usize| marks["marks"][place]["points"].as_u64().unwrap();
    assert_eq!((points(0), points(1)), (10, 4));
    assert_eq!(marks["marks"][0]["reason"], "record_misread");
    assert_eq!(marks["marks"][0]["criteria"][0]["comment"], 1, "the comment stays beside its criterion");

    // Nothing of it changes, whoever asks, and no level comes in that the rubric does not have.
    let mut owner = database::owner(&marked.course.room.clinic.database).await;
    let wrong = "UPDATE work_mark_criterion SET points = 5 WHERE level IS NOT NULL";
    let as_service = format!("BEGIN; SET LOCAL ROLE stillroom_service; {wrong}");
    let refused = owner.batch_execute(&as_service).await.unwrap_err().to_string();
    assert!(refused.contains("permission denied"), "{refused}");
    owner.batch_execute("ROLLBACK").await.unwrap();
    let wrong = "INSERT INTO work_mark_criterion (mark_id, position, level, points) SELECT id, 4, 1, 0 FROM work_mark";
    let refused = owner.batch_execute(wrong).await.unwrap_err().to_string();
    assert!(refused.contains("is none of the rubric"), "{refused}");
    marked.course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn findings_propose_a_level_and_decide_nothing() {
    let mut rubric = rubric();
    rubric["criteria"][0]["findings"] = json!(["missing"]);
    let twice = {
        let mut twice = rubric.clone();
        twice["criteria"][1]["findings"] = json!(["missing"]);
        twice
    };
    let marked = Marked::start_with(rubric).await;
    let (ilse, marek) = (&marked.course.room.ilse, &marked.course.room.marek);
    let mut work = marked.course.work(&json!([]));
    work["rubric"] = twice;
    let refused = ilse.post(&marked.course.at("assignments"), work).await.problem(422, "invalid-request");
    assert_eq!(pointers(&refused), ["/rubric/criteria/1/findings/0"]);

    // One line of the cream was weighed: the rest is missing.
    let assessed = marek.get(&marked.at("assessment")).await.expect(200).json;
    let proposal = &assessed["proposals"][0];
    assert_eq!((&proposal["criterion"], &proposal["level"]), (&json!(1), &json!(1)));
    assert!(proposal["findings"].as_array().unwrap().iter().all(|finding| finding["kind"] == "missing"));
    assert_eq!(assessed["proposals"].as_array().unwrap().len(), 1);
    claim(marek, &marked.handed).await.expect(201);
    let mut mark = full();
    mark["criteria"][0]["level"] = json!(2);
    marked.review(marek, "accept", mark).await.expect(201);
    let marks = marek.get(&marked.at("marks")).await.expect(200).json;
    assert_eq!(marks["marks"][0]["points"], 10, "the marker decides");
    marked.course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn practice_is_reviewed_and_not_marked() {
    let practice = json!({ "total_points": 0, "criteria": [], "practice": true });
    let marked = Marked::start_with(practice).await;
    let (noor, ilse) = (&marked.course.room.noor, &marked.course.room.ilse);
    let mut work = marked.course.work(&json!([]));
    work["rubric"] = json!({ "total_points": 0, "criteria": [] });
    let refused = ilse.post(&marked.course.at("assignments"), work).await.problem(422, "invalid-request");
    assert_eq!(pointers(&refused), ["/rubric/criteria"]);
    claim(ilse, &marked.handed).await.expect(201);
    let refused = marked.review(ilse, "accept", full()).await.problem(422, "invalid-request");
    assert_eq!(pointers(&refused), ["/mark"]);
    marked.review(ilse, "accept", Value::Null).await.expect(201);
    let marks = noor.get(&marked.at("marks")).await.expect(200).json;
    assert_eq!((&marks["marks"], &marks["rubric"]["practice"]), (&json!([]), &json!(true)));

    // A record that counts for nothing has no mark either.
    let batch = marked.course.batch(noor).await;
    noor.post(&format!("/v1/batches/{batch}/submissions"), json!({})).await.expect(201);
    let review = json!({ "verdict": "accept", "summary": "As I see it.", "mark": full() });
    let refused =
        ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.problem(422, "invalid-request");
    assert_eq!(pointers(&refused), ["/mark"]);
    marked.course.stop().await;
}
