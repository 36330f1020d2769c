//! Addresses, parameters, cursors and keys that are none of ours.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde_json::{Value, json};
use stillroom_tests::{TeachingClinic, database};

use super::refused;

#[tokio::test(flavor = "multi_thread")]
async fn a_parameter_that_is_none_is_refused_by_its_name_on_every_address() {
    let room = TeachingClinic::start().await;
    let administrator = &room.clinic.administrator;
    let document = administrator.get("/openapi.json").await.expect(200);
    let nil = uuid::Uuid::nil().to_string();
    let mut walked = 0;
    for (path, item) in document.json["paths"].as_object().unwrap() {
        if !path.starts_with("/v1/") {
            continue;
        }
        let path = path.replace("{id}", &nil).replace("{holder}", &nil).replace("{number}", "1");
        for method in ["get", "delete"] {
            if item.get(method).is_some() {
                let method = method.to_uppercase().parse().unwrap();
                let answer = administrator.send(method, &format!("{path}?surprise=1"), &[], None).await;
                refused(answer, "?surprise", "Unknown");
                walked += 1;
            }
        }
    }
    assert!(walked > 20, "{walked}");
    for (query, pointer, cure) in [
        ("/v1/batches?state=burnt", "?state", "planned"),
        ("/v1/batches?own=perhaps", "?own", "true"),
        ("/v1/batches?limit=1&limit=2", "?limit", "sent twice"),
        ("/v1/formulas?library=mine", "?library", "The ID is invalid"),
        ("/v1/events?subject=me", "?subject", "The ID is invalid"),
        ("/v1/people?limit=0", "?limit", "1 to 100"),
        ("/v1/people?limit=101", "?limit", "1 to 100"),
        ("/v1/people?limit=4294967295", "?limit", "1 to 100"),
        ("/v1/people?limit=99999999999999999999", "?limit", "too large"),
        ("/v1/people?limit=-1", "?limit", "a whole number"),
        ("/v1/people?limit=ten", "?limit", "a whole number"),
        ("/v1/people?limit=", "?limit", "The value is empty"),
        ("/v1/people?after=%00", "?after", "U+0000"),
    ] {
        refused(administrator.get(query).await, pointer, cure);
    }
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_cursor_of_another_list_or_of_no_list_is_refused() {
    let room = TeachingClinic::start().await;
    let administrator = &room.clinic.administrator;
    let cursor = |value: Value| URL_SAFE_NO_PAD.encode(value.to_string());
    let next = administrator.get("/v1/people?limit=1").await.expect(200).text_at("/next");
    let nil = uuid::Uuid::nil();
    let by_id = cursor(json!(nil));
    for list in ["/v1/people", "/v1/libraries", "/v1/materials", "/v1/formulas"] {
        let caller = if list == "/v1/formulas" { &room.ilse } else { administrator };
        for foreign in [
            by_id.as_str(),
            "nonsense",
            "",
            "%",
            &cursor(json!(["a"])),
            &cursor(json!(["a\0b", nil])),
            &cursor(json!([1, 2])),
        ] {
            let asked = format!("{list}?after={}", foreign.replace('%', "%25"));
            refused(caller.get(&asked).await, "?after", "Use the `next` value of the previous page");
        }
    }
    for list in ["/v1/batches", "/v1/acknowledgements", "/v1/api-clients", "/v1/events"] {
        refused(
            administrator.get(&format!("{list}?after={next}")).await,
            "?after",
            "does not belong to this list",
        );
    }
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_an_id_names_nothing() {
    let room = TeachingClinic::start().await;
    for id in ["1", "nonsense", "%00", "%ff", "0192d5c8-6f3a-7c41-9a3e", "' or 1=1 --"] {
        let id = id.replace(' ', "%20");
        for path in [
            "/v1/revisions/",
            "/v1/batches/",
            "/v1/libraries/",
            "/v1/people/",
            "/v1/materials/",
            "/problems/",
        ] {
            let answer = room.ilse.get(&format!("{path}{id}")).await;
            assert!([404, 405].contains(&answer.status.as_u16()), "{path}{id}: {}", answer.text);
            if path == "/v1/batches/" && answer.status.as_u16() == 404 {
                assert!(answer.text.contains("The ID is invalid"), "{}", answer.text);
            }
        }
    }
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_creating_request_needs_a_key_that_belongs_to_it_alone() {
    let room = TeachingClinic::start().await;
    let body = json!({ "name": "Second-year creams" }).to_string().into_bytes();
    let before = room.contents().await;
    let long = "k".repeat(256);
    for key in [None, Some(""), Some("two words"), Some(long.as_str())] {
        let mut headers = vec![("content-type", "application/json")];
        headers.extend(key.map(|key| ("idempotency-key", key)));
        let method = reqwest::Method::POST;
        let answer = room.ilse.send(method, "/v1/libraries", &headers, Some(body.clone())).await;
        let answer = answer.problem(400, "idempotency-key-missing");
        assert!(answer.text_at("/detail").contains("1 to 255"), "{}", answer.text);
    }
    assert_eq!(room.contents().await, before);

    let key = "0f6c1a52-one-key";
    let first = json!({ "name": "Second-year creams" });
    room.ilse.post_with_key("/v1/libraries", key, first.clone()).await.expect(201);
    let before = room.contents().await;
    let other = json!({ "name": "Third-year creams" });
    let answer =
        room.ilse.post_with_key("/v1/libraries", key, other).await.problem(422, "idempotency-key-reused");
    assert!(answer.text_at("/detail").contains("Send a new key"), "{}", answer.text);
    let elsewhere = format!("/v1/libraries/{}/formulas", room.library);
    let formula = json!({ "content": crate::formulas::infused_oil() });
    room.ilse.post_with_key(&elsewhere, key, formula).await.problem(422, "idempotency-key-reused");
    assert_eq!(room.contents().await, before);
    // A key belongs to a person: for somebody else it is new.
    room.marek.post_with_key("/v1/libraries", key, json!({ "name": "Fourth-year creams" })).await.expect(201);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_whose_request_is_being_worked_on_is_not_worked_on_twice() {
    use diesel_async::SimpleAsyncConnection;
    let room = TeachingClinic::start().await;
    let key = "in-flight";
    let person: uuid::Uuid = room.ilse.id.parse().unwrap();
    let digest = canonical::digest([&person.as_bytes()[..], key.as_bytes()]);
    let lock = i64::from_be_bytes(*digest.first_chunk().unwrap());
    let mut other = database::owner(&room.clinic.database).await;
    other.batch_execute(&format!("BEGIN; SELECT pg_advisory_xact_lock({lock})")).await.unwrap();
    let before = room.contents().await;
    let body = json!({ "name": "Second-year creams" });
    let answer =
        room.ilse.post_with_key("/v1/libraries", key, body.clone()).await.problem(409, "request-in-flight");
    assert_eq!(answer.header("retry-after"), "1");
    assert!(answer.text_at("/detail").contains("then retry"), "{}", answer.text);
    assert_eq!(room.contents().await, before);
    other.batch_execute("COMMIT").await.unwrap();
    room.ilse.post_with_key("/v1/libraries", key, body).await.expect(201);
    room.stop().await;
}
