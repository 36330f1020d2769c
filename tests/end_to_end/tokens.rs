//! Access tokens and API keys that are not what they claim.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::Duration;
use jsonwebtoken::{Algorithm, EncodingKey};
use serde_json::{Value, json};
use stillroom_tests::clinic::{PASSWORD, sign_in, signing_key};
use stillroom_tests::{Answer, Caller, TeachingClinic, TestClinic};

use crate::formulas::infused_oil;

fn encoded(value: &Value) -> String {
    URL_SAFE_NO_PAD.encode(value.to_string())
}

fn decoded(part: &str) -> Value {
    serde_json::from_slice(&URL_SAFE_NO_PAD.decode(part).unwrap()).unwrap()
}

/// A token with this header and these fields, signed with this key.
fn token(header: &Value, fields: &Value, key: &EncodingKey, algorithm: Algorithm) -> String {
    let message = format!("{}.{}", encoded(header), encoded(fields));
    let signature = jsonwebtoken::crypto::sign(message.as_bytes(), key, algorithm).unwrap();
    format!("{message}.{signature}")
}

fn ours() -> EncodingKey {
    EncodingKey::from_ed_pem(signing_key().as_bytes()).unwrap()
}

/// The object with a field set, or left out when the value is null.
fn but(mut object: Value, field: &str, value: Value) -> Value {
    let fields = object.as_object_mut().unwrap();
    if value.is_null() {
        fields.remove(field)
    } else {
        fields.insert(field.to_owned(), value)
    };
    object
}

#[track_caller]
fn not_known(answer: Answer) -> Answer {
    let answer = answer.problem(401, "not-known");
    assert_eq!(answer.header("www-authenticate"), "Bearer");
    answer
}

#[tokio::test(flavor = "multi_thread")]
async fn a_token_that_was_made_changed_or_signed_by_anybody_else_opens_nothing() {
    let room = TeachingClinic::start().await;
    let genuine = room.ilse.token.clone().unwrap();
    let parts: Vec<&str> = genuine.split('.').collect();
    let (header, fields) = (decoded(parts[0]), decoded(parts[1]));
    let (ours, eddsa) = (ours(), Algorithm::EdDSA);
    // What the forgeries are made with makes a good token, too.
    let again = room.ilse.with(&token(&header, &fields, &ours, eddsa), &room.ilse.id);
    again.get("/v1/me").await.expect(200);

    let foreign = server::keys::new_pem(&clinic::Rng::system()).unwrap();
    let foreign = EncodingKey::from_ed_pem(foreign.as_bytes()).unwrap();
    let keys = room.clinic.nobody.get("/.well-known/jwks.json").await.expect(200);
    let published = URL_SAFE_NO_PAD.decode(keys.text_at("/keys/0/x")).unwrap();
    assert_eq!(keys.json["keys"][0]["kid"], header["kid"]);
    assert!(!keys.text.contains("\"d\""), "the private part is not published");
    let hs256 = but(header.clone(), "alg", json!("HS256"));
    let none = but(header.clone(), "alg", json!("none"));
    let of = |field: &str, value: Value| token(&header, &but(fields.clone(), field, value), &ours, eddsa);
    let headed = |field: &str, value: Value| token(&but(header.clone(), field, value), &fields, &ours, eddsa);
    let mut flipped = URL_SAFE_NO_PAD.decode(parts[2]).unwrap();
    flipped[7] ^= 1;
    let mut forged = vec![
        ("another key under our name", token(&header, &fields, &foreign, eddsa)),
        (
            "another key's own name",
            token(&but(header.clone(), "kid", json!("0011223344556677")), &fields, &foreign, eddsa),
        ),
        (
            "changed fields",
            format!(
                "{}.{}.{}",
                parts[0],
                encoded(&but(fields.clone(), "sub", json!(room.marek.id))),
                parts[2]
            ),
        ),
        (
            "a longer life",
            format!(
                "{}.{}.{}",
                parts[0],
                encoded(&but(fields.clone(), "exp", json!(9_999_999_999_i64))),
                parts[2]
            ),
        ),
        ("a changed signature", format!("{}.{}.{}", parts[0], parts[1], URL_SAFE_NO_PAD.encode(&flipped))),
        ("no signature", format!("{}.{}.", parts[0], parts[1])),
        ("two parts", format!("{}.{}", parts[0], parts[1])),
        ("alg none", format!("{}.{}.", encoded(&none), parts[1])),
        (
            "alg None with a signature",
            format!("{}.{}.{}", encoded(&but(header.clone(), "alg", json!("None"))), parts[1], parts[2]),
        ),
        (
            "HMAC with the public key",
            token(&hs256, &fields, &EncodingKey::from_secret(&published), Algorithm::HS256),
        ),
        (
            "HMAC with the key's text",
            token(
                &hs256,
                &fields,
                &EncodingKey::from_secret(keys.text_at("/keys/0/x").as_bytes()),
                Algorithm::HS256,
            ),
        ),
        (
            "HMAC and no key named",
            token(
                &but(hs256.clone(), "kid", Value::Null),
                &fields,
                &EncodingKey::from_secret(&published),
                Algorithm::HS256,
            ),
        ),
        ("an HMAC's name over our signature", token(&hs256, &fields, &ours, eddsa)),
        ("an unknown extension marked critical", headed("crit", json!(["surprise"]))),
        ("no key named", headed("kid", Value::Null)),
        ("nonsense", "nonsense".to_owned()),
        ("dots", "..".to_owned()),
        ("an empty object", format!("{0}.{0}.{0}", encoded(&json!({})))),
    ];
    for typ in [Value::Null, json!("JWT"), json!("at+JWT2"), json!("id+jwt"), json!("refresh+jwt")] {
        forged.push(("another type", headed("typ", typ)));
    }
    for (field, wrong) in [
        (
            "iss",
            vec![
                Value::Null,
                json!("https://elsewhere.example"),
                json!("https://clinic.example/"),
                json!([]),
                json!(1),
            ],
        ),
        ("aud", vec![Value::Null, json!("another-api"), json!(["another-api"]), json!([])]),
        (
            "sub",
            vec![Value::Null, json!("nobody"), json!(room.marek.id), json!(room.clinic.administrator.id)],
        ),
        ("sid", vec![Value::Null, json!("none"), json!(uuid::Uuid::nil()), json!(uuid::Uuid::now_v7())]),
        ("exp", vec![Value::Null, json!("9999999999"), json!(0), json!(-1), json!([])]),
    ] {
        forged.extend(wrong.into_iter().map(|value| (field, of(field, value))));
    }
    let before = room.contents().await;
    for (what, token) in forged {
        let caller = room.ilse.with(&token, "");
        for path in ["/v1/me", "/v1/formulas"] {
            let answer = caller.get(path).await;
            assert_eq!(answer.status, 401, "{what}: {}", answer.text);
            not_known(answer);
        }
    }
    for credential in ["", "Bearer", "Basic aWxzZTpwYXNzd29yZA==", "Bearer sk_", "Bearer sk_wrong", &genuine]
    {
        let headers = [("authorization", credential)];
        not_known(room.clinic.nobody.send(reqwest::Method::GET, "/v1/me", &headers, None).await);
    }
    assert_eq!(room.contents().await, before);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_that_a_token_brings_along_or_points_to_is_not_looked_at() {
    let room = TeachingClinic::start().await;
    let genuine = room.ilse.token.clone().unwrap();
    let parts: Vec<&str> = genuine.split('.').collect();
    let (header, fields) = (decoded(parts[0]), decoded(parts[1]));
    let foreign = server::keys::new_pem(&clinic::Rng::system()).unwrap();
    let foreign = EncodingKey::from_ed_pem(foreign.as_bytes()).unwrap();
    // An address that answers nobody: whoever asked it would hang here or say so.
    let trap = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}/keys", trap.local_addr().unwrap());
    for (name, value) in [
        ("jku", json!(address)),
        ("x5u", json!(address)),
        (
            "jwk",
            json!({ "kty": "OKP", "crv": "Ed25519", "x": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo" }),
        ),
        ("x5c", json!(["MIIB"])),
    ] {
        let headed = but(header.clone(), name, value);
        let theirs = room.ilse.with(&token(&headed, &fields, &foreign, Algorithm::EdDSA), "");
        not_known(theirs.get("/v1/me").await);
        let unnamed = but(headed.clone(), "kid", Value::Null);
        let theirs = room.ilse.with(&token(&unnamed, &fields, &foreign, Algorithm::EdDSA), "");
        not_known(theirs.get("/v1/me").await);
        // Signed by us it is good, whatever else stands there.
        let signed = room.ilse.with(&token(&headed, &fields, &ours(), Algorithm::EdDSA), "");
        signed.get("/v1/me").await.expect(200);
    }
    let asked =
        std::future::poll_fn(|context| std::task::Poll::Ready(trap.poll_accept(context).is_ready())).await;
    assert!(!asked, "the service asked an address that a token named");
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_token_ends_by_our_clock_and_a_key_on_its_day() {
    let room = TeachingClinic::start().await;
    let clock = room.clinic.service.clinic.clock();
    let printer = room.clinic.api_client(&room.ilse, &["formulas:read"], &[&room.library]).await;
    clock.advance(Duration::seconds(599));
    room.ilse.get("/v1/me").await.expect(200);
    clock.advance(Duration::seconds(1));
    let ended = not_known(room.ilse.get("/v1/me").await);
    assert!(ended.text_at("/detail").contains("Refresh it or sign in again"), "{}", ended.text);
    printer.get("/v1/formulas").await.expect(200);
    // The key was made to end with the year.
    let year_ends: chrono::DateTime<chrono::Utc> = "2026-12-31T00:00:00Z".parse().unwrap();
    clock.advance(year_ends - clock.now() - Duration::seconds(1));
    printer.get("/v1/formulas").await.expect(200);
    clock.advance(Duration::seconds(1));
    not_known(printer.get("/v1/formulas").await);
    room.stop().await;
}

/// Changes an account, as the administrator.
async fn change(clinic: &TestClinic, person: &Caller, change: Value) -> Answer {
    let path = format!("/v1/people/{}", person.id);
    let administrator = sign_in(&clinic.nobody, "petra.hollweg").await;
    let tag = administrator.get(&path).await.expect(200).etag();
    administrator.patch(&path, &tag, change).await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_happens_to_an_account_holds_from_the_next_request_on() {
    let room = TeachingClinic::start().await;
    let clinic = &room.clinic;
    let revision = room.approved(infused_oil()).await;
    let recipe = format!("/v1/revisions/{revision}/recipe");
    for caller in [&room.ilse, &room.noor] {
        caller.acknowledge(&revision).await.expect(201);
        caller.get(&recipe).await.expect(200);
    }
    let scopes = ["formulas:read", "recipes:read", "acknowledge"];
    let of_ilse = clinic.api_client(&room.ilse, &scopes, &[&room.library]).await;
    let of_marek = clinic.api_client(&room.marek, &scopes, &[&room.library]).await;
    for key in [&of_ilse, &of_marek] {
        key.acknowledge(&revision).await.expect(201);
        key.get(&recipe).await.expect(200);
        // Twice, so that the shortest way has been gone too.
        key.get(&recipe).await.expect(200);
    }

    // A new role, with the token of the old one.
    room.ilse.post("/v1/libraries", json!({ "name": "Old role" })).await.expect(201);
    change(clinic, &room.ilse, json!({ "role": "student" })).await.expect(200);
    room.ilse.post("/v1/libraries", json!({ "name": "New role" })).await.problem(403, "forbidden");
    assert_eq!(room.ilse.get("/v1/me").await.expect(200).json["person"]["role"], "student");
    // A student answers for no tool.
    not_known(of_ilse.get(&recipe).await);
    change(clinic, &room.noor, json!({ "role": "instructor" })).await.expect(200);
    room.noor.post("/v1/libraries", json!({ "name": "Promoted" })).await.expect(201);

    // A disabled account: every session, every key, every way in.
    change(clinic, &room.marek, json!({ "state": "disabled" })).await.expect(200);
    not_known(room.marek.get("/v1/me").await);
    not_known(of_marek.get(&recipe).await);
    let again = json!({ "sign_in_name": "marek.dvorsky", "password": PASSWORD });
    clinic.nobody.post("/v1/sessions", again.clone()).await.problem(401, "not-known");
    change(clinic, &room.marek, json!({ "state": "active" })).await.expect(200);
    not_known(room.marek.get("/v1/me").await);
    not_known(of_marek.get("/v1/formulas").await);
    clinic.nobody.post("/v1/sessions", again).await.expect(201);

    // A session that was ended, also for the recipe that was read a moment ago.
    room.noor.get(&recipe).await.expect(200);
    room.noor.delete("/v1/sessions/current").await.expect(204);
    not_known(room.noor.get(&recipe).await);
    not_known(room.noor.get("/v1/me").await);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_does_what_its_scopes_say_and_nothing_when_it_is_revoked() {
    let room = TeachingClinic::start().await;
    let clinic = &room.clinic;
    let revision = room.approved(infused_oil()).await;
    room.ilse.acknowledge(&revision).await.expect(201);
    let recipe = format!("/v1/revisions/{revision}/recipe");
    let cautions = format!("/v1/revisions/{revision}/cautions");
    let acknowledgements = format!("/v1/revisions/{revision}/acknowledgements");
    let set = room.ilse.get(&cautions).await.expect(200);
    let named: Vec<&Value> = set.json["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|caution| caution["level"] == "contraindication")
        .map(|caution| &caution["key"])
        .collect();
    let acknowledge = json!({ "caution_set": set.json["digest"], "contraindications": named });
    let lacks = |answer: Answer, scope: &str| {
        let answer = answer.problem(403, "forbidden");
        assert!(answer.text_at("/detail").contains(&format!("lacks the scope {scope}")), "{}", answer.text);
    };
    let key = async |scopes: &[&str]| clinic.api_client(&room.ilse, scopes, &[&room.library]).await;

    let lists = key(&["formulas:read"]).await;
    lists.get("/v1/formulas").await.expect(200);
    lists.get(&cautions).await.expect(200);
    lacks(lists.get(&recipe).await, "recipes:read");
    lacks(lists.get(&format!("{recipe}?mass=1%20kg")).await, "recipes:read");
    lacks(lists.get(&format!("/v1/revisions/{revision}/evaluation")).await, "recipes:read");
    lacks(lists.post(&acknowledgements, acknowledge.clone()).await, "acknowledge");

    let pulls = key(&["recipes:read"]).await;
    lacks(pulls.get("/v1/formulas").await, "formulas:read");
    lacks(pulls.get(&cautions).await, "formulas:read");
    pulls.get(&recipe).await.problem(403, "gate-closed");
    lacks(pulls.post(&acknowledgements, acknowledge.clone()).await, "acknowledge");
    // Its responsible person acknowledges for it; nobody else can.
    let for_it = but(acknowledge.clone(), "for_api_client", json!(pulls.id));
    room.marek.post(&acknowledgements, for_it.clone()).await.fields(&["/for_api_client"]);
    room.ilse.post(&acknowledgements, for_it).await.expect(201);
    pulls.get(&recipe).await.expect(200);

    let acknowledges = key(&["acknowledge"]).await;
    acknowledges.post(&acknowledgements, acknowledge).await.expect(201);
    lacks(acknowledges.get(&recipe).await, "recipes:read");
    // What is a person's is no key's, whatever its scopes.
    let all =
        key(&["formulas:read", "recipes:read", "labels:read", "lots:read", "jars:read", "acknowledge"]).await;
    for path in ["/v1/batches", "/v1/people", "/v1/api-clients", "/v1/sessions"] {
        all.get(path).await.problem(403, "forbidden");
    }
    all.post("/v1/libraries", json!({ "name": "A tool's" })).await.problem(403, "forbidden");
    all.post("/v1/batches", json!({ "revision": revision })).await.problem(403, "forbidden");

    // Read once more, so that the shortest way is warm; then revoked by the person who answers for it.
    pulls.get(&recipe).await.expect(200);
    room.marek.delete(&format!("/v1/api-clients/{}", pulls.id)).await.problem(404, "not-found");
    room.ilse.delete(&format!("/v1/api-clients/{}", pulls.id)).await.expect(200);
    not_known(pulls.get(&recipe).await);
    not_known(pulls.get("/v1/me").await);
    let twice = room.ilse.delete(&format!("/v1/api-clients/{}", pulls.id)).await.problem(409, "wrong-state");
    assert_eq!(twice.json["state"], "revoked");
    room.stop().await;
}
