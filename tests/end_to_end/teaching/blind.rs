//! Blind first marking: until work has its verdict, nobody who marks finds out from the service whose it is.

use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::{Caller, database};
use uuid::Uuid;

use super::handed_in::{claim, hand_in};
use super::moderation::{levels, staffed};
use super::{Course, begin};
use crate::authority::document::operations;
use crate::authority::rows::every_row_of;
use crate::canary::reads;
use crate::pages::Browser;
use crate::printed::{bare, text};

/// What names a student: ids and sign-in names, in lower case.
struct Names(Vec<String>);

impl Names {
    fn of(people: &[&Caller], names: &[&str]) -> Self {
        let ids = people.iter().map(|who| who.id.clone());
        Self(ids.chain(names.iter().map(|name| (*name).to_owned())).collect())
    }

    fn in_text<'n>(&'n self, text: &str) -> Option<&'n str> {
        let text = text.to_lowercase();
        self.0.iter().find(|name| text.contains(name.as_str())).map(String::as_str)
    }
}

/// What tells of a piece of work: the submission, the batch with its number, the work itself, and the candidate.
fn of_work<'w>(work: &'w [String], text: &str) -> Option<&'w str> {
    work.iter().find(|one| text.contains(one.as_str())).map(String::as_str)
}

/// Every address of the pages, with each of these ids in every place of an id.
fn pages_of(ids: &[String]) -> Vec<String> {
    let mut all = Vec::new();
    for page in pages::listed().iter().filter(|page| page.method.as_str() == "GET") {
        let mut addresses = vec![page.pattern.to_owned()];
        while addresses.iter().any(|address| address.contains('{')) {
            let filled = addresses.iter().flat_map(|address| {
                let (before, rest) = address.split_once('{').unwrap();
                let (_, after) = rest.split_once('}').unwrap();
                ids.iter().map(move |id| format!("{before}{id}{after}")).collect::<Vec<_>>()
            });
            addresses = filled.collect();
        }
        all.extend(addresses);
    }
    all
}

fn blind(course: &Course, questions: &Value) -> Value {
    let mut content = course.work(questions);
    content["marked_blind"] = json!(true);
    content
}

/// The candidates in the queue with their lines, in order.
async fn candidates(marker: &Caller) -> Vec<(String, Value)> {
    let queue = marker.get("/v1/submissions").await.expect(200).json["items"].as_array().unwrap().clone();
    queue.into_iter().map(|line| (line["candidate"].as_str().unwrap().to_owned(), line)).collect()
}

async fn weighed_from(course: &Course, maker: &Caller, lot: &str) -> String {
    maker.acknowledge(&course.cream).await.expect(201);
    let batch = maker.post("/v1/batches", json!({ "revision": course.cream })).await.expect(201).id();
    let drawn = json!({ "kind": "weighing", "line": "1.1", "quantity": "80 g", "lot_id": lot });
    maker.post(&format!("/v1/batches/{batch}/entries"), drawn).await.expect(201);
    batch
}

#[tokio::test(flavor = "multi_thread")]
async fn no_marker_finds_a_name_before_the_verdict_and_everybody_does_after_it() {
    let (course, hana) = staffed().await;
    let (noor, sven) = (&course.room.noor, &course.sven);
    let (ilse, marek) = (&course.room.ilse, &course.room.marek);
    let lot = ilse.post("/v1/lots", crate::stock::lot("emulsifying wax", "5 kg")).await.expect(201).id();
    crate::stock::confirm(ilse, &lot).await;
    let id = course.publish(blind(&course, &json!([]))).await;
    let time = json!({ "kind": "extra_time", "extra_minutes": 2880, "reason": "As agreed." });
    ilse.post(&format!("/v1/assignments/{id}/students/{}/allowances", noor.id), time).await.expect(201);
    let (first, second) = (weighed_from(&course, noor, &lot).await, weighed_from(&course, sven, &lot).await);
    let number = noor.get(&format!("/v1/batches/{first}")).await.expect(200).text_at("/number");
    let handed = hand_in(noor, &id, &first).await.expect(201);
    assert!(handed.json["candidate"].is_null() && handed.json["person"] == noor.id.as_str());
    let handed = handed.id();
    hand_in(sven, &id, &second).await.expect(201);

    // The queue tells candidates, by the dates of the class.
    let waiting = candidates(marek).await;
    let labels: Vec<&str> = waiting.iter().map(|(label, _)| label.as_str()).collect();
    assert_ne!(labels[0], labels[1]);
    for (label, line) in &waiting {
        let sign = label.strip_prefix("Candidate ").unwrap();
        assert!(
            sign.len() == 2 && sign.as_bytes()[0].is_ascii_digit() && sign.as_bytes()[1].is_ascii_uppercase()
        );
        assert_eq!((&line["batch_number"], &line["name"]), (&json!(label), &json!(null)));
        assert_eq!(line["person"], Uuid::nil().to_string());
        assert_eq!(line["due"]["local"], "2026-03-20T18:00:00+01:00");
    }
    let label = waiting.iter().find(|(_, line)| line["submission"] == handed.as_str()).unwrap().0.clone();
    let again = candidates(ilse).await;
    assert_eq!(
        again.iter().map(|(label, _)| label.as_str()).collect::<Vec<_>>(),
        labels,
        "the same to everybody"
    );

    // A marker reads and decides without a name.
    let record = marek.get(&format!("/v1/batches/{first}")).await.expect(200).json;
    assert_eq!((&record["number"], &record["maker"]), (&json!(label), &json!(Uuid::nil().to_string())));
    assert_eq!(record["entries"][0]["quantity"], "80 g");
    let assessment = marek.get(&format!("/v1/submissions/{handed}/assessment")).await.expect(200).json;
    assert!(assessment["allowance"].is_null());
    assert_eq!(assessment["submission"]["candidate"], label.as_str());
    let printed = marek.get(&format!("/v1/batches/{first}/record.pdf")).await;
    let named = format!("{:?}", printed.headers.get("content-disposition"));
    assert!(printed.status == 200 && !named.contains(&number), "{named}");
    let words = bare(&text(&printed.bytes));
    let of_batch = bare(&format!("batch {number}"));
    assert!(words.contains(&bare(&label)) && !words.to_lowercase().contains(&of_batch), "{words}");
    assert!(!words.contains("noor"), "{words}");
    for closed in ["label", "handovers", "jars", "observations"] {
        let refused = marek.get(&format!("/v1/batches/{first}/{closed}")).await.problem(409, "wrong-state");
        assert_eq!(refused.json["state"], "marked_blind", "{closed}");
    }
    let grid = marek.get(&course.at("grid")).await.expect(200).json;
    for row in 0..2 {
        let hidden = json!({ "state": "submitted", "number": 0, "late": false, "hidden": true });
        assert_eq!(grid["students"][row]["cells"][0], hidden);
    }
    let of_noor = format!("/v1/assignments/{id}/students/{}/work", noor.id);
    let told = ilse.get(&of_noor).await.expect(200).json;
    assert_eq!((&told["hidden"], &told["submissions"]), (&json!(true), &json!([])));

    // Nobody who marks, and no instructor of the library, finds a name beside anything of the work: at no address.
    let names = Names::of(&[noor, sven], &["noor.haddad", "sven.aalto"]);
    let works = every_row_of(&course.room.clinic.database, "assignment_work", &["id"]).await;
    let works = works.iter().map(|row| row.trim_matches(['(', ')']).to_owned());
    let submissions = waiting.iter().map(|(_, line)| line["submission"].as_str().unwrap().to_owned());
    let work: Vec<String> = [first.clone(), second.clone(), number.clone()]
        .into_iter()
        .chain(works)
        .chain(submissions)
        .chain(labels.iter().map(|label| (*label).to_owned()))
        .collect();
    let document = operations(&course.room.clinic.nobody).await;
    let paths = reads(&course.room.clinic.database, &document).await;
    let mut leaks = Vec::new();
    let mut told_of_work = 0;
    for marker in [marek, ilse, &hana] {
        for path in &paths {
            let answer = marker.get(path).await;
            let Some(work) = of_work(&work, &answer.text) else { continue };
            told_of_work += 1;
            if let Some(name) = names.in_text(&format!("{} {:?}", answer.text, answer.headers)) {
                leaks.push(format!("{path}: {work} beside {name}: {}", answer.text));
            }
        }
    }
    let ids =
        [first.clone(), handed.clone(), id.clone(), course.cohort.clone(), noor.id.clone(), lot.clone()];
    for name in ["marek.dvorsky", "ilse.brandt"] {
        let browser = Browser::of(&course.room, name).await;
        for path in pages_of(&ids) {
            let answer = browser.send(Method::GET, &path, "").await;
            // The address itself may name the student that was asked about.
            let text = ids.iter().fold(answer.text.clone(), |text, id| match path.contains(id.as_str()) {
                true => text.replace(id.as_str(), ""),
                false => text,
            });
            let Some(work) = of_work(&work, &text) else { continue };
            told_of_work += 1;
            if let Some(name) = names.in_text(&format!("{text} {:?}", answer.headers)) {
                leaks.push(format!("{path}: {work} beside {name}"));
            }
        }
    }
    assert!(leaks.is_empty(), "{} leaks:\n{}", leaks.len(), leaks.join("\n"));
    assert!(told_of_work > 30, "{told_of_work} answers about the work");
    // Who drew from the lot is told of neither, and the journal of neither is open.
    let moved = ilse.get(&format!("/v1/lots/{lot}/movements")).await.expect(200).text;
    let events = ilse.get(&format!("/v1/events?subject={lot}")).await.expect(200).text;
    assert!(names.in_text(&moved).is_none() && names.in_text(&events).is_none(), "{moved} {events}");
    marek.get(&format!("/v1/events?subject={first}")).await.problem(404, "not-found");

    // What is returned stays without a name; the mark brings it.
    claim(marek, &handed).await.expect(201);
    let back = json!({ "verdict": "return", "summary": "Say which lot." });
    let returned = marek.post(&format!("/v1/batches/{first}/reviews"), back).await.expect(201);
    assert!(names.in_text(&returned.text).is_none(), "{}", returned.text);
    let handed = hand_in(noor, &id, &first).await.expect(201).id();
    claim(marek, &handed).await.expect(201);
    let accept = json!({ "verdict": "accept", "summary": "Clear.", "mark": levels(2, 2) });
    let accepted = marek.post(&format!("/v1/batches/{first}/reviews"), accept).await.expect(201).json;
    assert_eq!((&accepted["maker_name"], &accepted["number"]), (&json!("noor.haddad"), &json!(number)));
    let events = marek.get(&format!("/v1/events?subject={first}")).await.expect(200).text;
    assert!(names.in_text(&events).is_some(), "{events}");
    let moved = ilse.get(&format!("/v1/lots/{lot}/movements")).await.expect(200).text;
    assert!(moved.contains(&noor.id) && !moved.contains(&sven.id), "one of the two has a verdict: {moved}");
    assert_eq!(ilse.get(&of_noor).await.expect(200).json["submissions"][0]["person"], noor.id.as_str());
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn blind_marking_is_set_before_students_begin_and_ended_with_a_reason() {
    let (course, _) = staffed().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);

    // A published assignment never begins to be marked blind, by the service or beside it.
    let open = course.practical().await;
    let read = ilse.get(&format!("/v1/assignments/{open}")).await.expect(200);
    assert_eq!(read.json["marked_blind"], false);
    let change = json!({ "content": blind(&course, &json!([])), "reason": "Fairer." });
    let changed = ilse.put(&format!("/v1/assignments/{open}"), &read.etag(), change).await;
    changed.fields(&["/content/marked_blind"]);
    let mut owner = database::owner(&course.room.clinic.database).await;
    let sql = format!(
        "INSERT INTO assignment_version SELECT (jsonb_populate_record(v, '{{\"number\": 2, \"marked_blind\": true}}')).*
         FROM assignment_version v WHERE assignment_id = '{open}'"
    );
    let refused = diesel_async::SimpleAsyncConnection::batch_execute(&mut owner, &sql).await.unwrap_err();
    assert!(refused.to_string().contains("without blind marking"), "{refused}");

    // Of work with questions, too, nobody is told who has begun or handed in; the candidate is drawn as it begins.
    let asked = course.publish(blind(&course, &json!([{ "kind": "use_by" }]))).await;
    begin(noor, &asked).await.expect(201);
    let drawn = every_row_of(&course.room.clinic.database, "candidate", &["label"]).await;
    assert_eq!(drawn.len(), 1);
    let students = marek.get(&format!("/v1/assignments/{asked}/students")).await.expect(200).json;
    for one in students["items"].as_array().unwrap() {
        assert_eq!((&one["state"], &one["hidden"]), (&json!("submitted"), &json!(true)));
    }

    let why = json!({ "reason": "Another day." });
    ilse.post(&format!("/v1/assignments/{asked}/withdrawal"), why).await.expect(201);

    // Its marking ends by a version, with a reason that the class reads; from then on names are told.
    let id = course.publish(blind(&course, &json!([]))).await;
    let batch = course.batch(noor).await;
    let handed = hand_in(noor, &id, &batch).await.expect(201).id();
    let record = marek.get(&format!("/v1/batches/{batch}")).await.expect(200);
    assert!(record.json["maker_name"].is_null());
    let tag = ilse.get(&format!("/v1/assignments/{id}")).await.expect(200).etag();
    let ended = json!({ "content": course.work(&json!([])), "reason": "The marking is over." });
    ilse.put(&format!("/v1/assignments/{id}"), &tag, ended.clone()).await.expect(200);
    let record = marek.get(&format!("/v1/batches/{batch}")).await.expect(200);
    assert_eq!(record.json["maker_name"], "noor.haddad");
    let submission = marek.get(&format!("/v1/submissions/{handed}")).await.expect(200).json;
    assert!(submission["candidate"].is_null());

    // Withdrawing ends it as well.
    let other = course.publish(blind(&course, &json!([]))).await;
    let batch = course.batch(&course.sven).await;
    let handed = hand_in(&course.sven, &other, &batch).await.expect(201).id();
    let asked = format!("/v1/submissions/{handed}");
    assert_eq!(marek.get(&asked).await.expect(200).json["person"], Uuid::nil().to_string());
    let why = json!({ "reason": "The herb did not arrive." });
    ilse.post(&format!("/v1/assignments/{other}/withdrawal"), why).await.expect(201);
    assert_eq!(marek.get(&asked).await.expect(200).json["person"], course.sven.id.as_str());
    course.stop().await;
}
