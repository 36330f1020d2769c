//! Two requests at once: the last attempt, the same beginning, and a class that begins together.

use std::collections::BTreeSet;

use serde_json::json;
use tokio::task::JoinSet;

use super::{Course, answer, begin, give_up};

/// A pool in which requests meet.
const TOGETHER: [(&str, &str); 1] = [("STILLROOM_CONNECTIONS", "8")];

#[tokio::test(flavor = "multi_thread")]
async fn of_two_answers_to_the_last_attempt_one_counts() {
    let course = Course::start_with(&TOGETHER).await;
    let noor = &course.room.noor;
    let mut work = course.work(&json!([{ "kind": "jar_filling" }]));
    work["attempts"] = json!(1);
    let id = course.publish(work).await;
    let question = begin(noor, &id).await.expect(201).json["questions"][0].clone();
    let mut together = JoinSet::new();
    for _ in 0..6 {
        let (noor, question) = (noor.clone(), question.clone());
        together
            .spawn(async move { answer(&noor, &question, &[("mass", &["0.001 g"])]).await.status.as_u16() });
    }
    let mut statuses = together.join_all().await;
    statuses.sort_unstable();
    assert_eq!(statuses, [201, 409, 409, 409, 409, 409]);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_class_that_begins_together_gets_numbers_of_its_own_and_each_student_one_set() {
    let course = Course::start_with(&TOGETHER).await;
    let room = &course.room;
    let mut students = vec![room.noor.clone(), course.sven.clone()];
    for name in ["mira.okafor", "jo.vane"] {
        let student = room.clinic.person(name, "student").await;
        room.ilse
            .put_bare(&format!("/v1/libraries/{}/members/{}", room.library, student.id))
            .await
            .expect(204);
        course.enrol(&student.id, "student").await;
        students.push(student);
    }
    let id = course.publish(course.work(&json!([{ "kind": "jar_filling" }, { "kind": "use_by" }]))).await;
    let mut together = JoinSet::new();
    for student in students.iter().chain(&students) {
        let (student, id) = (student.clone(), id.clone());
        together.spawn(async move { begin(&student, &id).await.expect(201).json });
    }
    let begun = together.join_all().await;
    let sets: BTreeSet<String> = begun.iter().map(|of| of["questions"].to_string()).collect();
    assert_eq!((begun.len(), sets.len()), (8, 4), "two beginnings of each student answer the same");
    for place in [0, 1] {
        let numbers: BTreeSet<String> =
            begun.iter().map(|of| of["questions"][place]["given"].to_string()).collect();
        assert_eq!(numbers.len(), 4);
    }
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_recipe_never_opens_before_the_last_answer_however_they_race() {
    for round in 0..5 {
        let course = Course::start_with(&TOGETHER).await;
        let noor = &course.room.noor;
        let mut work = course.work(&json!([{ "kind": "jar_filling" }]));
        work["attempts"] = json!(1);
        let id = course.publish(work).await;
        let question = begin(noor, &id).await.expect(201).json["questions"][0].clone();
        let (opening, answering) = (noor.clone(), noor.clone());
        let cream = course.cream.clone();
        let opened = tokio::spawn(async move { opening.acknowledge(&cream).await.status.as_u16() });
        let answered = tokio::spawn(async move { give_up(&answering, &question).await });
        let (opened, answered) = (opened.await.unwrap(), answered.await.unwrap());
        assert_eq!(answered["state"], "answered");
        assert!(opened == 201 || opened == 409, "round {round}: {opened}");
        if opened == 409 {
            noor.acknowledge(&course.cream).await.expect(201);
        }
        course.stop().await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn leaving_and_answering_follow_each_other() {
    let course = Course::start_with(&TOGETHER).await;
    let (ilse, noor) = (course.room.ilse.clone(), course.room.noor.clone());
    let id = course.publish(course.work(&json!([{ "kind": "jar_filling" }]))).await;
    let question = begin(&noor, &id).await.expect(201).json["questions"][0].clone();
    let member = course.at(&format!("members/{}", noor.id));
    let left = tokio::spawn(async move { ilse.delete(&member).await.status.as_u16() });
    let sent = {
        let (noor, question) = (noor.clone(), question.clone());
        tokio::spawn(async move { answer(&noor, &question, &[("mass", &["1 g"])]).await.status.as_u16() })
    };
    assert_eq!(left.await.unwrap(), 204);
    let sent = sent.await.unwrap();
    assert!(sent == 201 || sent == 404, "{sent}");
    answer(&noor, &question, &[("mass", &["1 g"])]).await.problem(404, "not-found");
    course.stop().await;
}
