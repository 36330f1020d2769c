//! Who is in a class: by an instructor, by a code, from a list; and leaving.

use chrono::Duration;
use serde_json::{Value, json};
use stillroom_tests::database;

use super::{Course, begin, cohort};

#[tokio::test(flavor = "multi_thread")]
async fn a_student_joins_with_a_code_until_it_is_closed_or_runs_out() {
    let course = Course::start().await;
    let ilse = &course.room.ilse;
    let mira = course.room.clinic.person("mira.okafor", "student").await;
    mira.get(&format!("/v1/cohorts/{}", course.cohort)).await.problem(404, "not-found");
    let until = json!({ "valid_until": "2026-03-02T08:05:00Z" });
    let made = ilse.post(&course.at("codes"), until.clone()).await.expect(201);
    let code = made.text_at("/code");
    let listed = ilse.get(&course.at("codes")).await.expect(200);
    assert!(!listed.text.contains(&code), "a code is shown once");
    let rows = database::contents(&course.room.clinic.database).await;
    assert!(!rows.values().any(|row| row.contains(&code)), "and kept as its digest alone");

    let joined = mira.post("/v1/enrolments", json!({ "code": code })).await.expect(201);
    assert_eq!(
        (joined.json["id"].as_str(), joined.json["role"].as_str()),
        (Some(&*course.cohort), Some("student"))
    );
    mira.post("/v1/enrolments", json!({ "code": code })).await.expect(201);
    let members = ilse.get(&course.at("members")).await.expect(200);
    let names: Vec<&str> =
        members.json["items"].as_array().unwrap().iter().map(|it| it["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["ilse.brandt", "marek.dvorsky", "mira.okafor", "noor.haddad", "sven.aalto"]);

    ilse.delete(&course.at(&format!("codes/{}", made.id()))).await.expect(204);
    let jo = course.room.clinic.person("jo.vane", "student").await;
    jo.post("/v1/enrolments", json!({ "code": code })).await.fields(&["/code"]);
    let second = ilse.post(&course.at("codes"), until).await.expect(201).text_at("/code");
    course.room.clinic.service.clinic.clock().advance(Duration::minutes(5));
    jo.post("/v1/enrolments", json!({ "code": second })).await.fields(&["/code"]);
    jo.post("/v1/enrolments", json!({ "code": "sk_guessed" })).await.fields(&["/code"]);
    ilse.post(&course.at("codes"), json!({ "valid_until": "2026-03-02T08:05:00Z" }))
        .await
        .fields(&["/valid_until"]);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_class_list_enrols_everybody_or_names_each_line_that_does_not_fit() {
    let course = Course::start().await;
    let (ilse, petra) = (&course.room.ilse, &course.room.clinic.administrator);
    for name in ["mira.okafor", "jo.vane"] {
        course.room.clinic.person(name, "student").await;
    }
    let before = course.room.contents().await;
    let csv = "Mira Okafor, mira.okafor\nJo Vane\n\nLea Stern, lea.stern\nMarek, marek.dvorsky\nMira, MIRA.OKAFOR\n";
    let refused = ilse.post(&course.at("class"), json!({ "csv": csv })).await;
    let refused = refused.fields(&["/csv/2/sign_in_name", "/csv/6/sign_in_name"]);
    assert!(refused.text.contains("Line 2: Enter a name and a sign-in name"), "{}", refused.text);
    let csv = "Mira Okafor, mira.okafor\nLea Stern; lea.stern\nMarek, marek.dvorsky\nPetra,petra.hollweg,administrator";
    ilse.post(&course.at("class"), json!({ "csv": csv })).await.fields(&["/csv/4/role"]);
    let csv = "Mira Okafor, mira.okafor\nLea Stern; lea.stern\nMarek, marek.dvorsky";
    ilse.post(&course.at("class"), json!({ "csv": csv }))
        .await
        .fields(&["/csv/2/sign_in_name", "/csv/3/role"]);
    ilse.post(&course.at("class"), json!({ "csv": " \n" })).await.fields(&["/csv"]);
    petra
        .post(&course.at("class"), json!({ "csv": "Mira Okafor, mira.okafor\nLea Stern, l s" }))
        .await
        .fields(&["/csv/2/sign_in_name"]);
    assert_eq!(course.room.contents().await, before, "nothing was written");

    let csv = "Mira Okafor, mira.okafor\nJo Vane\tjo.vane";
    let class = ilse.post(&course.at("class"), json!({ "csv": csv })).await.expect(201);
    assert_eq!(class.json["members"].as_array().unwrap().len(), 2);
    assert_eq!(class.json["invited"], json!([]));

    // An administrator's list invites those who have no account, and shows their codes once.
    let key = "list-1";
    let csv =
        json!({ "csv": "Lea Stern, lea.stern\nMira Okafor, mira.okafor\nOle Dahl, ole.dahl, instructor" });
    let class = petra.post_with_key(&course.at("class"), key, csv.clone()).await.expect(201);
    let invited: Vec<&Value> = class.json["invited"].as_array().unwrap().iter().collect();
    assert_eq!(invited.len(), 2);
    assert!(invited.iter().all(|code| code["code"].as_str().unwrap().starts_with("sc_")));
    assert_eq!(class.json["members"][2]["role"], "instructor");
    let again = petra.post_with_key(&course.at("class"), key, csv).await.expect(201);
    assert_eq!(again.json["invited"], json!([]));
    assert_eq!(again.json["members"], class.json["members"]);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn leaving_a_cohort_ends_access_at_once() {
    let course = Course::start().await;
    let (ilse, noor) = (&course.room.ilse, &course.room.noor);
    let id = course.publish(course.work(&json!([{ "kind": "jar_filling" }]))).await;
    let begun = begin(noor, &id).await.expect(201);
    let question = begun.text_at("/questions/0/id");
    ilse.delete(&course.at(&format!("members/{}", noor.id))).await.expect(204);
    noor.get(&format!("/v1/cohorts/{}", course.cohort)).await.problem(404, "not-found");
    noor.get(&format!("/v1/assignments/{id}")).await.problem(404, "not-found");
    noor.get(&format!("/v1/assignments/{id}/questions")).await.problem(404, "not-found");
    begin(noor, &id).await.problem(404, "not-found");
    let sent = json!({ "answers": [{ "part": "mass", "values": ["1 g"] }] });
    noor.post(&format!("/v1/questions/{question}/answers"), sent).await.problem(404, "not-found");
    assert_eq!(noor.get("/v1/assignments").await.expect(200).json["items"], json!([]));
    assert_eq!(noor.get("/v1/cohorts").await.expect(200).json["items"], json!([]));
    // What is not set to a student any more holds none of their recipes.
    noor.acknowledge(&course.cream).await.expect(201);
    ilse.delete(&course.at(&format!("members/{}", noor.id))).await.problem(404, "not-found");

    // No student leaves by themselves, past the questions; the last instructor stays.
    course.sven.delete(&course.at(&format!("members/{}", course.sven.id))).await.problem(403, "forbidden");
    ilse.delete(&course.at(&format!("members/{}", ilse.id))).await.problem(409, "conflict");
    ilse.post(&course.at("members"), json!({ "person": ilse.id, "role": "marker" }))
        .await
        .problem(409, "conflict");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_role_in_a_cohort_fits_the_role_in_the_clinic_and_ends_with_it() {
    let course = Course::start().await;
    let (ilse, marek, noor) = (&course.room.ilse, &course.room.marek, &course.room.noor);
    let petra = &course.room.clinic.administrator;
    for (person, role) in [(&noor.id, "instructor"), (&marek.id, "student"), (&petra.id, "instructor")] {
        let body = json!({ "person": person, "role": role });
        ilse.post(&course.at("members"), body).await.fields(&["/role"]);
    }
    let nobody = json!({ "person": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80", "role": "student" });
    ilse.post(&course.at("members"), nobody).await.fields(&["/person"]);

    // A visiting marker reads and changes nothing.
    let id = course.publish(course.work(&json!([]))).await;
    marek.get(&format!("/v1/assignments/{id}/students")).await.expect(200);
    marek.get(&format!("/v1/events?subject={id}")).await.expect(200);
    noor.get(&format!("/v1/events?subject={id}")).await.problem(404, "not-found");
    marek.post(&course.at("assignments"), course.work(&json!([]))).await.problem(403, "forbidden");
    marek
        .post(&format!("/v1/assignments/{id}/withdrawal"), json!({ "reason": "No." }))
        .await
        .problem(403, "forbidden");

    // Who becomes a student of the clinic marks nothing any more.
    let account = format!("/v1/people/{}", marek.id);
    let tag = petra.get(&account).await.expect(200).etag();
    petra.patch(&account, &tag, json!({ "role": "student" })).await.expect(200);
    marek.get(&format!("/v1/assignments/{id}/students")).await.problem(404, "not-found");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_cohort_has_a_term_and_a_time_zone_and_a_name_of_its_own() {
    let course = Course::start().await;
    let ilse = &course.room.ilse;
    ilse.post("/v1/cohorts", cohort("first YEAR, spring")).await.problem(409, "conflict");
    let wrong =
        json!({ "name": " ", "starts_on": "2026-07-03", "ends_on": "2026-03-02", "time_zone": "Berlin" });
    ilse.post("/v1/cohorts", wrong).await.fields(&["/name", "/ends_on", "/time_zone"]);
    let path = format!("/v1/cohorts/{}", course.cohort);
    let tag = ilse.get(&path).await.expect(200).etag();
    let mut longer = cohort("First year, spring");
    longer["ends_on"] = json!("2026-07-10");
    let changed = ilse.put(&path, &tag, longer.clone()).await.expect(200);
    assert_eq!(changed.json["ends_on"], "2026-07-10");
    ilse.put(&path, &tag, longer.clone()).await.problem(412, "stale");
    longer["time_zone"] = json!("UTC");
    ilse.put(&path, &changed.etag(), longer).await.fields(&["/time_zone"]);
    course.stop().await;
}
