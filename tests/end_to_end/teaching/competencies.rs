//! Competencies: a rule and an instructor's word, for a time; the credential that anybody verifies; and taking it back.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::Duration;
use diesel_async::SimpleAsyncConnection;
use jsonwebtoken::{Algorithm, DecodingKey, Validation};
use serde_json::{Value, json};
use stillroom_tests::database;

use super::Course;
use super::handed_in::{claim, hand_in};

/// Hands work in and has it accepted with every criterion at its highest level.
async fn accepted(course: &Course) {
    let (noor, ilse) = (&course.room.noor, &course.room.ilse);
    let id = course.practical().await;
    let batch = course.batch(noor).await;
    let work = hand_in(noor, &id, &batch).await.expect(201).id();
    claim(ilse, &work).await.expect(201);
    let mark = json!({ "criteria": [{ "criterion": 1, "level": 2 }, { "criterion": 2, "level": 2 },
        { "criterion": 3, "met": true }] });
    let review = json!({ "verdict": "accept", "summary": "As I see it.", "mark": mark });
    ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
}

fn competency(name: &str, rule: Value) -> Value {
    json!({ "name": name, "says": "Makes a cream that stays smooth.", "rule": rule, "lasts_months": 12 })
}

fn item<'v>(found: &'v Value, name: &str) -> &'v Value {
    let items = found["items"].as_array().unwrap();
    items.iter().find(|item| item["competency"]["name"] == name).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn competencies_are_kept_as_data_and_added_by_those_who_look_after_the_clinic() {
    let course = Course::start().await;
    let (noor, ilse) = (&course.room.noor, &course.room.ilse);
    let all = noor.get("/v1/competencies").await.expect(200).json;
    let names: Vec<&str> =
        all["items"].as_array().unwrap().iter().map(|one| one["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["Calculation", "Emulsions", "Hygiene", "Infused oils", "Tinctures"]);
    let rule = json!({ "criterion": { "works": 1, "title": "weighing" } });
    noor.post("/v1/competencies", competency("Weighing", rule.clone())).await.problem(403, "forbidden");
    let made = ilse.post("/v1/competencies", competency("Weighing", rule.clone())).await.expect(201).json;
    assert_eq!((&made["rule"], &made["added_by"]), (&rule, &json!(ilse.id)));
    ilse.post("/v1/competencies", competency("weighing", rule.clone())).await.fields(&["/name"]);
    ilse.post("/v1/competencies", competency("Other", json!({}))).await.fields(&["/rule"]);
    let soup = json!({ "accepted": { "works": 0, "preparation": "soup" } });
    ilse.post("/v1/competencies", competency("Other", soup))
        .await
        .fields(&["/rule/accepted/works", "/rule/accepted/preparation"]);
    let administrator = &course.room.clinic.administrator;
    administrator.post("/v1/competencies", competency("Scales", rule)).await.expect(201);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_rule_and_a_word_make_a_credential_that_anybody_verifies_offline() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let nobody = &course.room.clinic.nobody;
    ilse.acknowledge(&course.cream).await.expect(201);
    let rule = json!({ "accepted": { "works": 2, "preparation": "cream" }, "criterion": { "works": 2, "title": "Emulsion" } });
    let id = ilse.post("/v1/competencies", competency("Creams", rule)).await.expect(201).id();
    let of = course.at(&format!("students/{}/competencies", noor.id));
    let sign = course.at(&format!("students/{}/sign-offs", noor.id));
    accepted(&course).await;
    let before = marek.get(&of).await.expect(200).json;
    let creams = item(&before, "Creams");
    assert_eq!(
        (&creams["accepted_works"], &creams["criterion_works"], &creams["met"]),
        (&json!(1), &json!(1), &json!(false))
    );
    ilse.post(&sign, json!({ "competency": id })).await.problem(409, "wrong-state");
    accepted(&course).await;
    assert_eq!(item(&noor.get("/v1/progress/competencies").await.expect(200).json, "Creams")["met"], true);
    // Neither the student nor a marker signs.
    noor.post(&sign, json!({ "competency": id })).await.problem(403, "forbidden");
    marek.post(&sign, json!({ "competency": id })).await.problem(403, "forbidden");
    ilse.post(&sign, json!({ "competency": course.cohort })).await.fields(&["/competency"]);
    let signed = ilse.post(&sign, json!({ "competency": id })).await.expect(201).json;
    assert_eq!((&signed["state"], &signed["signed_by_name"]), (&json!("valid"), &json!("ilse.brandt")));
    ilse.post(&sign, json!({ "competency": id })).await.problem(409, "wrong-state");
    let number = signed["id"].as_str().unwrap();

    // The credential is its holder's; whoever has the published keys verifies it without asking.
    let path = format!("/v1/sign-offs/{number}/credential");
    ilse.get(&path).await.problem(404, "not-found");
    let badge = noor.get(&path).await.expect(200);
    assert_eq!(badge.headers["content-type"], "application/vc+jwt");
    let claims = verified(&nobody.get("/.well-known/jwks.json").await.expect(200).json, &badge.text);
    assert_eq!(claims["type"], json!(["VerifiableCredential", "OpenBadgeCredential"]));
    assert_eq!(claims["id"], format!("urn:uuid:{number}"));
    assert_eq!(claims["credentialSubject"]["achievement"]["name"], "Creams");
    let identity = &claims["credentialSubject"]["identifier"];
    assert_eq!(identity.as_array().unwrap().len(), 1, "no name unless it is asked for");
    assert_eq!(
        (&identity[0]["identityType"], &identity[0]["identityHash"]),
        (&json!("userName"), &json!("noor.haddad"))
    );
    let text = claims.to_string();
    for told in [&noor.id, &ilse.id, &course.cohort, "ilse"] {
        assert!(!text.contains(told), "{told} in {text}");
    }
    let named = noor.get(&format!("{path}?with_name=true")).await.expect(200).text;
    let named = verified(&nobody.get("/.well-known/jwks.json").await.expect(200).json, &named);
    assert_eq!(named["credentialSubject"]["identifier"][1]["identityType"], "name");

    // Anybody looks up whether it holds.
    let status = format!("/v1/credentials/{number}");
    let valid = nobody.get(&status).await.expect(200).json;
    assert_eq!(valid, json!({ "credential": number, "state": "valid", "ends_at": signed["ends_at"] }));
    nobody.get(&format!("/v1/credentials/{}", course.cohort)).await.problem(404, "not-found");
    let revoke = format!("/v1/sign-offs/{number}/revocation");
    let why = json!({ "reason": "not_shown_again" });
    marek.post(&revoke, why.clone()).await.problem(403, "forbidden");
    let back = ilse.post(&revoke, why.clone()).await.expect(201).json;
    assert_eq!((&back["state"], &back["revoked"]["reason"]), (&json!("revoked"), &json!("not_shown_again")));
    ilse.post(&revoke, why).await.problem(409, "wrong-state");
    assert_eq!(nobody.get(&status).await.expect(200).json["state"], "revoked");
    let list = nobody.get("/v1/credentials/revoked").await.expect(200).json;
    assert_eq!(list["revokedCredential"], json!([{ "id": format!("urn:uuid:{number}"), "revoked": true }]));
    assert_eq!(claims["credentialStatus"]["id"], list["id"]);
    noor.get(&path).await.problem(409, "wrong-state");

    // Signed again, it ends by itself.
    let again = ilse.post(&sign, json!({ "competency": id })).await.expect(201).json;
    let again = format!("/v1/credentials/{}", again["id"].as_str().unwrap());
    let noor = course.later(Duration::days(366), "noor.haddad").await;
    assert_eq!(nobody.get(&again).await.expect(200).json["state"], "expired");
    let own = noor.get("/v1/progress/competencies").await.expect(200).json;
    assert_eq!(item(&own, "Creams")["sign_off"]["state"], "expired");
    assert_eq!(nobody.get("/v1/credentials/revoked").await.expect(200).json["revokedCredential"], json!([]));
    course.stop().await;
}

/// What a credential says, verified with the published keys alone.
fn verified(keys: &Value, token: &str) -> Value {
    let header = jsonwebtoken::decode_header(token).unwrap();
    assert_eq!((header.alg, header.typ.as_deref()), (Algorithm::EdDSA, Some("vc+jwt")));
    let key = keys["keys"]
        .as_array()
        .unwrap()
        .iter()
        .find(|key| key["kid"] == header.kid.as_deref().unwrap())
        .unwrap();
    let public = URL_SAFE_NO_PAD.decode(key["x"].as_str().unwrap()).unwrap();
    let mut validation = Validation::new(Algorithm::EdDSA);
    validation.set_required_spec_claims(&["iss", "exp", "nbf", "jti"]);
    // The tests' clock stands still in their own year.
    validation.validate_exp = false;
    let decoding = DecodingKey::from_ed_der(&public);
    let mut other = token.to_owned();
    other.replace_range(other.find('.').unwrap() + 3..other.find('.').unwrap() + 4, "A");
    assert!(other == token || jsonwebtoken::decode::<Value>(&other, &decoding, &validation).is_err());
    jsonwebtoken::decode::<Value>(token, &decoding, &validation).unwrap().claims
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_signs_for_whom_they_are_related_to_and_nothing_signed_is_changed() {
    let course = Course::start().await;
    let (noor, ilse) = (&course.room.noor, &course.room.ilse);
    ilse.acknowledge(&course.cream).await.expect(201);
    accepted(&course).await;
    let rule = json!({ "accepted": { "works": 1 } });
    let id = ilse.post("/v1/competencies", competency("Anything", rule)).await.expect(201).id();
    let sign = course.at(&format!("students/{}/sign-offs", noor.id));
    let number = ilse.post(&sign, json!({ "competency": id })).await.expect(201).id();
    let mut owner = database::owner(&course.room.clinic.database).await;
    for act in [
        "UPDATE sign_off SET ends_at = ends_at + interval '1 year'",
        "DELETE FROM sign_off",
        "UPDATE competency SET accepted_works = 2",
        "DELETE FROM sign_off_revocation",
    ] {
        let refused = owner.batch_execute(&format!("BEGIN; SET LOCAL ROLE stillroom_service; {act}")).await;
        let refused = refused.unwrap_err().to_string();
        assert!(refused.contains("permission denied"), "{act}: {refused}");
        owner.batch_execute("ROLLBACK").await.unwrap();
    }
    let copy = |change: &str| {
        format!(
            "INSERT INTO sign_off SELECT (r).* FROM (SELECT jsonb_populate_record(s, '{change}'::jsonb || jsonb_build_object('id', gen_random_uuid())) AS r FROM sign_off s) c"
        )
    };
    for (change, why) in [
        (r#"{"accepted_works": 0}"#.to_owned(), "does not follow the rule"),
        (r#"{"ends_at": "2046-01-01T00:00:00Z"}"#.to_owned(), "does not follow the rule"),
        (format!(r#"{{"signed_by": "{}"}}"#, course.room.marek.id), "may not sign for"),
        (format!(r#"{{"person_id": "{}"}}"#, ilse.id), "may not sign for"),
        ("{}".to_owned(), "holds already"),
    ] {
        let refused = owner.batch_execute(&copy(&change)).await.unwrap_err().to_string();
        assert!(refused.contains(why), "{change}: {refused}");
    }
    ilse.post(&format!("/v1/sign-offs/{number}/revocation"), json!({ "reason": "signed_by_mistake" }))
        .await
        .expect(201);
    // Of two who sign at once, such as in two cohorts, one does.
    let mut other = database::owner(&course.room.clinic.database).await;
    owner.batch_execute(&format!("BEGIN; {}", copy("{}"))).await.unwrap();
    let again = copy("{}");
    let (second, first) = tokio::join!(other.batch_execute(&again), owner.batch_execute("COMMIT"));
    first.unwrap();
    assert!(second.unwrap_err().to_string().contains("holds already"));
    // Nothing vouches for what no request wrote.
    owner.batch_execute(&format!("DELETE FROM sign_off WHERE id <> '{number}'")).await.unwrap();
    ilse.post("/v1/relations", json!({ "student": noor.id })).await.expect(201);
    ilse.post(&sign, json!({ "competency": id })).await.problem(403, "forbidden");
    let refused = owner.batch_execute(&copy("{}")).await.unwrap_err().to_string();
    assert!(refused.contains("may not sign for"), "{refused}");
    course.stop().await;
}
