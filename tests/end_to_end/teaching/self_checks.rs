//! What makers check of themselves leaves no trace; what they tell their instructors is told with consent, and withdrawn.

use std::collections::BTreeMap;

use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller};

use super::Course;
use crate::authority::rows::every_row;
use crate::pages::Browser;

/// A salve of which every ingredient was judged, without a daisy.
fn salve(title: &str, oil: &str) -> Value {
    json!({
        "title": title, "preparation": "salve", "route": "on intact skin, leave-on", "regime": "teaching_only",
        "phases": [{ "name": "all of it", "lines": [
            { "material": "yellow beeswax", "amount": "20 g" }, { "material": oil, "amount": "100 g" } ] }],
        "method": [{ "do": "Melt and stir.", "temperature": "70 C at most" }],
        "cautions": [{ "level": "caution", "text": "For external use only." }]
    })
}

/// What changed between two looks at every table, without the sessions, whose last use is noted.
fn changed(before: &BTreeMap<String, Vec<String>>, after: &BTreeMap<String, Vec<String>>) -> Vec<String> {
    let differs = |table: &&String| {
        !["session", "page_session"].contains(&table.as_str()) && before.get(*table) != after.get(*table)
    };
    after.keys().filter(differs).cloned().collect()
}

/// Asks with a body and nothing else: no key, which something would have to be kept for.
async fn checked(caller: &Caller, path: &str, body: Value) -> Answer {
    let headers = [("content-type", "application/json")];
    caller.send(Method::POST, path, &headers, Some(body.to_string().into_bytes())).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_self_check_names_the_cautions_and_a_substitute_and_leaves_no_trace() {
    stillroom_tests::log::keep();
    let course = Course::start().await;
    let (noor, database) = (&course.room.noor, course.room.clinic.database.clone());
    let plain = course.room.approved(salve("Plain salve", "olive oil")).await;
    let own = format!("/v1/revisions/{}/self-check", course.cream);
    let page = format!("/revisions/{}/self-check", course.cream);
    let browser = Browser::of(&course.room, "noor.haddad").await;
    browser.get(&page).await.expect(200);
    let before = every_row(&database).await;

    let ticked = json!({ "answers": ["pregnant", "allergy:asteraceae"] });
    let told = checked(noor, &own, ticked).await.expect(200);
    assert_eq!(told.header("cache-control"), "no-store");
    let concerns = told.json["concerns"].as_array().unwrap();
    let daisies = |one: &&Value| one["audiences"].to_string().contains("allergy:asteraceae");
    assert!(concerns.iter().any(|one| daisies(&one)), "{told:?}");
    for one in concerns {
        let whom = one["audiences"].to_string();
        assert!(whom.contains("pregnant") || whom.contains("allergy:asteraceae"), "{one}");
    }
    assert_eq!(told.json["answer"], "not_suitable");
    assert!(told.text_at("/ask").contains("doctor or midwife"));

    // Of two salves with the same wax the one without a daisy is offered, and not to whom the wax itself concerns.
    let offered = |answers: Value| {
        let own = own.clone();
        async move {
            let told = checked(noor, &own, json!({ "answers": answers })).await.expect(200).json;
            told["substitutes"]
                .as_array()
                .unwrap()
                .iter()
                .map(|one| one["revision"].clone())
                .collect::<Vec<_>>()
        }
    };
    assert_eq!(offered(json!(["allergy:asteraceae"])).await, [json!(plain)]);
    assert_eq!(offered(json!(["allergy:bee-products"])).await, [json!(course.oil)]);
    let dusty = checked(noor, &own, json!({ "answers": ["powders"] })).await.expect(200).json;
    assert_eq!(dusty["concerns"], json!([]));

    // By hand: the answer is the page itself, and nothing stays ticked in it.
    let shown = browser.send(Method::POST, &page, "is=pregnant&is=allergy%3Aasteraceae").await.expect(200);
    assert!(
        shown.text.contains("daisy family; do not use") && shown.text.contains("Plain salve"),
        "{}",
        shown.text
    );
    assert!(!shown.text.contains(" checked") && shown.headers.get("location").is_none());
    assert!(shown.header("cache-control").contains("no-store"), "{:?}", shown.headers);
    browser.send(Method::POST, &page, "").await.expect(422);

    // What cannot be answered is refused without being repeated.
    for answers in [json!([]), json!(["allergy:quibblefern"]), json!(["pregnant", "quibblefern"])] {
        let refused = checked(noor, &own, json!({ "answers": answers })).await;
        assert!(!refused.text.contains("quibblefern"), "{}", refused.text);
        refused.fields(&["/answers"]);
    }

    // No row was written, and no line of the log about it says more than its address.
    assert_eq!(changed(&before, &every_row(&database).await), Vec::<String>::new());
    let log = stillroom_tests::log::so_far();
    assert!(!log.contains("quibblefern"));
    let about: Vec<&str> = log.lines().filter(|line| line.contains("self-check")).collect();
    assert!(!about.is_empty(), "the log is listened to");
    for line in about {
        assert!(!line.contains("pregnant") && !line.contains("asteraceae"), "{line}");
    }
    let events = noor.get(&format!("/v1/events?actor={}", noor.id)).await.expect(200).text;
    assert!(!events.contains("self") && !events.contains("pregnant"), "{events}");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_choice_of_work_is_offered_before_what_must_be_asked_for() {
    let course = Course::start().await;
    let chosen = course.room.approved(salve("Set beside it", "sunflower oil")).await;
    course.room.approved(salve("A salve", "olive oil")).await;
    let mut content = course.work(&json!([]));
    content["formulas"] = json!([course.cream, chosen]);
    course.publish(content).await;
    let own = format!("/v1/revisions/{}/self-check", course.cream);
    let told = checked(&course.room.noor, &own, json!({ "answers": ["allergy:wool-fat"] })).await.expect(200);
    let first = &told.json["substitutes"][0];
    assert_eq!((&first["title"], &first["may_choose"]), (&json!("Set beside it"), &json!(true)), "{told:?}");
    assert_eq!(told.json["substitutes"][1]["may_choose"], false);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_tells_the_instructors_of_a_class_alone_and_withdraws_the_words() {
    const WORDS: &str = "lanolin and quibblefern";
    let course = Course::start().await;
    let (noor, sven) = (&course.room.noor, &course.sven);
    let (ilse, marek) = (&course.room.ilse, &course.room.marek);
    let at = course.at("work-limits");
    let tell = |text: &str, consent: bool| json!({ "cannot_work_with": text, "consent": consent });
    noor.post(&at, tell(WORDS, false)).await.fields(&["/consent"]);
    noor.post(&at, tell(" ", true)).await.fields(&["/cannot_work_with"]);
    noor.post(&at, tell("one\ntwo", true)).await.fields(&["/cannot_work_with"]);
    ilse.post(&at, tell(WORDS, true)).await.problem(403, "forbidden");
    noor.post(&at, tell(WORDS, true)).await.expect(201);
    noor.post(&at, tell("more", true)).await.problem(409, "conflict");

    let read = ilse.get(&at).await.expect(200).json;
    assert_eq!(read["items"][0]["cannot_work_with"], WORDS);
    assert_eq!(read["items"][0]["name"], "noor.haddad");
    assert_eq!(noor.get(&at).await.expect(200).json["items"].as_array().unwrap().len(), 1);
    assert_eq!(sven.get(&at).await.expect(200).json["items"], json!([]));
    marek.get(&at).await.problem(403, "forbidden");
    course.room.clinic.administrator.get(&at).await.problem(404, "not-found");
    sven.delete(&at).await.problem(404, "not-found");
    for (name, sees) in [("noor.haddad", true), ("ilse.brandt", true), ("sven.aalto", false)] {
        let browser = Browser::of(&course.room, name).await;
        let page = browser.get(&format!("/classes/{}/work-limits", course.cohort)).await.expect(200);
        assert_eq!(page.text.contains(WORDS), sees, "{name}");
    }

    // Its words stand in one table; withdrawn, in none.
    let holding = |tables: &BTreeMap<String, Vec<String>>| -> Vec<String> {
        let of = |rows: &Vec<String>| rows.iter().any(|row| row.contains("quibblefern"));
        tables.iter().filter(|(_, rows)| of(rows)).map(|(table, _)| table.clone()).collect()
    };
    let database = &course.room.clinic.database;
    assert_eq!(holding(&every_row(database).await), ["work_limit_words"]);
    noor.delete(&at).await.expect(204);
    assert_eq!(holding(&every_row(database).await), Vec::<String>::new());
    assert_eq!(ilse.get(&at).await.expect(200).json["items"], json!([]));
    noor.delete(&at).await.problem(404, "not-found");

    // Who leaves the class leaves no words in it.
    sven.post(&at, tell(WORDS, true)).await.expect(201);
    ilse.delete(&course.at(&format!("members/{}", sven.id))).await.expect(204);
    assert_eq!(holding(&every_row(database).await), Vec::<String>::new());
    course.stop().await;
}
