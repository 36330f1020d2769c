//! Who tried and was refused is noted, apart from the journal.

use diesel_async::SimpleAsyncConnection;
use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::clinic::{PASSWORD, serve, sign_in};
use stillroom_tests::{Answer, Caller, TeachingClinic, TestClinic, database};

use super::count;
use crate::formulas::infused_oil;

const BEHIND_A_PROXY: [(&str, &str); 1] = [("STILLROOM_TRUSTED_PROXIES", "127.0.0.1")];

/// What was noted. Rows that differ in nothing but their time are added up, since the process may have written in between.
async fn noted(administrator: &Caller, query: &str) -> Vec<Value> {
    let page = administrator.get(&format!("/v1/security-events?limit=100{query}")).await.expect(200);
    let mut all: Vec<Value> = Vec::new();
    for event in page.json["items"].as_array().unwrap() {
        let alike = |other: &&mut Value| {
            ["kind", "principal", "account", "network", "operation"]
                .iter()
                .all(|field| other[field] == event[field])
        };
        match all.iter_mut().find(alike) {
            Some(known) => {
                known["count"] = (known["count"].as_u64().unwrap() + event["count"].as_u64().unwrap()).into();
            }
            None => all.push(event.clone()),
        }
    }
    all
}

/// The one event of a kind.
#[track_caller]
fn one<'e>(events: &'e [Value], kind: &str) -> &'e Value {
    let found: Vec<&Value> = events.iter().filter(|event| event["kind"] == kind).collect();
    assert_eq!(found.len(), 1, "{kind} in {events:#?}");
    found[0]
}

async fn from(caller: &Caller, address: &str, method: Method, path: &str, body: Value) -> Answer {
    let headers = [("content-type", "application/json"), ("x-forwarded-for", address)];
    caller.send(method, path, &headers, Some(body.to_string().into_bytes())).await
}

fn signing_in(name: &str, password: &str) -> Value {
    json!({ "sign_in_name": name, "password": password })
}

#[tokio::test(flavor = "multi_thread")]
async fn failed_sign_ins_and_codes_are_noted_with_account_and_network() {
    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    let (nobody, petra) = (&clinic.nobody, &clinic.administrator);
    let noor = clinic.person("noor.haddad", "student").await;
    // The two codes that the clinic began with.
    assert_eq!(noted(petra, "&kind=code_used").await.len(), 2);
    let try_as = async |address: &str, name: &str| {
        from(nobody, address, Method::POST, "/v1/sessions", signing_in(name, "a wrong password")).await
    };
    for _ in 0..8 {
        try_as("198.51.100.1", "Noor.Haddad").await;
    }
    try_as("198.51.100.2", "noor.haddad").await.expect(401);
    try_as("198.51.100.1", "my-secret-typed-in-the-wrong-field").await.expect(401);
    let noors = noted(petra, &format!("&principal={}", noor.id)).await;
    assert_eq!(one(&noors, "sign_in_limited")["count"], 2);
    let mut failed: Vec<&Value> = noors.iter().filter(|event| event["kind"] == "sign_in_failed").collect();
    failed.sort_by_key(|event| event["count"].as_u64());
    assert_eq!(failed.iter().map(|event| event["count"].as_u64().unwrap()).collect::<Vec<_>>(), [1, 6]);
    assert_ne!(failed[0]["network"], failed[1]["network"]);

    let all = noted(petra, "&kind=sign_in_failed").await;
    let unknown: Vec<&Value> = all.iter().filter(|event| event.get("principal").is_none()).collect();
    assert_eq!(unknown.len(), 1);
    assert_eq!(unknown[0]["account"].as_str().unwrap().len(), 64, "a digest of the name");
    assert_eq!(unknown[0]["network"], failed[1]["network"], "the same network has the same digest");

    let codes = json!({ "code": "sc_madeup", "password": "an entirely other phrase" });
    from(nobody, "198.51.100.1", Method::POST, "/v1/one-time-codes/use", codes).await.expect(401);
    let tokens = nobody.post("/v1/sessions", signing_in("noor.haddad", PASSWORD)).await.expect(201);
    let refresh = json!({ "refresh_token": tokens.text_at("/refresh_token") });
    nobody.post("/v1/sessions/refresh", refresh.clone()).await.expect(201);
    nobody.post("/v1/sessions/refresh", refresh.clone()).await.expect(401);
    nobody.post("/v1/sessions/refresh", json!({ "refresh_token": "sr_madeup" })).await.expect(401);
    let wrong = json!({ "current": "a wrong password", "new": "an entirely other phrase" });
    let again = sign_in(nobody, "noor.haddad").await;
    from(&again, "198.51.100.1", Method::PUT, "/v1/me/password", wrong).await.expect(422);
    let all = noted(petra, "").await;
    assert!(one(&all, "code_failed").get("principal").is_none());
    assert_eq!(one(&all, "refresh_reused")["principal"], noor.id);
    assert!(one(&all, "refresh_failed").get("principal").is_none());
    assert_eq!(one(&all, "password_refused")["principal"], noor.id);

    // Nothing personal is kept in clear, and nothing of it is in the journal.
    let kept = crate::authority::rows::every_row(&clinic.database).await;
    for (table, rows) in &kept {
        for secret in ["my-secret-typed", "198.51.100", "sc_madeup", "sr_madeup", "a wrong password"] {
            assert!(rows.iter().all(|row| !row.contains(secret)), "{secret} in {table}");
        }
    }
    assert!(kept["event"].iter().all(|row| !row.contains("sign_in_failed")));
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn refused_requests_are_noted_with_caller_and_operation_and_a_closed_gate_is_none() {
    let room = TeachingClinic::start().await;
    let (nobody, petra) = (&room.clinic.nobody, &room.clinic.administrator);
    let revision = room.approved(infused_oil()).await;
    let printer = room.clinic.api_client(&room.ilse, &["formulas:read"], &[&room.library]).await;
    // How work goes.
    room.noor.get(&format!("/v1/revisions/{revision}/recipe")).await.problem(403, "gate-closed");
    room.noor.get(&format!("/v1/batches/{revision}")).await.problem(404, "not-found");
    nobody.get("/v1/me").await.expect(401);
    let before: Vec<Value> = noted(petra, "").await;
    assert!(before.iter().all(|event| event["kind"] == "code_used"), "{before:#?}");

    for _ in 0..3 {
        room.noor
            .patch(&format!("/v1/people/{}", room.noor.id), "\"v1\"", json!({ "role": "administrator" }))
            .await
            .expect(403);
    }
    printer.get(&format!("/v1/revisions/{revision}/recipe")).await.problem(403, "forbidden");
    nobody.with("nonsense", "").get("/v1/me").await.expect(401);
    nobody.with("sk_nonsense", "").get("/v1/me").await.expect(401);
    room.ilse.delete(&format!("/v1/api-clients/{}", printer.id)).await.expect(200);
    printer.get("/v1/formulas").await.expect(401);
    room.marek.delete("/v1/sessions/current").await.expect(204);
    room.marek.get("/v1/formulas").await.expect(401);

    let all = noted(petra, "").await;
    let noors = noted(petra, &format!("&principal={}", room.noor.id)).await;
    let promoting = one(&noors, "forbidden");
    assert_eq!((&promoting["count"], &promoting["operation"]), (&json!(3), &json!("PATCH /v1/people/{id}")));
    let printers = noted(petra, &format!("&principal={}", printer.id)).await;
    assert_eq!(one(&printers, "forbidden")["operation"], "GET /v1/revisions/{id}/recipe");
    assert_eq!(
        one(&printers, "key_unknown")["operation"],
        "GET /v1/formulas",
        "a revoked key is its client's"
    );
    assert_eq!(one(&all, "session_ended")["principal"], room.marek.id);
    assert!(one(&all, "token_invalid").get("principal").is_none());
    // An access token past its time is what every client sends now and then.
    let petra_again = sign_in(nobody, "petra.hollweg").await;
    room.clinic.service.clinic.clock().advance(chrono::Duration::minutes(11));
    room.ilse.get("/v1/me").await.expect(401);
    petra_again.get("/v1/me").await.expect(401);
    let petra = sign_in(nobody, "petra.hollweg").await;
    assert_eq!(noted(&petra, "").await.len(), all.len());

    // In pages, and for administrators alone.
    let mut pages = Vec::new();
    let mut path = "/v1/security-events?limit=2".to_owned();
    loop {
        let page = petra.get(&path).await.expect(200);
        pages.extend(page.json["items"].as_array().unwrap().clone());
        let Some(next) = page.json["next"].as_str() else { break };
        path = format!("/v1/security-events?limit=2&after={next}");
    }
    let whole = petra.get("/v1/security-events?limit=100").await.expect(200);
    assert_eq!(&pages, whole.json["items"].as_array().unwrap());
    let noor = sign_in(nobody, "noor.haddad").await;
    noor.get("/v1/security-events").await.problem(403, "forbidden");
    // The service's own role can neither change nor remove what was noted.
    let mut owner = database::owner(&room.clinic.database).await;
    owner.batch_execute("SET ROLE stillroom_service").await.unwrap();
    for sql in
        ["DELETE FROM security_event", "UPDATE security_event SET count = 1", "TRUNCATE security_event"]
    {
        owner.batch_execute(sql).await.unwrap_err();
    }
    owner.batch_execute("SELECT purge_security_events('2100-01-01', 1000)").await.unwrap();
    assert!(count(&mut owner, "SELECT count(*) FROM security_event").await > 0, "nor those of thirty days");
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn made_up_keys_are_stopped_before_the_database_and_keys_that_work_are_not() {
    let room = TeachingClinic::start_with(&[("STILLROOM_CONNECTIONS", "4")]).await;
    let printer = room.clinic.api_client(&room.ilse, &["formulas:read"], &[&room.library]).await;
    printer.get("/v1/formulas").await.expect(200);
    let mut slowed = None;
    for i in 0..25 {
        let key = format!("sk_{i:043}");
        let answer = room.clinic.nobody.with(&key, "").get("/v1/formulas").await;
        if answer.status == 429 {
            slowed = Some(answer);
            break;
        }
        answer.problem(401, "not-known");
    }
    let slowed = slowed.expect("made-up keys are slowed").problem(429, "too-many-requests");
    assert!((1..=11).contains(&slowed.header("retry-after").parse::<u64>().unwrap()));
    // A key that was used before goes on working from the very address.
    printer.get("/v1/formulas").await.expect(200);
    // Nothing of a made-up one reaches the table: it is locked, and the answer comes all the same.
    let mut lock = database::owner(&room.clinic.database).await;
    lock.batch_execute("BEGIN; LOCK TABLE api_client").await.unwrap();
    room.clinic.nobody.with(&format!("sk_{:043}", 99), "").get("/v1/formulas").await.expect(429);
    room.clinic.nobody.with("sk_of-no-form", "").get("/v1/formulas").await.expect(401);
    lock.batch_execute("COMMIT").await.unwrap();
    // One that was revoked is unknown from then on.
    room.ilse.delete(&format!("/v1/api-clients/{}", printer.id)).await.expect(200);
    printer.get("/v1/formulas").await.problem(401, "not-known");
    printer.get("/v1/formulas").await.problem(429, "too-many-requests");
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_attack_writes_a_bounded_number_of_rows_and_what_is_noted_is_kept_at_the_end() {
    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    let mut owner = database::owner(&clinic.database).await;
    let rows = "SELECT count(*) FROM security_event WHERE kind = 'token_invalid'";
    let tries =
        "SELECT coalesce(sum(count), 0)::bigint AS count FROM security_event WHERE kind = 'token_invalid'";
    for i in 0..700 {
        let address = format!("198.51.{}.{}", i / 250, i % 250);
        let headers = [("x-forwarded-for", address.as_str()), ("authorization", "Bearer nonsense")];
        clinic.nobody.send(Method::GET, "/v1/me", &headers, None).await.expect(401);
    }
    // The end of the process writes what was noted since the last time.
    let database = clinic.database.clone();
    clinic.service.stop().await.unwrap();
    assert_eq!(count(&mut owner, tries).await, 700);
    assert!((1..=510).contains(&count(&mut owner, rows).await));
    // Another process with the same signing key makes the same digests.
    let service = serve(&database, &BEHIND_A_PROXY).await;
    let nobody = Caller::nobody(&format!("http://{}", service.address));
    let headers = [("x-forwarded-for", "198.51.0.1"), ("authorization", "Bearer nonsense")];
    nobody.send(Method::GET, "/v1/me", &headers, None).await.expect(401);
    service.stop().await.unwrap();
    let twice = "SELECT count(*) FROM (SELECT network_digest FROM security_event WHERE kind = 'token_invalid'
                 GROUP BY network_digest HAVING count(*) > 1) AS twice";
    assert_eq!(count(&mut owner, twice).await, 1);
    drop(owner);
    database::remove(&database).await;
}
