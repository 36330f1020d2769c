//! What is due: a student's own list, and a cohort's with counts.

use chrono::Duration;
use serde_json::{Value, json};

use super::{Course, begin, give_up};
use crate::cost::counted;

fn item<'a>(list: &'a Value, id: &str) -> &'a Value {
    let items = list["items"].as_array().unwrap();
    items.iter().find(|item| item["id"] == id).unwrap_or_else(|| panic!("no {id} in {list}"))
}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_sees_what_is_due_and_how_far_they_are() {
    let course = Course::start().await;
    let asked = json!([{ "kind": "jar_filling" }, { "kind": "must_not_use" }]);
    let open = course.publish(course.work(&asked)).await;
    let mut work = course.work(&asked);
    work["opens"] = json!("2026-03-16T09:00");
    work["due"] = json!("2026-04-10T18:00");
    work["late_until"] = json!(null);
    let later = course.publish(work).await;
    course.room.ilse.post(&course.at("assignments"), course.work(&asked)).await.expect(201);

    let list = course.room.noor.get("/v1/assignments").await.expect(200).json;
    assert_eq!(list["items"].as_array().unwrap().len(), 2, "no draft");
    let one = item(&list, &open);
    assert_eq!((&one["state"], &one["questions"], &one["answered"]), (&json!("open"), &json!(2), &json!(0)));
    assert_eq!(one["formulas"][0]["title"], "Calendula cream");
    assert_eq!(one["formulas"][0]["revision"], course.cream);
    assert_eq!(one["cohort_name"], "First year, spring");
    assert_eq!(item(&list, &later)["state"], "upcoming");
    assert_eq!(course.room.ilse.get("/v1/assignments").await.expect(200).json["items"], json!([]));

    let begun = begin(&course.sven, &open).await.expect(201).json["questions"].clone();
    give_up(&course.sven, &begun[0]).await;
    let of_cohort = course.room.marek.get(&course.at("assignments")).await.expect(200).json;
    let counts = item(&of_cohort, &open);
    assert_eq!(
        ["students", "not_begun", "begun", "done"].map(|name| counts[name].as_u64().unwrap()),
        [2, 1, 1, 0]
    );
    assert_eq!(of_cohort["items"].as_array().unwrap().len(), 3, "with the draft");
    give_up(&course.sven, &begun[1]).await;
    let sven = course.sven.get("/v1/assignments").await.expect(200).json;
    assert_eq!(item(&sven, &open)["state"], "open", "the batch is still to be handed in");
    let of_cohort = course.room.marek.get(&course.at("assignments")).await.expect(200).json;
    assert_eq!(item(&of_cohort, &open)["done"], 1);

    // Due on the 20th at 18:00 in Berlin, late until the 27th.
    for (days, state) in [(17, "due"), (20, "late"), (28, "closed")] {
        let since = course.room.clinic.service.clinic.clock().now();
        let at: chrono::DateTime<chrono::Utc> = "2026-03-02T08:00:00Z".parse().unwrap();
        let noor = course.later(at + Duration::days(days) - since, "noor.haddad").await;
        let list = noor.get("/v1/assignments").await.expect(200).json;
        assert_eq!(item(&list, &open)["state"], state, "after {days} days");
    }
    // Who is late still answers, so that the recipe opens; the answer is marked.
    let noor = course.later(Duration::minutes(1), "noor.haddad").await;
    let begun = begin(&noor, &open).await.expect(201).json["questions"].clone();
    let answered = give_up(&noor, &begun[0]).await;
    assert_eq!(answered["answers"][0]["late"], true);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn lists_are_paged_and_each_item_comes_once() {
    let course = Course::start().await;
    let mut made = Vec::new();
    for day in 10..15 {
        let mut work = course.work(&json!([]));
        work["due"] = json!(format!("2026-03-{day}T18:00"));
        work["late_until"] = json!(null);
        made.push(course.publish(work).await);
    }
    made.reverse();
    for (caller, path) in
        [(&course.room.noor, "/v1/assignments".to_owned()), (&course.room.ilse, course.at("assignments"))]
    {
        let (mut seen, mut next) = (Vec::new(), String::new());
        loop {
            let page = caller.get(&format!("{path}?limit=2{next}")).await.expect(200).json;
            seen.extend(
                page["items"].as_array().unwrap().iter().map(|it| it["id"].as_str().unwrap().to_owned()),
            );
            let Some(cursor) = page["next"].as_str() else { break };
            next = format!("&after={cursor}");
        }
        assert_eq!(seen, made, "the latest first");
        caller.get(&format!("{path}?after=nonsense")).await.fields(&["?after"]);
    }
    let id = &made[0];
    let first = course.room.ilse.get(&format!("/v1/assignments/{id}/students?limit=1")).await.expect(200);
    assert_eq!(first.json["items"][0]["name"], "noor.haddad");
    let next = first.text_at("/next");
    let second = course
        .room
        .ilse
        .get(&format!("/v1/assignments/{id}/students?limit=1&after={next}"))
        .await
        .expect(200);
    assert_eq!(second.json["items"][0]["name"], "sven.aalto");
    assert!(second.json["next"].is_null());
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_list_of_many_takes_as_many_statements_as_one_of_few() {
    let course = Course::start().await;
    let first = course.publish(course.work(&json!([{ "kind": "jar_filling" }]))).await;
    begin(&course.room.noor, &first).await.expect(201);
    let (service, nobody, tally) = counted(&course.room).await;
    let [noor, ilse] =
        [&course.room.noor, &course.room.ilse].map(|one| nobody.with(one.token.as_deref().unwrap(), &one.id));
    let lists = [
        (&noor, "/v1/assignments".to_owned()),
        (&ilse, course.at("assignments")),
        (&ilse, course.at("members")),
        (&ilse, format!("/v1/assignments/{first}/students")),
    ];
    let mut costs = Vec::new();
    for _ in 0..2 {
        let mut round = Vec::new();
        for (caller, list) in &lists {
            let (answer, spent) = tally.during(caller.get(&format!("{list}?limit=100"))).await;
            answer.expect(200);
            let read = spent.iter().filter(|one| one.begin.ends_with("READ ONLY"));
            round.push(read.map(|one| one.statements).sum::<usize>());
        }
        costs.push(round);
        for name in 0..6 {
            course.publish(course.work(&json!([{ "kind": "jar_filling" }]))).await;
            let student =
                course.room.clinic.person(&format!("student.{}.{name}", costs.len()), "student").await;
            course.enrol(&student.id, "student").await;
        }
    }
    assert_eq!(costs[0], costs[1]);
    assert!(costs[0].iter().all(|statements| (2..=6).contains(statements)), "{costs:?}");
    service.stop().await.unwrap();
    course.stop().await;
}
