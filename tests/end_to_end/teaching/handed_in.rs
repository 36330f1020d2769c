//! Handing work in: frozen with its reflection, at the time at which it came, by the dates that hold for the student.

use chrono::{DateTime, Duration, Utc};
use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::clinic::settle;
use stillroom_tests::{Answer, Caller, database};
use tokio::task::JoinSet;

use super::{Course, begin, give_up};
use crate::races::waiting;

/// A pool in which requests meet.
const TOGETHER: [(&str, &str); 1] = [("STILLROOM_CONNECTIONS", "8")];

impl Course {
    /// A batch of the cream with its first line weighed.
    pub(crate) async fn batch(&self, maker: &Caller) -> String {
        maker.acknowledge(&self.cream).await.expect(201);
        let batch = maker.post("/v1/batches", json!({ "revision": self.cream })).await.expect(201).id();
        let weighed = json!({ "kind": "weighing", "line": "1.1", "quantity": "80 g", "lot": "W-1" });
        maker.post(&format!("/v1/batches/{batch}/entries"), weighed).await.expect(201);
        batch
    }

    /// Moves the clock to a time in Berlin and signs in again.
    pub(crate) async fn at_time(&self, at: &str, name: &str) -> Caller {
        let at: DateTime<Utc> = at.parse().unwrap();
        self.later(at - self.room.clinic.service.clinic.clock().now(), name).await
    }

    /// Students who are invited together, each a member of the library and of the cohort, in the order of the names.
    pub(crate) async fn students(&self, names: &[String]) -> Vec<Caller> {
        let mut coming = JoinSet::new();
        for (place, name) in names.iter().cloned().enumerate() {
            let (nobody, administrator) =
                (self.room.clinic.nobody.clone(), self.room.clinic.administrator.clone());
            let (ilse, library, members) =
                (self.room.ilse.clone(), self.room.library.clone(), self.at("members"));
            coming.spawn(async move {
                let person = json!({ "sign_in_name": name, "name": name, "role": "student" });
                let invited = administrator.post("/v1/invitations", person).await.expect(201);
                let student = settle(&nobody, &invited.text_at("/code"), &name).await;
                ilse.put_bare(&format!("/v1/libraries/{library}/members/{}", student.id)).await.expect(204);
                let enrolled = json!({ "person": student.id, "role": "student" });
                ilse.post(&members, enrolled).await.expect(201);
                (place, student)
            });
        }
        let mut all = coming.join_all().await;
        all.sort_by_key(|(place, _)| *place);
        all.into_iter().map(|(_, student)| student).collect()
    }

    /// Work on the cream without questions, published.
    pub(crate) async fn practical(&self) -> String {
        self.publish(self.work(&json!([]))).await
    }
}

/// Hands a batch in.
pub(crate) async fn hand_in(caller: &Caller, assignment: &str, batch: &str) -> Answer {
    caller.post(&format!("/v1/assignments/{assignment}/submissions"), json!({ "batch": batch })).await
}

/// Claims work that was handed in.
pub(crate) async fn claim(caller: &Caller, handed: &str) -> Answer {
    super::act(caller, &format!("/v1/submissions/{handed}/claim")).await
}

async fn save(caller: &Caller, assignment: &str, tag: &str, text: &str) -> Answer {
    let path = format!("/v1/assignments/{assignment}/reflection");
    caller.put(&path, tag, json!({ "text": text })).await
}

fn state_of(list: &Value, id: &str) -> String {
    let items = list["items"].as_array().unwrap();
    items.iter().find(|item| item["id"] == id).unwrap()["state"].as_str().unwrap().to_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_draft_is_kept_as_the_student_goes_and_frozen_with_the_record() {
    let course = Course::start().await;
    let (noor, ilse) = (&course.room.noor, &course.room.ilse);
    let id = course.practical().await;
    let path = format!("/v1/assignments/{id}/reflection");
    let empty = noor.get(&path).await.expect(200);
    assert_eq!(empty.json, json!({ "text": "" }));
    let first = save(noor, &id, &empty.etag(), "It was slow").await.expect(200);
    // Another window has the version of before.
    save(noor, &id, &empty.etag(), "From another window").await.problem(412, "stale");
    save(noor, &id, &first.etag(), "It was slow to thicken.").await.expect(200);
    ilse.get(&path).await.problem(403, "forbidden");
    let kept = noor.get(&path).await.expect(200);
    assert_eq!(kept.json["text"], "It was slow to thicken.");
    let long = "a".repeat(4001);
    let refused = save(noor, &id, &kept.etag(), &long).await.problem(422, "invalid-request");
    assert_eq!(refused.text_at("/errors/0/pointer"), "/text");

    let batch = course.batch(noor).await;
    let own = noor.get(&format!("/v1/assignments/{id}/work")).await.expect(200).json;
    assert_eq!((&own["state"], &own["batches"][0]["id"]), (&json!("open"), &json!(batch)));
    let handed = hand_in(noor, &id, &batch).await.expect(201);
    assert_eq!((&handed.json["number"], &handed.json["late"]), (&json!(1), &json!(false)));
    assert_eq!(handed.json["digest"].as_str().unwrap().len(), 64);
    assert_eq!(handed.json["assignment_version"], 1);
    let record = noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    assert_eq!(record["submissions"][0]["answer"], "It was slow to thicken.");
    assert_eq!(noor.get(&path).await.expect(200).json["text"], "", "it is frozen with the submission now");

    // It waits: neither a second one, nor a submission past the assignment.
    let again = hand_in(noor, &id, &batch).await.problem(409, "wrong-state");
    assert_eq!(again.json["state"], "submitted");
    noor.post(&format!("/v1/batches/{batch}/submissions"), json!({})).await.problem(409, "wrong-state");

    let view = format!("/v1/submissions/{}", handed.id());
    assert_eq!(course.room.marek.get(&view).await.expect(200).json, handed.json);
    assert_eq!(noor.get(&view).await.expect(200).json, handed.json);
    course.sven.get(&view).await.problem(404, "not-found");
    course.room.clinic.administrator.get(&view).await.problem(404, "not-found");
    assert_eq!(state_of(&noor.get("/v1/assignments").await.expect(200).json, &id), "submitted");
    let of_class = ilse.get(&course.at("assignments")).await.expect(200).json;
    assert_eq!(
        (&of_class["items"][0]["submitted"], &of_class["items"][0]["settled"]),
        (&json!(1), &json!(0))
    );
    let students = ilse.get(&format!("/v1/assignments/{id}/students")).await.expect(200).json;
    assert_eq!(
        (&students["items"][0]["state"], &students["items"][0]["submissions"]),
        (&json!("submitted"), &json!(1))
    );
    let record = ilse.get(&format!("/v1/assignments/{id}/students/{}/work", noor.id)).await.expect(200).json;
    assert_eq!(record["submissions"][0], handed.json);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_dates_decide_and_extra_time_moves_them_for_one_student() {
    let course = Course::start().await;
    let mut work = course.work(&json!([]));
    work["opens"] = json!("2026-03-09T09:00");
    let id = course.publish(work).await;
    let batch = course.batch(&course.room.noor).await;
    let of_sven = course.batch(&course.sven).await;
    let early = hand_in(&course.room.noor, &id, &batch).await.problem(409, "wrong-state");
    assert_eq!(early.json["state"], "upcoming");
    assert!(early.text_at("/detail").contains("2026-03-09T09:00:00+01:00"), "{}", early.text);

    // Due on the 20th at 18:00 in Berlin, late until the 27th: one second after it is closed.
    let noor = course.at_time("2026-03-27T17:00:01Z", "noor.haddad").await;
    let closed = hand_in(&noor, &id, &batch).await.problem(409, "wrong-state");
    assert_eq!(closed.json["state"], "closed");
    let says = closed.text_at("/detail");
    assert!(
        says.contains("2026-03-27T18:00:00+01:00") && says.contains("2026-03-27T18:00:01+01:00"),
        "{says}"
    );
    assert_eq!(state_of(&noor.get("/v1/assignments").await.expect(200).json, &id), "closed");

    let ilse = course.later(Duration::zero(), "ilse.brandt").await;
    let marek = course.later(Duration::zero(), "marek.dvorsky").await;
    let path = format!("/v1/assignments/{id}/students/{}/allowances", noor.id);
    let extra = json!({ "kind": "extra_time", "extra_minutes": 2, "reason": "The library was shut." });
    marek.post(&path, extra.clone()).await.problem(403, "forbidden");
    noor.post(&path, extra.clone()).await.problem(403, "forbidden");
    for (body, pointer) in [
        (json!({ "kind": "extra_time", "reason": "Ill." }), "/extra_minutes"),
        (json!({ "kind": "extra_time", "extra_minutes": 0, "reason": "Ill." }), "/extra_minutes"),
        (json!({ "kind": "excused", "extra_minutes": 5, "reason": "Ill." }), "/extra_minutes"),
        (json!({ "kind": "excused", "reason": " " }), "/reason"),
    ] {
        let refused = ilse.post(&path, body).await.problem(422, "invalid-request");
        assert_eq!(refused.text_at("/errors/0/pointer"), pointer, "{}", refused.text);
    }
    let stranger = format!("/v1/assignments/{id}/students/{}/allowances", marek.id);
    ilse.post(&stranger, extra.clone()).await.problem(404, "not-found");
    ilse.post(&path, extra).await.expect(201);
    let own = noor.get(&format!("/v1/assignments/{id}/work")).await.expect(200).json;
    assert_eq!(own["late_until"]["local"], "2026-03-27T18:02:00+01:00");
    assert_eq!(own["allowance"]["reason"], "The library was shut.");
    assert_eq!(own["state"], "late");
    let handed = hand_in(&noor, &id, &batch).await.expect(201);
    assert_eq!(handed.json["late"], true);

    // Nobody else got more time. An excuse asks for nothing; it can be taken back.
    let sven = course.later(Duration::zero(), "sven.aalto").await;
    hand_in(&sven, &id, &of_sven).await.problem(409, "wrong-state");
    let path = format!("/v1/assignments/{id}/students/{}/allowances", sven.id);
    ilse.post(&path, json!({ "kind": "excused", "reason": "Ill that week." })).await.expect(201);
    assert_eq!(state_of(&sven.get("/v1/assignments").await.expect(200).json, &id), "excused");
    ilse.post(&path, json!({ "kind": "as_everybody", "reason": "Entered for another." })).await.expect(201);
    assert_eq!(state_of(&sven.get("/v1/assignments").await.expect(200).json, &id), "closed");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_counts_once_of_its_maker_and_of_an_assigned_formula() {
    let course = Course::start().await;
    let noor = &course.room.noor;
    let (first, second) = (course.practical().await, course.practical().await);
    let batch = course.batch(noor).await;
    let other = course.batch(&course.sven).await;
    let refused = |answer: Answer, says: &str| {
        let problem = answer.problem(422, "invalid-request");
        assert_eq!(problem.text_at("/errors/0/pointer"), "/batch", "{}", problem.text);
        assert!(problem.text.contains(says), "{}", problem.text);
    };
    refused(hand_in(noor, &first, &other).await, "no batch with this ID");
    refused(hand_in(noor, &first, &noor.id).await, "no batch with this ID");
    noor.acknowledge(&course.oil).await.expect(201);
    let oil = noor.post("/v1/batches", json!({ "revision": course.oil })).await.expect(201).id();
    refused(hand_in(noor, &first, &oil).await, "formula that is not assigned");
    let planned = noor.post("/v1/batches", json!({ "revision": course.cream })).await.expect(201).id();
    hand_in(noor, &first, &planned).await.problem(409, "wrong-state");
    hand_in(noor, &first, &batch).await.expect(201);
    refused(hand_in(noor, &second, &batch).await, "counts for another assignment");
    hand_in(&course.room.ilse, &first, &batch).await.problem(403, "forbidden");
    let own = noor.get(&format!("/v1/assignments/{second}/work")).await.expect(200).json;
    assert_eq!(own["batches"], json!([]), "{own}");

    // Submitted at the bench by mistake: it still counts, with the words that were written there.
    let batch = course.batch(noor).await;
    let answer = json!({ "answer": "Written at the bench." });
    noor.post(&format!("/v1/batches/{batch}/submissions"), answer).await.expect(201);
    let path = format!("/v1/assignments/{second}/submissions");
    let twice = json!({ "batch": batch, "reflection": "Something else." });
    let refused = noor.post(&path, twice).await.problem(422, "invalid-request");
    assert_eq!(refused.text_at("/errors/0/pointer"), "/reflection");
    let handed = hand_in(noor, &second, &batch).await.expect(201);
    assert_eq!(handed.json["submission_number"], 1);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn questions_come_first() {
    let course = Course::start().await;
    let noor = &course.room.noor;
    let batch = course.batch(noor).await;
    let id = course.publish(course.work(&json!([{ "kind": "jar_filling" }]))).await;
    let not_begun = hand_in(noor, &id, &batch).await.problem(409, "wrong-state");
    assert_eq!(not_begun.json["state"], "not_begun");
    let questions = begin(noor, &id).await.expect(201).json["questions"].clone();
    let open = hand_in(noor, &id, &batch).await.problem(409, "wrong-state");
    assert_eq!(open.json["state"], "questions_open");
    give_up(noor, &questions[0]).await;
    hand_in(noor, &id, &batch).await.expect(201);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn work_counts_when_it_came_in_however_long_it_waits() {
    let course = Course::start_with(&TOGETHER).await;
    let id = course.practical().await;
    let batch = course.batch(&course.room.noor).await;
    let noor = course.at_time("2026-03-27T17:00:00Z", "noor.haddad").await;
    let mut holder = database::owner(&course.room.clinic.database).await;
    let mut watch = database::owner(&course.room.clinic.database).await;
    let held = format!("BEGIN; SELECT FROM assignment WHERE id = '{id}' FOR UPDATE");
    holder.batch_execute(&held).await.unwrap();
    let (sent, work) = (noor.clone(), id.clone());
    let sending = tokio::spawn(async move { hand_in(&sent, &work, &batch).await });
    while waiting(&mut watch).await < 1 {
        assert!(!sending.is_finished(), "it does not wait");
    }
    // It came in the last moment, and is worked on after it.
    course.room.clinic.service.clinic.clock().advance(Duration::seconds(30));
    holder.batch_execute("COMMIT").await.unwrap();
    let handed = sending.await.unwrap().expect(201);
    assert_eq!(handed.text_at("/received_at"), "2026-03-27T17:00:00Z");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn fifty_come_in_the_last_second_and_each_lands_or_says_why() {
    let course = Course::start_with(&TOGETHER).await;
    let room = &course.room;
    let mut work = course.work(&json!([]));
    // In Berlin, one hour ahead: the clock of the test stands at nine.
    work["due"] = json!("2026-03-02T09:05");
    work["late_until"] = json!(null);
    let id = course.publish(work).await;
    let names: Vec<String> = (0..50).map(|number| format!("student.{number}")).collect();
    let students = course.students(&names).await;
    let mut ready = Vec::new();
    for student in students {
        let batch = course.batch(&student).await;
        ready.push((student, batch));
    }
    let clock = room.clinic.service.clinic.clock();
    let due: DateTime<Utc> = "2026-03-02T08:05:00Z".parse().unwrap();
    clock.advance(due - clock.now());
    let mut together = JoinSet::new();
    for (student, batch) in ready {
        let id = id.clone();
        together.spawn(async move {
            let handed = hand_in(&student, &id, &batch).await;
            (student, batch, handed)
        });
    }
    let mut landed = 0;
    for (student, batch, answer) in together.join_all().await {
        match answer.status.as_u16() {
            201 => landed += 1,
            // Said why: the service was too busy, and the work is as it was.
            503 => {
                assert!(!answer.header("retry-after").is_empty(), "{}", answer.text);
                hand_in(&student, &id, &batch).await.expect(201);
                landed += 1;
            }
            other => panic!("{other}: {}", answer.text),
        }
    }
    assert_eq!(landed, 50);
    let of_class = room.ilse.get(&course.at("assignments")).await.expect(200).json;
    assert_eq!(of_class["items"][0]["submitted"], 50);
    clock.advance(Duration::microseconds(1));
    let batch = course.batch(&room.noor).await;
    let late = hand_in(&room.noor, &id, &batch).await.problem(409, "wrong-state");
    assert_eq!(late.json["state"], "closed");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn returned_work_comes_again_as_often_as_the_assignment_allows() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    // An instructor of the library who does not teach the class.
    let hana = course.room.clinic.person("hana.voss", "instructor").await;
    ilse.put_bare(&format!("/v1/libraries/{}/members/{}", course.room.library, hana.id)).await.expect(204);
    let id = course.practical().await;
    let batch = course.batch(noor).await;
    for reviewer in [ilse, marek, &hana] {
        reviewer.acknowledge(&course.cream).await.expect(201);
    }
    let first = hand_in(noor, &id, &batch).await.expect(201).id();
    let reviews = format!("/v1/batches/{batch}/reviews");
    let verdict =
        |verdict: &str| json!({ "verdict": verdict, "summary": "Weigh the wax again.", "comments": [] });
    hana.post(&reviews, verdict("return")).await.problem(403, "forbidden");
    let unclaimed = marek.post(&reviews, verdict("return")).await.problem(409, "wrong-state");
    assert_eq!(unclaimed.json["state"], "not_claimed");
    claim(marek, &first).await.expect(201);
    marek.post(&reviews, verdict("return")).await.expect(201);
    assert_eq!(state_of(&noor.get("/v1/assignments").await.expect(200).json, &id), "returned");

    // The bench takes it for the assignment only, and it comes again after its dates.
    let past = noor.post(&format!("/v1/batches/{batch}/submissions"), json!({})).await;
    assert_eq!(past.problem(409, "wrong-state").json["state"], "counts_for_assignment");
    let noor = &course.at_time("2026-04-10T08:00:00Z", "noor.haddad").await;
    let own = noor.get(&format!("/v1/assignments/{id}/work")).await.expect(200).json;
    assert_eq!((&own["returns_left"], &own["batches"][0]["id"]), (&json!(1), &json!(batch)));
    let path = format!("/v1/assignments/{id}/submissions");
    let again = json!({ "batch": batch, "reflection": "I weighed it again." });
    let second = noor.post(&path, again).await.expect(201);
    assert_eq!((&second.json["number"], &second.json["late"]), (&json!(2), &json!(false)));
    assert_eq!(second.json["submission_number"], 2);

    // One return was allowed.
    let marek = course.later(Duration::zero(), "marek.dvorsky").await;
    claim(&marek, &second.id()).await.expect(201);
    let refused = marek.post(&reviews, verdict("return")).await.problem(409, "wrong-state");
    assert_eq!(refused.json["state"], "no_return_left");
    let record = noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    assert_eq!(record["state"], "submitted", "nothing was written");
    marek.post(&reviews, verdict("reject")).await.expect(201);
    let settled = noor.get(&format!("/v1/submissions/{}", second.id())).await.expect(200);
    assert_eq!(settled.json["state"], "rejected");
    let over = hand_in(noor, &id, &batch).await.problem(409, "wrong-state");
    assert_eq!(over.json["state"], "rejected");
    let of_class = marek.get(&course.at("assignments")).await.expect(200).json;
    assert_eq!(
        (&of_class["items"][0]["submitted"], &of_class["items"][0]["settled"]),
        (&json!(0), &json!(1))
    );
    course.stop().await;
}
