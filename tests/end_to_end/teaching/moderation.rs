//! Moderation: a share of the marks is given twice, the second time blind; both marks stay, and their agreement is told.

use diesel_async::SimpleAsyncConnection;
use hmac::{Hmac, KeyInit, Mac};
use serde_json::{Value, json};
use sha2::Sha256;
use stillroom_tests::{Caller, database};
use uuid::Uuid;

use super::Course;
use super::handed_in::{claim, hand_in};
use crate::authority::document::operations;
use crate::authority::rows::every_row_of;
use crate::canary::reads;

/// What the first marker writes, and nobody else.
const WORDS: [&str; 2] = ["Quillfeather", "Brackenmoor"];

pub(super) fn levels(weighing: u32, emulsion: u32) -> Value {
    json!({ "criteria": [{ "criterion": 1, "level": weighing }, { "criterion": 2, "level": emulsion },
        { "criterion": 3, "met": true }] })
}

pub(super) async fn share(course: &Course, percent: u32) {
    let body = json!({ "percent": percent });
    course.room.ilse.post(&course.at("moderation-shares"), body).await.expect(201);
}

/// Work that a student hands in and a marker accepts. Answers the submission and the batch.
pub(super) async fn accepted(
    course: &Course,
    (student, marker): (&Caller, &Caller),
    assignment: &str,
    mut mark: Value,
) -> (String, String) {
    let batch = course.batch(student).await;
    let handed = hand_in(student, assignment, &batch).await.expect(201).id();
    claim(marker, &handed).await.expect(201);
    mark["criteria"][0]["comment"] = json!(WORDS[0]);
    let review = json!({ "verdict": "accept", "summary": WORDS[1], "mark": mark });
    marker.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
    (handed, batch)
}

/// A course in which Marek and Hana teach too, and everybody who teaches has read the cream's cautions.
pub(super) async fn staffed() -> (Course, Caller) {
    let course = Course::start().await;
    let hana = course.room.clinic.person("hana.voss", "instructor").await;
    let path = format!("/v1/libraries/{}/members/{}", course.room.library, hana.id);
    course.room.ilse.put_bare(&path).await.expect(204);
    for who in [&course.room.ilse, &course.room.marek, &hana] {
        who.acknowledge(&course.oil).await.expect(201);
        who.acknowledge(&course.cream).await.expect(201);
    }
    (course, hana)
}

/// Whether work is among so many of a hundred, worked out from outside: HMAC-SHA-256 under the assignment's secret.
pub(super) async fn is_drawn(course: &Course, assignment: &str, handed: &str, percent: u64) -> bool {
    let secrets = every_row_of(&course.room.clinic.database, "assignment", &["id", "secret"]).await;
    let row = secrets.iter().find(|row| row.contains(assignment)).unwrap();
    let secret = row.split("\\x").nth(1).unwrap();
    let secret: String = secret.chars().take_while(char::is_ascii_hexdigit).collect();
    let mut keyed = Hmac::<Sha256>::new_from_slice(&hex::decode(secret).unwrap()).unwrap();
    keyed.update(handed.parse::<Uuid>().unwrap().as_bytes());
    keyed.update(&0_i16.to_be_bytes());
    keyed.update(&0_u32.to_be_bytes());
    keyed.update(&0_u64.to_be_bytes());
    let bytes = keyed.finalize().into_bytes();
    u64::from_be_bytes(bytes[..8].try_into().unwrap()) % 100 < percent
}

pub(super) async fn waiting(caller: &Caller) -> Vec<Value> {
    caller.get("/v1/moderations").await.expect(200).json["items"].as_array().unwrap().clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_drawn_mark_is_given_again_blind_and_settled_and_both_stay() {
    let (course, hana) = staffed().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let id = course.practical().await;
    let before = marek.get(&course.at("agreement")).await.expect(200).json;
    assert_eq!((&before["share"]["percent"], &before["assignments"]), (&json!(0), &json!([])));
    for percent in [json!(101), json!(1000)] {
        ilse.post(&course.at("moderation-shares"), json!({ "percent": percent })).await.fields(&["/percent"]);
    }
    marek.post(&course.at("moderation-shares"), json!({ "percent": 5 })).await.problem(403, "forbidden");
    let (_, undrawn) = accepted(&course, (&course.sven, ilse), &id, levels(1, 1)).await;
    share(&course, 100).await;
    let (handed, batch) = accepted(&course, (noor, ilse), &id, levels(2, 2)).await;

    // It waits for the only one who can give it, without a name.
    assert_eq!(waiting(ilse).await, Vec::<Value>::new());
    let line = waiting(marek).await.remove(0);
    let drawn = line["id"].as_str().unwrap().to_owned();
    let at = |what: &str| format!("/v1/moderations/{drawn}{what}");
    let work = marek.get(&at("/work")).await.expect(200);
    assert_eq!(work.json["record"]["entries"][0]["quantity"], "80 g");
    assert_eq!(work.json["record"]["number"], line["code"]);
    assert!(
        !work.json["proposals"].is_null() && !work.json["record"]["findings"].as_array().unwrap().is_empty()
    );
    let record = noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    let number = record["number"].as_str().unwrap();
    let marks = noor.get(&format!("/v1/submissions/{handed}/marks")).await.expect(200).json;
    let mark_id = marks["marks"][0]["id"].as_str().unwrap();
    let told = [
        noor.id.as_str(),
        "noor",
        ilse.id.as_str(),
        "ilse",
        &batch,
        number,
        &handed,
        mark_id,
        "accepted",
        WORDS[0],
        WORDS[1],
    ];
    for text in [&work.text, &line.to_string()] {
        for secret in told {
            assert!(!text.to_lowercase().contains(&secret.to_lowercase()), "{secret} in {text}");
        }
    }
    hana.get(&at("/work")).await.problem(404, "not-found");
    ilse.get(&at("/work")).await.problem(404, "not-found");

    // Whatever else the second marker reads tells neither the first mark nor its words, and not whose work it is.
    let document = operations(&course.room.clinic.nobody).await;
    let mut asked = 0;
    for path in reads(&course.room.clinic.database, &document).await {
        let answer = marek.get(&path).await;
        for secret in [mark_id, WORDS[0], WORDS[1]] {
            assert!(!answer.text.contains(secret), "{secret} in {path}: {}", answer.text);
        }
        asked += 1;
    }
    assert!(asked > 200, "{asked} reads");
    for closed in [
        format!("/v1/batches/{batch}"),
        format!("/v1/batches/{undrawn}"),
        format!("/v1/batches/{batch}/label"),
        format!("/v1/submissions/{handed}"),
        format!("/v1/submissions/{handed}/marks"),
        format!("/v1/submissions/{handed}/assessment"),
        format!("/v1/submissions/{handed}/notes"),
        format!("/v1/submissions/{handed}/appeal"),
        format!("/v1/assignments/{id}/students/{}/work", noor.id),
        at(""),
    ] {
        let refused = marek.get(&closed).await.problem(409, "wrong-state");
        assert_eq!(refused.json["state"], "second_marker", "{closed}");
    }
    claim(marek, &handed).await.problem(409, "wrong-state");
    marek.get(&format!("/v1/events?subject={batch}")).await.problem(404, "not-found");
    let listed = marek.get("/v1/batches").await.expect(200);
    assert!(!listed.text.contains(&batch) && !listed.text.contains(&undrawn), "{}", listed.text);
    assert!(ilse.get("/v1/batches").await.expect(200).text.contains(&batch));
    let grid = marek.get(&course.at("grid")).await.expect(200).json;
    for row in 0..2 {
        let hidden = json!({ "state": "submitted", "number": 0, "late": false, "hidden": true });
        assert_eq!(grid["students"][row]["cells"][0], hidden);
    }
    let table = marek.get(&course.at("marks.csv")).await.expect(200);
    assert_eq!(table.text.lines().count(), 1, "{}", table.text);
    let students = marek.get(&format!("/v1/assignments/{id}/students")).await.expect(200).json;
    assert_eq!(
        (&students["items"][0]["state"], &students["items"][0]["hidden"]),
        (&json!("submitted"), &json!(true))
    );

    // What is given is checked against the rubric, and given once.
    for (body, pointer) in [
        (json!({ "criteria": [] }), "/criteria"),
        (
            json!({ "criteria": [{ "criterion": 1, "level": 3 }, { "criterion": 2, "level": 1 },
            { "criterion": 3, "met": true }] }),
            "/criteria/0/level",
        ),
    ] {
        marek.post(&at("/mark"), body).await.fields(&[pointer]);
    }
    ilse.post(&at("/mark"), levels(1, 2)).await.problem(404, "not-found");
    ilse.post(&at("/settlement"), json!({ "outcome": "second_taken" })).await.problem(409, "wrong-state");
    let both = marek.post(&at("/mark"), levels(1, 2)).await.expect(201).json;
    assert_eq!((&both["state"], &both["differences"]), (&json!("differs"), &json!([1])));
    assert_eq!((&both["first"]["points"], &both["second"]["points"]), (&json!(10), &json!(4)));
    assert_eq!(both["name"], "noor.haddad", "names are told from here on");
    assert_eq!(both["can_settle"], json!(["first_stands"]));
    marek.post(&at("/mark"), levels(1, 2)).await.problem(409, "wrong-state");
    marek.get(&at("/work")).await.problem(409, "wrong-state");
    marek.get(&format!("/v1/batches/{batch}")).await.expect(200);
    noor.get(&at("")).await.problem(404, "not-found");

    // Neither carries their own mark through; another decides between the two.
    for (who, outcome) in
        [(ilse, "first_stands"), (ilse, "decided"), (marek, "second_taken"), (marek, "decided")]
    {
        who.post(&at("/settlement"), json!({ "outcome": outcome })).await.problem(403, "forbidden");
    }
    hana.get(&at("")).await.problem(404, "not-found");
    course.enrol(&hana.id, "marker").await;
    hana.post(&at("/settlement"), json!({ "outcome": "first_stands" })).await.problem(403, "forbidden");
    course.room.ilse.delete(&course.at(&format!("members/{}", hana.id))).await.expect(204);
    course.enrol(&hana.id, "instructor").await;
    let decide = |criteria: Value| json!({ "outcome": "decided", "criteria": criteria });
    hana.post(&at("/settlement"), decide(json!([]))).await.fields(&["/criteria"]);
    hana.post(&at("/settlement"), json!({ "outcome": "agreed" })).await.fields(&["/outcome"]);
    let second = decide(json!([{ "criterion": 2, "level": 1 }]));
    hana.post(&at("/settlement"), second).await.fields(&["/criteria/0/criterion", "/criteria"]);
    let settled =
        hana.post(&at("/settlement"), decide(json!([{ "criterion": 1, "level": 1 }]))).await.expect(201).json;
    assert_eq!(
        (&settled["state"], &settled["settlement"]["outcome"]),
        (&json!("settled"), &json!("decided"))
    );
    assert_eq!(
        (&settled["first"]["points"], &settled["second"]["points"]),
        (&json!(10), &json!(4)),
        "both stay"
    );
    let marks = noor.get(&format!("/v1/submissions/{handed}/marks")).await.expect(200).json["marks"].clone();
    assert_eq!(marks[0]["id"], settled["settlement"]["mark"]);
    assert_eq!(
        (&marks[0]["reason"], &marks[0]["points"], &marks[1]["points"]),
        (&json!("second_marker"), &json!(4), &json!(10))
    );
    hana.post(&at("/settlement"), json!({ "outcome": "first_stands" })).await.problem(409, "wrong-state");
    let listed = ilse.get(&course.at("moderations")).await.expect(200).json;
    assert_eq!(
        (&listed["items"][0]["state"], &listed["items"][0]["differences"]),
        (&json!("settled"), &json!(1))
    );
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn marks_that_are_alike_settle_themselves_and_each_marker_can_give_way() {
    let (course, _) = staffed().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    share(&course, 100).await;
    let mut drawn = Vec::new();
    for student in [noor, &course.sven, noor] {
        let id = course.practical().await;
        accepted(&course, (student, ilse), &id, levels(2, 2)).await;
        drawn.push(waiting(marek).await.last().unwrap()["id"].as_str().unwrap().to_owned());
    }
    let at = |place: usize, what: &str| format!("/v1/moderations/{}{what}", drawn[place]);
    let alike = marek.post(&at(0, "/mark"), levels(2, 2)).await.expect(201).json;
    assert_eq!((&alike["state"], &alike["settlement"]["outcome"]), (&json!("settled"), &json!("agreed")));
    marek.post(&at(1, "/mark"), levels(1, 2)).await.expect(201);
    let stands =
        marek.post(&at(1, "/settlement"), json!({ "outcome": "first_stands" })).await.expect(201).json;
    assert!(stands["settlement"]["mark"].is_null());
    // A difference on a must-pass criterion alone changes no level.
    let mut unmet = levels(2, 2);
    unmet["criteria"][2]["met"] = json!(false);
    let differs = marek.post(&at(2, "/mark"), unmet).await.expect(201).json;
    assert_eq!((&differs["differences"], &differs["can_settle"]), (&json!([3]), &json!(["first_stands"])));
    ilse.post(&at(2, "/settlement"), json!({ "outcome": "second_taken" })).await.problem(403, "forbidden");

    // The first marker takes the second mark's levels; what other marker holds the work waits.
    let id = course.practical().await;
    let (handed, _) = accepted(&course, (&course.sven, ilse), &id, levels(1, 1)).await;
    let path = format!("/v1/moderations/{}", waiting(marek).await[0]["id"].as_str().unwrap());
    marek.post(&format!("{path}/mark"), levels(2, 2)).await.expect(201);
    claim(marek, &handed).await.expect(201);
    let taken = json!({ "outcome": "second_taken" });
    ilse.post(&format!("{path}/settlement"), taken.clone()).await.problem(409, "wrong-state");
    marek.delete(&format!("/v1/submissions/{handed}/claim")).await.expect(204);
    let settled = ilse.post(&format!("{path}/settlement"), taken).await.expect(201).json;
    assert_eq!(settled["settlement"]["settled_by_name"], "ilse.brandt");
    let marks = course.sven.get(&format!("/v1/submissions/{handed}/marks")).await.expect(200).json;
    assert_eq!((&marks["marks"][0]["points"], &marks["marks"][1]["points"]), (&json!(10), &json!(0)));

    // The database holds who settles, who marks, and by which levels.
    let mut owner = database::owner(&course.room.clinic.database).await;
    let open = &drawn[2];
    for (sql, why) in [
        (
            format!(
                "INSERT INTO moderation_settlement VALUES ('{open}', 'second_taken', '{}', NULL, '2026-03-02T09:00:00Z')",
                marek.id
            ),
            "may not settle",
        ),
        (
            format!(
                "INSERT INTO moderation_settlement VALUES ('{open}', 'first_stands', '{}', NULL, '2026-03-02T09:00:00Z')",
                ilse.id
            ),
            "may not settle",
        ),
        (
            format!(
                "INSERT INTO moderation_settlement VALUES ('{open}', 'agreed', '{}', NULL, '2026-03-02T09:00:00Z')",
                marek.id
            ),
            "may not settle",
        ),
        (
            format!(
                "INSERT INTO moderation_settlement VALUES ('{open}', 'first_stands', '{}', NULL, '2026-03-02T09:00:00Z')",
                noor.id
            ),
            "may not settle",
        ),
        (
            format!("UPDATE moderation SET second_id = '{}' WHERE id = '{open}'", ilse.id),
            "has its second mark",
        ),
        (format!("INSERT INTO second_mark_criterion VALUES ('{open}', 4, 1, 0, NULL)"), "none of the rubric"),
        (
            format!(
                "INSERT INTO moderation SELECT '{}', handed_id, assignment_id, mark_id, 20, '{}', drawn_at, NULL FROM moderation WHERE id = '{open}'",
                Uuid::now_v7(),
                ilse.id
            ),
            "may not give the second mark",
        ),
        (
            format!("INSERT INTO second_mark VALUES ('{open}', '{}', '2026-03-02T09:00:00Z')", ilse.id),
            "does not give the second mark",
        ),
    ] {
        let refused = owner.batch_execute(&sql).await.unwrap_err().to_string();
        assert!(refused.contains(why), "{sql}: {refused}");
    }
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_second_marker_is_related_to_nobody_and_another_can_be_named() {
    let (course, hana) = staffed().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    share(&course, 100).await;
    // Marek is related to Noor, and nobody else is there: the mark is drawn all the same.
    marek.post("/v1/relations", json!({ "student": noor.id })).await.expect(201);
    let id = course.practical().await;
    accepted(&course, (noor, ilse), &id, levels(2, 2)).await;
    assert_eq!(waiting(marek).await, Vec::<Value>::new());
    let listed = ilse.get(&course.at("moderations")).await.expect(200).json["items"][0].clone();
    assert!(listed["second_marker"].is_null());
    let path = format!("/v1/moderations/{}", listed["id"].as_str().unwrap());
    let name = |who: &Caller| json!({ "person": who.id });
    for nobody in [marek, ilse, noor, &hana] {
        ilse.post(&format!("{path}/second-marker"), name(nobody)).await.fields(&["/person"]);
    }
    course.enrol(&hana.id, "marker").await;
    marek.post(&format!("{path}/second-marker"), name(&hana)).await.problem(403, "forbidden");
    let named = ilse.post(&format!("{path}/second-marker"), name(&hana)).await.expect(201).json;
    assert_eq!(named["second_marker_name"], "hana.voss");
    hana.get(&format!("{path}/work")).await.expect(200);
    // A relation that is declared before the mark ends the right to give it.
    hana.post("/v1/relations", name_student(noor)).await.expect(201);
    hana.post(&format!("{path}/mark"), levels(2, 2)).await.problem(403, "forbidden");

    // Of two who can, the one with fewer to give is drawn.
    let id = course.practical().await;
    for student in [noor, &course.sven] {
        accepted(&course, (student, ilse), &id, levels(2, 2)).await;
    }
    let of = |found: Vec<Value>| found.iter().filter(|one| one["assignment"] == id).count();
    assert_eq!((of(waiting(marek).await), of(waiting(&hana).await)), (1, 0), "hana has one to give already");
    let all = ilse.get(&course.at("moderations")).await.expect(200).json;
    assert!(
        all["items"].as_array().unwrap().iter().filter(|one| one["second_marker"].is_null()).count() == 1
    );
    course.stop().await;
}

fn name_student(student: &Caller) -> Value {
    json!({ "student": student.id })
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_drawn_follows_from_the_work_and_the_secret_and_few_pairs_are_told_one_by_one() {
    let (course, _) = staffed().await;
    let ilse = &course.room.ilse;
    share(&course, 100).await;
    let id = course.practical().await;
    accepted(&course, (&course.room.noor, ilse), &id, levels(2, 2)).await;
    let moderation = waiting(&course.room.marek).await[0]["id"].as_str().unwrap().to_owned();
    course.room.marek.post(&format!("/v1/moderations/{moderation}/mark"), levels(1, 2)).await.expect(201);
    let told = |agreement: &Value| agreement["assignments"][0].clone();
    let few = told(&ilse.get(&course.at("agreement")).await.expect(200).json);
    assert_eq!((&few["drawn"], &few["pairs"], &few["agreed"]), (&json!(1), &json!(1), &json!(0)));
    let weighing = &few["criteria"][0];
    assert!(weighing["kappa"].is_null() && weighing["why_not"].as_str().unwrap().contains("30 pairs"));
    assert_eq!(
        weighing["differences"],
        json!([{ "moderation": moderation, "code": few["criteria"][0]["differences"][0]["code"], "first": 2, "second": 1 }])
    );

    share(&course, 40).await;
    let mut drawn = Vec::new();
    for _ in 0..6 {
        let id = course.practical().await;
        let (handed, _) = accepted(&course, (&course.sven, ilse), &id, levels(2, 2)).await;
        let expected = is_drawn(&course, &id, &handed, 40).await;
        drawn.push((handed, expected));
    }
    let of = every_row_of(&course.room.clinic.database, "moderation", &["handed_id"]).await.join("\n");
    for (handed, expected) in &drawn {
        assert_eq!(of.contains(handed), *expected, "{handed}");
    }

    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn kappa_is_told_from_thirty_pairs_on() {
    let (course, _) = staffed().await;
    let (ilse, marek) = (&course.room.ilse, &course.room.marek);
    share(&course, 100).await;
    let id = course.practical().await;
    let told = async || ilse.get(&course.at("agreement")).await.expect(200).json["assignments"][0].clone();
    let names: Vec<String> = (0..30).map(|number| format!("student.{number}")).collect();
    for (number, student) in course.students(&names).await.iter().enumerate() {
        if number == 29 {
            let few = told().await;
            assert_eq!(few["pairs"], 29);
            assert!(few["criteria"][0]["kappa"].is_null());
            assert_eq!(few["criteria"][0]["differences"].as_array().unwrap().len(), 5);
        }
        let first = if number < 14 { 1 } else { 2 };
        accepted(&course, (student, ilse), &id, levels(first, 2)).await;
        let drawn = waiting(marek).await[0]["id"].as_str().unwrap().to_owned();
        // On four the second marker is milder, on one stricter.
        let second = match number {
            0..4 => 2,
            14 => 1,
            _ => first,
        };
        marek.post(&format!("/v1/moderations/{drawn}/mark"), levels(second, 2)).await.expect(201);
    }
    let found = told().await;
    assert_eq!((&found["pairs"], &found["agreed"]), (&json!(30), &json!(25)));
    // Of 10, 4, 1 and 15 pairs scikit-learn's cohen_kappa_score says 0.66063, and statsmodels' cohens_kappa a standard error
    // of 0.13553.
    let weighing = &found["criteria"][0];
    assert_eq!(weighing["kappa"], json!({ "value": "0.661", "low": "0.395", "high": "0.926" }));
    assert_eq!((&weighing["agreed"], &weighing["differences"]), (&json!(25), &json!([])));
    let emulsion = &found["criteria"][1];
    assert!(emulsion["kappa"].is_null() && emulsion["why_not"].as_str().unwrap().contains("one level"));
    course.stop().await;
}
