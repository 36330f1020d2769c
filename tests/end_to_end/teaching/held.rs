//! The recipe is held shut for each student of the class until that student has answered, and for nobody else.

use chrono::Duration;
use diesel_async::SimpleAsyncConnection;
use serde_json::json;
use stillroom_tests::database;

use super::{Course, answer, begin, give_up};

const TWO: [&str; 2] = ["jar_filling", "spirit_dilution"];

fn questions(kinds: &[&str]) -> serde_json::Value {
    json!(kinds.iter().map(|kind| json!({ "kind": kind })).collect::<Vec<_>>())
}

#[tokio::test(flavor = "multi_thread")]
async fn the_recipe_opens_with_the_last_answer_and_not_before() {
    let course = Course::start().await;
    let noor = &course.room.noor;
    let id = course.publish(course.work(&questions(&TWO))).await;
    let held = noor.acknowledge(&course.cream).await.problem(409, "wrong-state");
    assert_eq!(held.json["state"], "held_by_assignment");
    let detail = held.text_at("/detail");
    assert!(detail.contains("Make a calendula cream") && detail.contains(&id), "{detail}");
    assert!(detail.contains("answer: 2."), "{detail}");

    let begun = begin(noor, &id).await.expect(201);
    let asked = begun.json["questions"].as_array().unwrap().clone();
    assert!(asked.iter().all(|question| question["worked"].is_null()), "{}", begun.text);
    let first = give_up(noor, &asked[0]).await;
    assert_eq!(first["attempts_used"], 2);
    assert!(!first["worked"]["steps"].as_array().unwrap().is_empty(), "shown once the answer is final");
    let held = noor.acknowledge(&course.cream).await.problem(409, "wrong-state");
    assert!(held.text_at("/detail").contains("answer: 1."), "{}", held.text);
    noor.get(&format!("/v1/revisions/{}/recipe", course.cream)).await.problem(403, "gate-closed");
    give_up(noor, &asked[1]).await;
    noor.acknowledge(&course.cream).await.expect(201);
    noor.get(&format!("/v1/revisions/{}/recipe", course.cream)).await.expect(200);

    let all = course.room.ilse.get(&format!("/v1/assignments/{id}/students")).await.expect(200);
    let work = &all.json["items"][0];
    assert_eq!(
        (&work["name"], &work["answered"], &work["right"]),
        (&json!("noor.haddad"), &json!(2), &json!(0))
    );
    assert_eq!(work["recipe_opened_before"], false);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_else_is_held() {
    let course = Course::start().await;
    let room = &course.room;
    let jo = room.clinic.person("jo.vane", "student").await;
    room.ilse.put_bare(&format!("/v1/libraries/{}/members/{}", room.library, jo.id)).await.expect(204);
    course.publish(course.work(&questions(&TWO))).await;
    // A student of another class, the class's instructors, and the same student with another formula.
    jo.acknowledge(&course.cream).await.expect(201);
    room.ilse.acknowledge(&course.cream).await.expect(201);
    room.marek.acknowledge(&course.cream).await.expect(201);
    room.noor.acknowledge(&course.oil).await.expect(201);
    course.sven.acknowledge(&course.cream).await.problem(409, "wrong-state");

    // Neither a draft holds anything, nor work without questions, nor work that was withdrawn.
    let second = Course::start().await;
    second.room.ilse.post(&second.at("assignments"), second.work(&questions(&TWO))).await.expect(201);
    second.publish(second.work(&json!([]))).await;
    second.room.noor.acknowledge(&second.cream).await.expect(201);
    let id = second.publish(second.work(&questions(&TWO))).await;
    second.sven.acknowledge(&second.cream).await.problem(409, "wrong-state");
    let reason = json!({ "reason": "The herb did not arrive." });
    second.room.ilse.post(&format!("/v1/assignments/{id}/withdrawal"), reason).await.expect(201);
    second.sven.acknowledge(&second.cream).await.expect(201);
    course.stop().await;
    second.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recipe_that_was_open_stays_open_and_the_work_says_so() {
    let course = Course::start().await;
    let (noor, ilse) = (&course.room.noor, &course.room.ilse);
    noor.acknowledge(&course.cream).await.expect(201);
    let id = course.publish(course.work(&questions(&["jar_filling"]))).await;
    noor.get(&format!("/v1/revisions/{}/recipe", course.cream)).await.expect(200);
    let begun = begin(noor, &id).await.expect(201);
    assert_eq!(begun.json["recipe_opened_before"], true);
    give_up(noor, &begun.json["questions"][0]).await;
    let all = ilse.get(&format!("/v1/assignments/{id}/students")).await.expect(200);
    let marked: Vec<_> =
        all.json["items"].as_array().unwrap().iter().map(|it| it["recipe_opened_before"].clone()).collect();
    assert_eq!(
        marked,
        [json!(false), json!(false)],
        "the clock stands still: it was opened when it was answered"
    );
    course.stop().await;

    let course = Course::start().await;
    let noor = &course.room.noor;
    noor.acknowledge(&course.cream).await.expect(201);
    let id = course.publish(course.work(&questions(&["jar_filling"]))).await;
    course.room.clinic.service.clinic.clock().advance(Duration::minutes(1));
    let begun = begin(noor, &id).await.expect(201);
    give_up(noor, &begun.json["questions"][0]).await;
    let one = course.room.ilse.get(&format!("/v1/assignments/{id}/students/{}", noor.id)).await.expect(200);
    assert_eq!(one.json["recipe_opened_before"], true);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn it_is_held_from_the_opening_on() {
    let course = Course::start().await;
    let mut work = course.work(&questions(&["jar_filling"]));
    // 09:00 in Berlin is 08:00 UTC before the clocks go forward; the test's clock begins at 08:00.
    work["opens"] = json!("2026-03-02T09:05");
    let id = course.publish(work).await;
    let early = begin(&course.room.noor, &id).await.problem(409, "wrong-state");
    assert!(early.text_at("/detail").contains("2026-03-02T09:05:00+01:00"), "{}", early.text);
    course.room.noor.acknowledge(&course.cream).await.expect(201);
    course.room.clinic.service.clinic.clock().advance(Duration::minutes(5));
    course.sven.acknowledge(&course.cream).await.problem(409, "wrong-state");
    begin(&course.sven, &id).await.expect(201);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_later_revision_of_the_formula_is_held_too() {
    let course = Course::start().await;
    let room = &course.room;
    course.publish(course.work(&questions(&["jar_filling"]))).await;
    let formula =
        room.ilse.get(&format!("/v1/revisions/{}", course.cream)).await.expect(200).text_at("/formula");
    let mut content = crate::formulas::cream();
    content["yield"] = json!("about 990 g");
    let next = room
        .ilse
        .post(&format!("/v1/formulas/{formula}/revisions"), json!({ "content": content }))
        .await
        .expect(201)
        .id();
    let tag = room.ilse.get(&format!("/v1/revisions/{next}/draft")).await.expect(200).etag();
    room.ilse.post_bare(&format!("/v1/revisions/{next}/proposal"), &[("if-match", &tag)]).await.expect(200);
    room.marek.acknowledge(&next).await.expect(201);
    let decision = json!({ "decision": "approve" });
    room.marek.post(&format!("/v1/revisions/{next}/decision"), decision).await.expect(200);
    room.noor.acknowledge(&next).await.problem(409, "wrong-state");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn postgres_holds_it_when_the_service_would_not() {
    let course = Course::start().await;
    let given = course.room.noor.acknowledge(&course.cream).await.expect(201).id();
    let mut owner = database::owner(&course.room.clinic.database).await;
    let copy = "CREATE TABLE saved AS SELECT * FROM release_grant; DELETE FROM release_grant;";
    owner.batch_execute(copy).await.unwrap();
    let put_back =
        format!("INSERT INTO release_grant SELECT * FROM saved WHERE acknowledgement_id = '{given}'");
    // Acknowledged before the work opened it may stand; what an assignment holds at that time may not.
    owner.batch_execute(&format!("BEGIN; {put_back}; ROLLBACK")).await.unwrap();
    let id = course.publish(course.work(&questions(&["jar_filling"]))).await;
    let refused = owner.batch_execute(&put_back).await.unwrap_err().to_string();
    assert!(refused.contains(&format!("assignment {id} holds the grant")), "{refused}");
    let question = begin(&course.room.noor, &id).await.expect(201).json["questions"][0].clone();
    give_up(&course.room.noor, &question).await;
    owner.batch_execute(&put_back).await.unwrap();
    owner
        .batch_execute(
            "INSERT INTO release_grant SELECT * FROM saved ON CONFLICT DO NOTHING; DROP TABLE saved",
        )
        .await
        .unwrap();
    drop(owner);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_is_final_once_it_is_right() {
    let course = Course::start().await;
    let noor = &course.room.noor;
    let bank = json!({
        "text": "How much wax is 5 % of 250 g?", "worked": "250 g × 5 / 100 = 12.5 g.",
        "answer": { "number": { "value": "12.5 g", "tolerance_percent": "1" } },
    });
    let of_bank = course.room.ilse.post(&course.at("questions"), bank).await.expect(201).id();
    let id = course.publish(course.work(&json!([{ "kind": "bank", "bank_question": of_bank }]))).await;
    let question = begin(noor, &id).await.expect(201).json["questions"][0].clone();
    let right = answer(noor, &question, &[("answer", &["12.5 g"])]).await.expect(201);
    assert_eq!((&right.json["state"], &right.json["attempts_used"]), (&json!("answered"), &json!(1)));
    assert_eq!(right.json["worked"]["steps"], json!(["250 g × 5 / 100 = 12.5 g."]));
    let over = answer(noor, &question, &[("answer", &["12.5 g"])]).await.problem(409, "wrong-state");
    assert_eq!(over.json["state"], "answered");
    course.stop().await;
}
