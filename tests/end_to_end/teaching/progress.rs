//! Progress: criteria over time, what to practise next, accepted work to take along, and where a class struggles.

use std::collections::BTreeMap;

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::database;

use super::handed_in::{claim, hand_in};
use super::{Course, begin, give_up};

/// Accepts work with these levels of its two criteria.
async fn accept(course: &Course, handed: &str, batch: &str, levels: [u32; 2]) {
    let ilse = &course.room.ilse;
    claim(ilse, handed).await.expect(201);
    let mark = json!({ "criteria": [{ "criterion": 1, "level": levels[0] }, { "criterion": 2, "level": levels[1] },
        { "criterion": 3, "met": true }] });
    let review = json!({ "verdict": "accept", "summary": "As I see it.", "mark": mark });
    ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
}

/// Begins the questions of an assignment and answers none of them rightly.
async fn miss(student: &stillroom_tests::Caller, assignment: &str) {
    let questions = begin(student, assignment).await.expect(201).json;
    for question in questions["questions"].as_array().unwrap() {
        give_up(student, question).await;
    }
}

/// How many findings of each kind were frozen with a record.
async fn frozen(course: &Course, batch: &str) -> BTreeMap<String, u64> {
    let record = course.room.noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    let mut kinds = BTreeMap::new();
    for finding in record["submissions"][0]["findings"].as_array().unwrap() {
        *kinds.entry(finding["kind"].as_str().unwrap().to_owned()).or_default() += 1;
    }
    kinds
}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_reads_criteria_over_time_what_to_practise_and_what_was_accepted() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let none = noor.get("/v1/progress").await.expect(200).json;
    for part in ["criteria", "questions", "findings", "accepted"] {
        assert_eq!(none[part], json!([]), "{part}");
    }
    let asked = course.publish(course.work(&json!([{ "kind": "spirit_dilution" }]))).await;
    let plain = course.practical().await;
    ilse.acknowledge(&course.cream).await.expect(201);
    miss(noor, &asked).await;
    let mut handed = Vec::new();
    for (id, levels) in [(&asked, [1, 2]), (&plain, [2, 2])] {
        let batch = course.batch(noor).await;
        let work = hand_in(noor, id, &batch).await.expect(201).id();
        accept(&course, &work, &batch, levels).await;
        handed.push((work, batch));
    }
    // The mark that counts is the last one.
    claim(ilse, &handed[1].0).await.expect(201);
    let change = json!({ "reason": "record_misread", "criteria": [{ "criterion": 1, "level": 1 }] });
    ilse.post(&format!("/v1/submissions/{}/marks", handed[1].0), change).await.expect(201);

    let own = noor.get("/v1/progress").await.expect(200).json;
    let titles: Vec<&str> =
        own["criteria"].as_array().unwrap().iter().map(|one| one["title"].as_str().unwrap()).collect();
    assert_eq!(titles, ["Emulsion", "Weighing", "Every lot is recorded."], "what must be passed comes last");
    let weighing = own["criteria"][1]["marks"].as_array().unwrap();
    let works: Vec<&Value> = weighing.iter().map(|mark| &mark["submission"]).collect();
    assert_eq!(works, [&json!(handed[0].0), &json!(handed[1].0)], "the first work first");
    for mark in weighing {
        assert_eq!((&mark["level"], &mark["levels"]), (&json!(1), &json!(2)));
        assert_eq!((&mark["points"], &mark["of_points"]), (&json!(0), &json!(6)));
        assert_eq!(mark["says"], "Several lines are outside tolerance.");
    }
    assert_eq!(own["criteria"][2]["marks"][0]["met"], true);
    assert_eq!(
        own["questions"],
        json!([{ "kind": "spirit_dilution", "questions": 1, "missed": 1, "assignment": asked }])
    );
    // Kinds and numbers are those of the records as they were handed in.
    let mut found: BTreeMap<String, (u64, u64)> = BTreeMap::new();
    for (_, batch) in &handed {
        for (kind, number) in frozen(&course, batch).await {
            let of = found.entry(kind).or_default();
            *of = (of.0 + 1, of.1 + number);
        }
    }
    assert!(!found.is_empty());
    let told = own["findings"].as_array().unwrap();
    assert_eq!(told.len(), found.len());
    for one in told {
        let counted = (one["with_finding"].as_u64().unwrap(), one["findings"].as_u64().unwrap());
        assert_eq!(counted, found[one["kind"].as_str().unwrap()], "{one}");
        assert_eq!((&one["works"], &one["batch"]), (&json!(2), &json!(handed[1].1)));
    }
    let accepted = own["accepted"].as_array().unwrap();
    assert_eq!((&accepted[0]["batch"], &accepted[0]["points"]), (&json!(handed[1].1), &json!(4)));
    assert_eq!((&accepted[1]["points"], &accepted[1]["of_points"]), (&json!(4), &json!(10)));
    assert_eq!(accepted[0]["formula"], "Calendula cream");

    // Those who teach read the same; nobody else does.
    let of = course.at(&format!("students/{}/progress", noor.id));
    assert_eq!(marek.get(&of).await.expect(200).json, own);
    course.sven.get(&of).await.problem(403, "forbidden");
    course.room.clinic.administrator.get(&of).await.problem(404, "not-found");
    marek.get(&course.at(&format!("students/{}/progress", ilse.id))).await.problem(404, "not-found");
    ilse.get("/v1/progress").await.problem(403, "forbidden");
    let other = course.sven.get("/v1/progress").await.expect(200).json;
    assert_eq!((&other["criteria"], &other["findings"]), (&json!([]), &json!([])));

    let file = noor.get("/v1/progress.ndjson").await.expect(200);
    assert_eq!(file.headers["content-type"], "application/x-ndjson; charset=utf-8");
    let lines: Vec<Value> = file.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(lines.len(), 2);
    assert_eq!((&lines[0]["submission"], &lines[0]["state"]), (&json!(handed[0].0), &json!("accepted")));
    assert_eq!((&lines[1]["points"], &lines[1]["cohort"]), (&json!(4), &json!("First year, spring")));
    assert_eq!(
        lines[1]["criteria"][0],
        json!({ "title": "Weighing", "level": 1, "says": "Several lines are outside tolerance.", "points": 0,
            "of_points": 6 })
    );
    let exported: BTreeMap<String, u64> = lines[0]["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| (one["kind"].as_str().unwrap().to_owned(), one["findings"].as_u64().unwrap()))
        .collect();
    assert_eq!(exported, frozen(&course, &handed[0].1).await);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_class_is_told_in_counts_and_in_shares_only_from_ten_on() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let five = json!(vec![json!({ "kind": "spirit_dilution" }); 5]);
    let asked = course.publish(course.work(&five)).await;
    ilse.acknowledge(&course.cream).await.expect(201);
    miss(noor, &asked).await;
    let few = marek.get(&course.at("difficulties")).await.expect(200).json;
    assert_eq!((&few["shares_from"], &few["criteria"]), (&json!(10), &json!([])));
    assert_eq!(few["questions"], json!([{ "kind": "spirit_dilution", "questions": 5, "missed": 5 }]));
    miss(&course.sven, &asked).await;
    let batch = course.batch(noor).await;
    let work = hand_in(noor, &asked, &batch).await.expect(201).id();
    accept(&course, &work, &batch, [1, 2]).await;

    let all = marek.get(&course.at("difficulties")).await.expect(200).json;
    assert_eq!(
        all["questions"],
        json!([{ "kind": "spirit_dilution", "questions": 10, "missed": 10, "percent": 100 }])
    );
    assert_eq!(
        all["criteria"],
        json!([
            { "title": "Weighing", "must_pass": false, "works": 1, "below": 1 },
            { "title": "Emulsion", "must_pass": false, "works": 1, "below": 0 },
            { "title": "Every lot is recorded.", "must_pass": true, "works": 1, "below": 0 },
        ])
    );
    assert!(all["rule"].as_str().unwrap().contains("from 10 on"));
    let findings = all["findings"].as_array().unwrap();
    assert!(!findings.is_empty());
    assert!(findings.iter().all(|one| one["works"] == 1 && one["percent"].is_null()), "{findings:?}");
    noor.get(&course.at("difficulties")).await.problem(403, "forbidden");
    course.room.clinic.administrator.get(&course.at("difficulties")).await.problem(404, "not-found");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_closed_to_a_second_marker_is_in_no_count() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let id = course.practical().await;
    for who in [ilse, marek] {
        who.acknowledge(&course.cream).await.expect(201);
    }
    ilse.post(&course.at("moderation-shares"), json!({ "percent": 100 })).await.expect(201);
    let batch = course.batch(noor).await;
    let work = hand_in(noor, &id, &batch).await.expect(201).id();
    let of = course.at(&format!("students/{}/progress", noor.id));
    accept(&course, &work, &batch, [1, 1]).await;
    assert_eq!(marek.get("/v1/moderations").await.expect(200).json["items"].as_array().unwrap().len(), 1);
    let seen = marek.get(&of).await.expect(200).json;
    let class = marek.get(&course.at("difficulties")).await.expect(200).json;
    for part in
        [&seen["criteria"], &seen["findings"], &seen["accepted"], &class["criteria"], &class["findings"]]
    {
        assert_eq!(part, &json!([]));
    }
    assert_eq!(ilse.get(&course.at("difficulties")).await.expect(200).json["criteria"][0]["below"], 1);
    assert_eq!(noor.get("/v1/progress").await.expect(200).json["accepted"].as_array().unwrap().len(), 1);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_but_the_trigger_writes_the_kinds_of_findings() {
    let course = Course::start().await;
    let id = course.practical().await;
    let batch = course.batch(&course.room.noor).await;
    hand_in(&course.room.noor, &id, &batch).await.expect(201);
    let mut owner = database::owner(&course.room.clinic.database).await;
    for act in [
        "UPDATE handed_finding SET found = found + 1",
        "DELETE FROM handed_finding",
        "INSERT INTO handed_finding SELECT handed_id, 'other', 1 FROM handed_finding LIMIT 1",
    ] {
        let as_service = format!("BEGIN; SET LOCAL ROLE stillroom_service; {act}");
        let refused = owner.batch_execute(&as_service).await.unwrap_err().to_string();
        assert!(refused.contains("permission denied"), "{act}: {refused}");
        owner.batch_execute("ROLLBACK").await.unwrap();
    }
    course.stop().await;
}
