//! What an assignment, a rubric, a question and an answer must be: each fault at its field, with its cure.

use serde_json::{Value, json};

use super::{Course, act, answer, begin, rubric};

/// What is refused of work with some fields changed.
async fn refused(course: &Course, changes: Value, pointers: &[&str]) -> String {
    let mut work = course.work(&json!([]));
    for (field, value) in changes.as_object().unwrap() {
        work[field] = value.clone();
    }
    course.room.ilse.post(&course.at("assignments"), work).await.fields(pointers).text
}

#[tokio::test(flavor = "multi_thread")]
async fn an_assignment_is_refused_field_by_field() {
    let course = Course::start().await;
    let due = refused(&course, json!({ "due": "2026-03-02T08:00" }), &["/due"]).await;
    assert!(due.contains("due before it opens"), "{due}");
    refused(&course, json!({ "late_until": "2026-03-20T18:00" }), &["/late_until"]).await;
    refused(&course, json!({ "opens": "tomorrow", "due": "2026-13-01T08:00" }), &["/opens", "/due"]).await;
    refused(&course, json!({ "title": " " }), &["/title"]).await;
    refused(&course, json!({ "quantity": "300" }), &["/quantity"]).await;
    refused(&course, json!({ "quantity": "20 drops" }), &["/quantity"]).await;
    refused(&course, json!({ "attempts": 0, "returns_allowed": 11 }), &["/attempts", "/returns_allowed"])
        .await;
    let unknown = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80";
    refused(&course, json!({ "formulas": [unknown] }), &["/formulas/0"]).await;
    refused(&course, json!({ "formulas": [] }), &["/formulas"]).await;
    refused(&course, json!({ "formulas": [course.cream, course.cream] }), &["/formulas/1"]).await;
    let mut content = crate::formulas::infused_oil();
    content["title"] = json!("Another oil");
    let proposed = course.room.clinic.proposed(&course.room.ilse, &course.room.library, content).await;
    let text = refused(&course, json!({ "formulas": [proposed] }), &["/formulas/0"]).await;
    assert!(text.contains("is proposed"), "{text}");
    refused(&course, json!({ "questions": [{ "kind": "bank" }] }), &["/questions/0/bank_question"]).await;
    let of_another = json!([{ "kind": "use_by" }, { "kind": "bank", "bank_question": unknown }]);
    refused(&course, json!({ "questions": of_another }), &["/questions/1/bank_question"]).await;
    let named = json!([{ "kind": "use_by", "bank_question": unknown }]);
    refused(&course, json!({ "questions": named }), &["/questions/0/bank_question"]).await;
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_rubric_adds_up_and_its_levels_stand_in_order() {
    let course = Course::start().await;
    let mut eleven = rubric();
    eleven["total_points"] = json!(11);
    let text = refused(&course, json!({ "rubric": eleven }), &["/rubric/total_points"]).await;
    assert!(text.contains("come to 10 points"), "{text}");
    let mut unordered = rubric();
    unordered["criteria"][0]["levels"][0]["points"] = json!(6);
    refused(&course, json!({ "rubric": unordered }), &["/rubric/criteria/0/levels/1/points"]).await;
    let mut must = rubric();
    must["criteria"][2]["levels"] = json!([{ "title": "Yes", "points": 1 }]);
    refused(&course, json!({ "rubric": must }), &["/rubric/criteria/2/levels"]).await;
    let none = json!({ "total_points": 0, "criteria": [] });
    refused(&course, json!({ "rubric": none }), &["/rubric/criteria"]).await;
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_time_that_the_clock_skips_or_shows_twice_is_refused_or_asked_for() {
    let course = Course::start().await;
    // In Berlin the clocks go forward on 29 March 2026 and back on 25 October 2026 (directive 2000/84/EC).
    let skipped = refused(&course, json!({ "late_until": "2026-03-29T02:30" }), &["/late_until"]).await;
    assert!(skipped.contains("does not exist"), "{skipped}");
    let twice = refused(&course, json!({ "late_until": "2026-10-25T02:30" }), &["/late_until"]).await;
    assert!(twice.contains("2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00"), "{twice}");
    let mut work = course.work(&json!([]));
    work["late_until"] = json!("2026-10-25T02:30:00+01:00");
    let made = course.room.ilse.post(&course.at("assignments"), work).await.expect(201);
    assert_eq!(
        made.json["late_until"],
        json!({ "local": "2026-10-25T02:30:00+01:00", "at": "2026-10-25T01:30:00Z" })
    );
    assert_eq!(
        made.json["due"],
        json!({ "local": "2026-03-20T18:00:00+01:00", "at": "2026-03-20T17:00:00Z" })
    );
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_question_of_the_bank_says_what_is_right() {
    let course = Course::start().await;
    let post = async |change: fn(&mut Value)| {
        let mut bank = json!({
            "text": "Why?", "worked": "Because.",
            "answer": { "choice": { "options": ["It parts", "It browns"], "right": 1 } },
        });
        change(&mut bank);
        course.room.ilse.post(&course.at("questions"), bank).await
    };
    post(|bank| bank["text"] = json!("")).await.fields(&["/text"]);
    post(|bank| bank["answer"] = json!({})).await.fields(&["/answer"]);
    post(|bank| bank["answer"]["choice"]["right"] = json!(3)).await.fields(&["/answer/choice/right"]);
    post(|bank| bank["answer"]["choice"]["options"] = json!(["It parts", "It parts"]))
        .await
        .fields(&["/answer/choice/options/1"]);
    post(|bank| bank["answer"] = json!({ "number": { "value": "a pinch", "tolerance_percent": "0" } }))
        .await
        .fields(&["/answer/number/value", "/answer/number/tolerance_percent"]);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_names_each_part_once_and_is_no_attempt_until_it_can_be_judged() {
    let course = Course::start().await;
    let noor = &course.room.noor;
    let id = course.publish(course.work(&json!([{ "kind": "spirit_dilution" }, { "kind": "use_by" }]))).await;
    let asked = begin(noor, &id).await.expect(201).json["questions"].clone();
    let (spirit, dated) = (&asked[0], &asked[1]);
    answer(noor, spirit, &[("spirit", &["1 mL"])]).await.fields(&["/answers"]);
    answer(noor, spirit, &[("spirit", &["1 mL"]), ("water", &["1 mL"]), ("oil", &["1 mL"])])
        .await
        .fields(&["/answers/2/part"]);
    answer(noor, spirit, &[("spirit", &["1 mL"]), ("spirit", &["1 mL"]), ("water", &["1 mL"])])
        .await
        .fields(&["/answers/1/part"]);
    answer(noor, spirit, &[("spirit", &["1 mL", "2 mL"]), ("water", &["some"])])
        .await
        .fields(&["/answers/0/values", "/answers/1/values/0"]);
    answer(noor, spirit, &[("spirit", &["20 drops"]), ("water", &["1 mL"])])
        .await
        .fields(&["/answers/0/values/0"]);
    answer(noor, dated, &[("day", &["20 March"]), ("rule", &["the moon"])])
        .await
        .fields(&["/answers/0/values/0", "/answers/1/values/0"]);
    let now = noor.get(&format!("/v1/assignments/{id}/questions")).await.expect(200);
    assert_eq!(now.json["questions"], asked, "nothing was counted");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn work_is_begun_by_the_students_of_the_class_who_share_its_library() {
    let course = Course::start().await;
    let room = &course.room;
    let jo = room.clinic.person("jo.vane", "student").await;
    let id = course.publish(course.work(&json!([{ "kind": "jar_filling" }]))).await;
    begin(&jo, &id).await.problem(404, "not-found");
    course.enrol(&jo.id, "student").await;
    let no_member = begin(&jo, &id).await.problem(409, "wrong-state");
    assert!(no_member.text_at("/detail").contains("Ask your instructor to add you"), "{}", no_member.text);
    begin(&room.ilse, &id).await.problem(403, "forbidden");
    let draft = room.ilse.post(&course.at("assignments"), course.work(&json!([]))).await.expect(201).id();
    begin(&room.noor, &draft).await.problem(404, "not-found");
    room.noor.get(&format!("/v1/assignments/{id}/questions")).await.problem(409, "wrong-state");
    act(&room.ilse, &format!("/v1/assignments/{id}/publication")).await.problem(409, "wrong-state");
    course.stop().await;
}
