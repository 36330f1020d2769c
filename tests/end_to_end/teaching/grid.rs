//! How a cohort stands: every student by every assignment in one response, and its marks to take along.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::Course;
use super::handed_in::{claim, hand_in};
use crate::cost::counted;

fn lines(text: &str) -> Vec<Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// The tables of an archive by the names of their files, each row by its headings.
pub(super) fn unpacked(bytes: &[u8]) -> BTreeMap<String, Vec<BTreeMap<String, String>>> {
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    let mut files = BTreeMap::new();
    for place in 0..archive.len() {
        let file = archive.by_index(place).unwrap();
        let name = file.name().unwrap().into_owned();
        let rows = csv::Reader::from_reader(file).into_deserialize().collect::<Result<_, _>>().unwrap();
        files.insert(name, rows);
    }
    files
}

#[tokio::test(flavor = "multi_thread")]
async fn the_grid_holds_every_student_by_every_assignment_with_the_mark_that_counts() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let empty = ilse.get(&course.at("grid")).await.expect(200).json;
    assert_eq!((&empty["assignments"], &empty["students"][0]["cells"]), (&json!([]), &json!([])));
    let mut later = course.work(&json!([]));
    later["title"] = json!("=1+1");
    later["due"] = json!("2026-03-25T18:00");
    let later = course.publish(later).await;
    let first = course.practical().await;
    course.room.ilse.post(&course.at("assignments"), course.work(&json!([]))).await.expect(201);
    ilse.acknowledge(&course.cream).await.expect(201);
    let mut handed = Vec::new();
    for id in [&first, &later] {
        let batch = course.batch(noor).await;
        handed.push((hand_in(noor, id, &batch).await.expect(201).id(), batch));
    }
    for ((work, batch), level) in handed.iter().zip([1, 2]) {
        claim(ilse, work).await.expect(201);
        let mark = json!({ "criteria": [{ "criterion": 1, "level": level }, { "criterion": 2, "level": 2 },
            { "criterion": 3, "met": true }] });
        let review = json!({ "verdict": "accept", "summary": "As I see it.", "mark": mark });
        ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
    }
    // The mark that counts is the last one.
    claim(ilse, &handed[0].0).await.expect(201);
    let change = json!({ "reason": "record_misread", "criteria": [{ "criterion": 2, "level": 1 }] });
    ilse.post(&format!("/v1/submissions/{}/marks", handed[0].0), change).await.expect(201);

    let grid = marek.get(&course.at("grid")).await.expect(200).json;
    let titles: Vec<&str> =
        grid["assignments"].as_array().unwrap().iter().map(|one| one["title"].as_str().unwrap()).collect();
    assert_eq!(titles, ["Make a calendula cream", "=1+1"], "by when they are due, without the draft");
    let names: Vec<&str> =
        grid["students"].as_array().unwrap().iter().map(|one| one["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["noor.haddad", "sven.aalto"]);
    let cell = |row: usize, column: usize| &grid["students"][row]["cells"][column];
    assert_eq!(
        cell(0, 0),
        &json!({ "state": "done", "submission": handed[0].0, "number": 1, "late": false, "points": 0 })
    );
    assert_eq!(cell(0, 1)["points"], 10);
    assert_eq!(cell(1, 0), &json!({ "state": "open", "number": 0, "late": false }));

    let table = marek.get(&course.at("marks.csv")).await.expect(200);
    assert_eq!(table.headers["content-type"], "text/csv; charset=utf-8; header=present");
    let rows: Vec<&str> = table.text.split("\r\n").collect();
    assert_eq!(
        rows[0],
        "assignment,title,student,name,submission,version,verdict,late,points,of_points,marks,marker,at"
    );
    assert_eq!(rows.len(), 4, "two marks and the end of the last line: {rows:?}");
    assert!(rows[1].contains(",accepted,false,0,10,2,ilse.brandt,"), "{}", rows[1]);
    assert!(rows[2].contains(",'=1+1,"), "no spreadsheet works a title out: {}", rows[2]);

    let file = marek.get(&course.at("marks.ndjson")).await.expect(200);
    assert_eq!(file.headers["content-type"], "application/x-ndjson; charset=utf-8");
    let marks = lines(&file.text);
    assert_eq!(marks.len(), 2);
    assert_eq!((&marks[0]["submission"], &marks[0]["points"]), (&json!(handed[0].0), &json!(0)));
    assert_eq!((&marks[1]["title"], &marks[1]["points"]), (&json!("=1+1"), &json!(10)));
    assert_eq!(marks[1]["criteria"][2], json!({ "criterion": 3, "met": true }));
    let archive = marek.get(&course.at("oneroster.zip")).await.expect(200);
    assert_eq!(archive.headers["content-type"], "application/zip");
    assert_eq!(archive.header("content-disposition"), "attachment; filename=\"oneroster.zip\"");
    let files = unpacked(&archive.bytes);
    assert_eq!(
        files.keys().collect::<Vec<_>>(),
        ["categories.csv", "lineItems.csv", "manifest.csv", "results.csv"]
    );
    // Every file that there is stands in the manifest, and of no other that it is there.
    for row in &files["manifest.csv"] {
        let Some(name) = row["propertyName"].strip_prefix("file.") else { continue };
        let here = files.contains_key(&format!("{name}.csv"));
        assert_eq!(row["value"], if here { "bulk" } else { "absent" }, "{name}");
    }
    let items: Vec<[&str; 4]> = files["lineItems.csv"]
        .iter()
        .map(|item| ["sourcedId", "title", "dueDate", "resultValueMax"].map(|name| item[name].as_str()))
        .collect();
    let expected = [
        [first.as_str(), "Make a calendula cream", "2026-03-20", "10"],
        [&later, "'=1+1", "2026-03-25", "10"],
    ];
    assert_eq!(items, expected, "without the draft");
    let results = &files["results.csv"];
    assert_eq!(results.len(), 2);
    for (result, (item, score)) in results.iter().zip([(&first, "0"), (&later, "10")]) {
        assert_eq!((&result["lineItemSourcedId"], result["score"].as_str()), (item, score));
        assert_eq!((&result["studentSourcedId"], result["scoreStatus"].as_str()), (&noor.id, "fully graded"));
        assert_eq!((result["scoreDate"].as_str(), &result["classSourcedId"]), ("2026-03-02", &course.cohort));
    }
    assert!(
        !archive.text.contains("noor.haddad") && !archive.text.contains("ilse.brandt"),
        "{}",
        archive.text
    );

    // The cream is marked out of twenty from the next version on: what was given out of ten is converted, and says so.
    let path = format!("/v1/assignments/{first}");
    let mut work = course.work(&json!([]));
    work["rubric"] = json!({ "total_points": 20, "criteria": [
        { "title": "Weighing", "levels": [{ "title": "Off.", "points": 0 }, { "title": "Within tolerance.", "points": 20 }] } ] });
    let tag = ilse.get(&path).await.expect(200).etag();
    ilse.put(&path, &tag, json!({ "content": work, "reason": "It counts twice." })).await.expect(200);
    claim(ilse, &handed[0].0).await.expect(201);
    let change = json!({ "reason": "record_misread", "criteria": [{ "criterion": 2, "level": 2 }] });
    ilse.post(&format!("/v1/submissions/{}/marks", handed[0].0), change).await.expect(201);
    let files = unpacked(&marek.get(&course.at("oneroster.zip")).await.expect(200).bytes);
    assert_eq!(files["lineItems.csv"][0]["resultValueMax"], "20");
    let converted = &files["results.csv"][0];
    assert_eq!(
        (converted["score"].as_str(), converted["comment"].as_str()),
        ("8.00", "4 of 10 points, by an earlier version of the assignment.")
    );
    assert_eq!(converted["sourcedId"], results[0]["sourcedId"], "a changed mark is the same result");
    for what in ["grid", "marks.csv", "marks.ndjson", "oneroster.zip"] {
        noor.get(&course.at(what)).await.problem(403, "forbidden");
        course.room.clinic.administrator.get(&course.at(what)).await.problem(404, "not-found");
    }
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_large_grid_takes_as_many_statements_as_a_small_one() {
    let course = Course::start().await;
    let (service, nobody, tally) = counted(&course.room).await;
    let ilse = nobody.with(course.room.ilse.token.as_deref().unwrap(), &course.room.ilse.id);
    let mut costs = Vec::new();
    for (students, assignments) in [(0, 1), (6, 4)] {
        for name in 0..students {
            let student = course.room.clinic.person(&format!("student.{name}"), "student").await;
            course.enrol(&student.id, "student").await;
        }
        for _ in 0..assignments {
            course.practical().await;
        }
        let (answer, spent) = tally.during(ilse.get(&course.at("grid"))).await;
        let grid = answer.expect(200).json;
        let cells = |row: &Value| row["cells"].as_array().unwrap().len();
        let rows = grid["students"].as_array().unwrap();
        assert!(rows.iter().all(|row| cells(row) == grid["assignments"].as_array().unwrap().len()));
        let read = spent.iter().filter(|one| one.begin.ends_with("READ ONLY"));
        costs.push(read.map(|one| one.statements).sum::<usize>());
    }
    assert_eq!(costs[0], costs[1], "the same statements, however large it is");
    service.stop().await.unwrap();
    course.stop().await;
}
