//! Signing in, refreshing, signing out, and what a changed account means at once.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::clinic::{PASSWORD, sign_in};
use stillroom_tests::{Answer, Caller, TestClinic};

/// Signs in and answers the tokens.
async fn tokens(nobody: &Caller, sign_in_name: &str) -> Answer {
    let body = json!({ "sign_in_name": sign_in_name, "password": PASSWORD });
    nobody.post("/v1/sessions", body).await.expect(201)
}

async fn refresh(nobody: &Caller, tokens: &Answer) -> Answer {
    nobody.post("/v1/sessions/refresh", json!({ "refresh_token": tokens.text_at("/refresh_token") })).await
}

fn caller(nobody: &Caller, tokens: &Answer) -> Caller {
    nobody.with(&tokens.text_at("/access_token"), &tokens.text_at("/person/id"))
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refresh_token_is_exchanged_once_and_its_second_use_ends_the_session() {
    let clinic = TestClinic::start().await;
    clinic.person("noor.haddad", "student").await;
    let nobody = &clinic.nobody;
    let first = tokens(nobody, "noor.haddad").await;
    assert_eq!(first.json["expires_in"], 600);
    let elsewhere = caller(nobody, &tokens(nobody, "noor.haddad").await);
    let second = refresh(nobody, &first).await.expect(201);
    assert_eq!(second.json["session_id"], first.json["session_id"]);
    assert_ne!(second.json["refresh_token"], first.json["refresh_token"]);
    let third = refresh(nobody, &second).await.expect(201);
    for token in [&first, &second, &third] {
        caller(nobody, token).get("/v1/me").await.expect(200);
    }

    // The second use of any of them: whoever holds the newest loses it too, and the access tokens with it.
    refresh(nobody, &first).await.problem(401, "not-known");
    refresh(nobody, &third).await.problem(401, "not-known");
    for token in [&first, &second, &third] {
        caller(nobody, token).get("/v1/me").await.problem(401, "not-known");
    }
    elsewhere.get("/v1/me").await.expect(200);
    let events = elsewhere.get(&format!("/v1/events?actor={}", elsewhere.id)).await.expect(200);
    assert!(events.text.contains("signed_in"));
    let session = first.text_at("/session_id");
    let events = clinic.administrator.get(&format!("/v1/events?subject={session}")).await.expect(200);
    assert!(events.text.contains("ended_by_reuse"), "{}", events.text);

    for wrong in ["sr_nonsense", "", "sk_x", &first.text_at("/access_token")] {
        nobody
            .post("/v1/sessions/refresh", json!({ "refresh_token": wrong }))
            .await
            .problem(401, "not-known");
    }
    // Nothing that opens anything is kept in the clear.
    let secrets = [first.text_at("/refresh_token"), third.text_at("/refresh_token"), PASSWORD.to_owned()];
    let kept = everything(&clinic).await;
    assert!(secrets.iter().all(|secret| !kept.contains(secret.as_str())));
    clinic.stop().await;
}

/// The text of every row of the tables that have to do with people.
async fn everything(clinic: &TestClinic) -> String {
    use diesel_async::RunQueryDsl;
    #[derive(diesel::QueryableByName)]
    struct Row {
        #[diesel(sql_type = diesel::sql_types::Text)]
        text: String,
    }
    let mut conn = stillroom_tests::database::owner(&clinic.database).await;
    let mut all = String::new();
    for table in [
        "person",
        "credential",
        "one_time_code",
        "session",
        "refresh_token",
        "api_client",
        "attempt",
        "event",
        "idempotency",
    ] {
        let rows: Vec<Row> = diesel::sql_query(format!("SELECT t::text AS text FROM {table} t"))
            .load(&mut conn)
            .await
            .unwrap();
        all.extend(rows.into_iter().map(|row| row.text));
    }
    all
}

#[tokio::test(flavor = "multi_thread")]
async fn signing_out_ends_the_session_on_the_server_and_a_person_ends_their_own_sessions_only() {
    let clinic = TestClinic::start().await;
    clinic.person("noor.haddad", "student").await;
    clinic.person("tomas.reyl", "student").await;
    let nobody = &clinic.nobody;
    let (one, two) = (tokens(nobody, "noor.haddad").await, tokens(nobody, "noor.haddad").await);
    let other = tokens(nobody, "tomas.reyl").await;
    let (noor, again, tomas) = (caller(nobody, &one), caller(nobody, &two), caller(nobody, &other));
    let listed = noor.get("/v1/sessions").await.expect(200);
    let sessions = listed.json.as_array().unwrap();
    assert_eq!(sessions.len(), 3, "one from the invitation, two of now");
    let current: Vec<&Value> = sessions.iter().filter(|session| session["current"] == true).collect();
    assert_eq!(current.len(), 1);
    assert_eq!(current[0]["id"], one.json["session_id"]);

    let foreign = format!("/v1/sessions/{}", other.text_at("/session_id"));
    noor.delete(&foreign).await.problem(404, "not-found");
    tomas.get("/v1/me").await.expect(200);
    let second = format!("/v1/sessions/{}", two.text_at("/session_id"));
    noor.delete(&second).await.expect(204);
    again.get("/v1/me").await.problem(401, "not-known");
    noor.delete(&second).await.problem(404, "not-found");
    noor.delete("/v1/sessions/current").await.expect(204);
    noor.get("/v1/me").await.problem(401, "not-known");
    refresh(nobody, &one).await.problem(401, "not-known");
    assert_eq!(tomas.get("/v1/sessions").await.expect(200).json.as_array().unwrap().len(), 2);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_session_ends_when_nobody_uses_it_and_after_two_weeks_in_any_case() {
    let clinic = TestClinic::start().await;
    clinic.person("noor.haddad", "student").await;
    let (nobody, clock) = (&clinic.nobody, clinic.service.clinic.clock());
    let mut kept = tokens(nobody, "noor.haddad").await;
    let begun = clock.now();
    let ends = begun + Duration::days(14);

    // A working day without it.
    let left = tokens(nobody, "noor.haddad").await;
    let idle = tokens(nobody, "noor.haddad").await;
    clock.advance(Duration::hours(12) - Duration::seconds(1));
    refresh(nobody, &idle).await.expect(201);
    kept = refresh(nobody, &kept).await.expect(201);
    clock.advance(Duration::seconds(1));
    refresh(nobody, &left).await.problem(401, "not-known");

    while ends - clock.now() > Duration::hours(11) {
        clock.advance(Duration::hours(11));
        kept = refresh(nobody, &kept).await.expect(201);
    }
    clock.advance(ends - clock.now() - Duration::minutes(1));
    kept = refresh(nobody, &kept).await.expect(201);
    let noor = caller(nobody, &kept);
    noor.get("/v1/me").await.expect(200);
    clock.advance(Duration::minutes(1));
    // The token has nine minutes left; its session has none.
    noor.get("/v1/me").await.problem(401, "not-known");
    refresh(nobody, &kept).await.problem(401, "not-known");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn invitations_and_resets_are_used_once_within_a_week() {
    let clinic = TestClinic::start().await;
    let (nobody, administrator) = (&clinic.nobody, &clinic.administrator);
    let invite = async |name: &str| {
        let body = json!({ "sign_in_name": name, "name": name, "role": "student" });
        administrator.post("/v1/invitations", body).await.expect(201)
    };
    let used = async |code: &str| {
        nobody.post("/v1/one-time-codes/use", json!({ "code": code, "password": PASSWORD })).await
    };
    let invited = invite("noor.haddad").await;
    let (code, noor) = (invited.text_at("/code"), invited.text_at("/person/id"));
    let early = json!({ "sign_in_name": "noor.haddad", "password": PASSWORD });
    nobody.post("/v1/sessions", early.clone()).await.problem(401, "not-known");
    // A refused password does not use the code up.
    let weak = json!({ "code": code, "password": "short" });
    nobody.post("/v1/one-time-codes/use", weak).await.fields(&["/password"]);
    used(&code).await.expect(204);
    used(&code).await.problem(401, "not-known");
    for wrong in ["", "sc_nonsense", &format!("{code}x")] {
        used(wrong).await.problem(401, "not-known");
    }
    let signed_in = caller(nobody, &tokens(nobody, "noor.haddad").await);

    // A reset ends every session when it is used, not when it is made; and what was made before it is void.
    let reset = format!("/v1/people/{noor}/reset");
    let key = || uuid::Uuid::now_v7().to_string();
    let mut codes = Vec::new();
    for _ in 0..2 {
        codes.push(
            administrator
                .post_bare(&reset, &[("idempotency-key", &key())])
                .await
                .expect(201)
                .text_at("/code"),
        );
    }
    signed_in.get("/v1/me").await.expect(200);
    nobody.post("/v1/sessions", early.clone()).await.expect(201);
    used(&codes[1]).await.expect(204);
    signed_in.get("/v1/me").await.problem(401, "not-known");
    used(&codes[0]).await.problem(401, "not-known");

    let late = invite("tomas.reyl").await.text_at("/code");
    let disabled = invite("edda.quist").await;
    let path = format!("/v1/people/{}", disabled.text_at("/person/id"));
    let tag = administrator.get(&path).await.expect(200).etag();
    administrator.patch(&path, &tag, json!({ "state": "active" })).await.fields(&["/state"]);
    administrator.patch(&path, &tag, json!({ "state": "disabled" })).await.expect(200);
    used(&disabled.text_at("/code")).await.problem(401, "not-known");
    clinic.service.clinic.clock().advance(Duration::days(7));
    used(&late).await.problem(401, "not-known");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_password_is_long_uncommon_and_taken_exactly_as_typed() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let change = async |current: &str, new: &str| {
        let headers = [("content-type", "application/json")];
        let body = json!({ "current": current, "new": new }).to_string().into_bytes();
        noor.send(Method::PUT, "/v1/me/password", &headers, Some(body)).await
    };
    let long = "long phrase ".repeat(11);
    for (new, cure) in [
        ("eleven char", "12 to 128 characters. This one has 11"),
        (long.as_str(), "12 to 128 characters. This one has 132"),
        ("password1234", "Choose a longer phrase"),
        ("qwertyuiop12", "Choose a longer phrase"),
        ("aaaaaaaaaaaaaaaaaaaa", "Choose a longer phrase"),
        ("noor.haddad1", "Choose a longer phrase"),
    ] {
        let answer = change(PASSWORD, new).await.fields(&["/new"]);
        assert!(answer.text_at("/errors/0/detail").contains(cure), "{new}: {}", answer.text);
    }
    change("not my password at all", "an entirely other phrase").await.fields(&["/current"]);

    let elsewhere = sign_in(&clinic.nobody, "noor.haddad").await;
    let typed = "  Žlutý kůň  \u{1F33C} pěl\t";
    change(PASSWORD, typed).await.expect(204);
    noor.get("/v1/me").await.expect(200);
    elsewhere.get("/v1/me").await.problem(401, "not-known");
    let attempt = async |password: &str| {
        let body = json!({ "sign_in_name": "noor.haddad", "password": password });
        clinic.nobody.post("/v1/sessions", body).await.status.as_u16()
    };
    assert_eq!(attempt(PASSWORD).await, 401);
    assert_eq!(attempt(typed.trim()).await, 401);
    assert_eq!(attempt(&typed.to_lowercase()).await, 401);
    assert_eq!(attempt(typed).await, 201);
    clinic.stop().await;
}

/// An attempt to sign in, from an address if the proxy names one. Answers the status, `Retry-After`, and the body
/// without the request's id.
async fn attempt(nobody: &Caller, from: &str, name: &str, password: &str) -> (u16, String, Value) {
    let mut headers = vec![("content-type", "application/json")];
    if !from.is_empty() {
        headers.push(("x-forwarded-for", from));
    }
    let body = json!({ "sign_in_name": name, "password": password }).to_string().into_bytes();
    let answer = nobody.send(Method::POST, "/v1/sessions", &headers, Some(body)).await;
    let mut json = answer.json.clone();
    json.as_object_mut().unwrap().remove("request_id");
    (answer.status.as_u16(), answer.header("retry-after").to_owned(), json)
}

const BEHIND_A_PROXY: [(&str, &str); 1] = [("STILLROOM_TRUSTED_PROXIES", "127.0.0.1")];

#[tokio::test(flavor = "multi_thread")]
async fn guessing_is_slowed_alike_for_accounts_that_exist_and_that_do_not() {
    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    let (nobody, administrator) = (&clinic.nobody, &clinic.administrator);
    clinic.person("noor.haddad", "student").await;
    let gone = clinic.person("tomas.reyl", "student").await;
    let path = format!("/v1/people/{}", gone.id);
    let tag = administrator.get(&path).await.expect(200).etag();
    administrator.patch(&path, &tag, json!({ "state": "disabled" })).await.expect(200);
    let invite = json!({ "sign_in_name": "edda.quist", "name": "Edda", "role": "student" });
    administrator.post("/v1/invitations", invite).await.expect(201);

    // Known, disabled (with the right password), invited, unknown: the same answers in the same order.
    let mut courses = Vec::new();
    for (name, password, from) in [
        ("noor.haddad", "a wrong password", "198.51.100.1"),
        ("tomas.reyl", PASSWORD, "198.51.100.2"),
        ("edda.quist", "a wrong password", "198.51.100.3"),
        ("nobody.here", "a wrong password", "198.51.100.4"),
    ] {
        let mut course = Vec::new();
        for _ in 0..8 {
            course.push(attempt(nobody, from, name, password).await);
        }
        courses.push(course);
    }
    let statuses: Vec<u16> = courses[0].iter().map(|(status, ..)| *status).collect();
    assert_eq!(statuses, [401, 401, 401, 401, 401, 401, 429, 429]);
    assert_eq!(courses[0][6].1, "1");
    for course in &courses[1..] {
        assert_eq!(course, &courses[0]);
    }

    // The wait doubles with every failure after it, and a right password ends it.
    let clock = clinic.service.clinic.clock();
    for wait in ["1", "2", "4", "8"] {
        let slowed = attempt(nobody, "198.51.100.1", "noor.haddad", PASSWORD).await;
        assert_eq!((slowed.0, slowed.1.as_str()), (429, wait));
        clock.advance(Duration::seconds(wait.parse().unwrap()));
        assert_eq!(attempt(nobody, "198.51.100.1", "noor.haddad", "a wrong password").await.0, 401);
    }
    clock.advance(Duration::seconds(16));
    for _ in 0..3 {
        assert_eq!(attempt(nobody, "198.51.100.1", "noor.haddad", PASSWORD).await.0, 201);
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_hammers_at_an_account_does_not_lock_its_owner_out() {
    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    let nobody = &clinic.nobody;
    clinic.person("noor.haddad", "student").await;
    let mut slowed = 0;
    for i in 0..120 {
        // Other spellings and added spaces are the same account.
        let name = ["noor.haddad", "NOOR.haddad", " noor.haddad", "noor.haddad  "][i % 4];
        match attempt(nobody, "198.51.100.1", name, "a wrong password").await.0 {
            429 => slowed += 1,
            401 => {}
            other => panic!("{other}"),
        }
    }
    assert_eq!(slowed, 114, "six wrong passwords were looked at, and no more");
    assert_eq!(attempt(nobody, "203.0.113.9", "noor.haddad", PASSWORD).await.0, 201);

    // Nor does hammering with made-up one-time codes keep anybody from accepting an invitation.
    let invite = json!({ "sign_in_name": "edda.quist", "name": "Edda", "role": "student" });
    let code = clinic.administrator.post("/v1/invitations", invite).await.expect(201).text_at("/code");
    let accept = async |from: &str, code: &str| {
        let headers = [("content-type", "application/json"), ("x-forwarded-for", from)];
        let body = json!({ "code": code, "password": PASSWORD }).to_string().into_bytes();
        nobody.send(Method::POST, "/v1/one-time-codes/use", &headers, Some(body)).await.status.as_u16()
    };
    let mut refused = Vec::new();
    for i in 0..60 {
        refused.push(accept("198.51.100.2", &format!("sc_guess{i}")).await);
    }
    assert_eq!(refused.last(), Some(&429), "an address that guesses is slowed");
    assert_eq!(accept("203.0.113.9", &code).await, 204);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_address_is_believed_only_from_a_proxy_that_is_trusted_and_only_what_it_added_itself() {
    let clinic = TestClinic::start().await;
    clinic.person("noor.haddad", "student").await;
    let mut last = 0;
    for i in 0..7 {
        last = attempt(&clinic.nobody, &format!("198.51.100.{i}"), "noor.haddad", "a wrong password").await.0;
    }
    assert_eq!(last, 429, "made-up addresses are not believed");
    clinic.stop().await;

    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    clinic.person("noor.haddad", "student").await;
    let mut last = 0;
    for made_up in [
        "",
        "192.0.2.1, ",
        "192.0.2.2, 192.0.2.3, ",
        "unknown, ",
        "192.0.2.1:99, ",
        "::1, ",
        "192.0.2.4, nonsense, ",
    ] {
        let from = format!("{made_up}198.51.100.1");
        last = attempt(&clinic.nobody, &from, "noor.haddad", "a wrong password").await.0;
    }
    assert_eq!(last, 429, "what stands before the proxy's own word is made up");
    assert_eq!(attempt(&clinic.nobody, "198.51.100.9", "noor.haddad", PASSWORD).await.0, 201);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_class_that_signs_in_at_once_gets_in() {
    let clinic =
        TestClinic::start_with(&[("STILLROOM_CONNECTIONS", "6"), ("STILLROOM_WAIT_MILLISECONDS", "60000")])
            .await;
    let names = ["noor.haddad", "tomas.reyl", "edda.quist"];
    for name in names {
        clinic.person(name, "student").await;
    }
    let attempts: Vec<_> = (0..15)
        .map(|i| {
            let nobody = clinic.nobody.clone();
            tokio::spawn(async move { attempt(&nobody, "", names[i % 3], PASSWORD).await })
        })
        .collect();
    for attempt in attempts {
        let (status, _, body) = attempt.await.unwrap();
        assert_eq!(status, 201, "{body}");
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_last_administrator_stays_one() {
    let clinic = TestClinic::start().await;
    let petra = &clinic.administrator;
    let path = format!("/v1/people/{}", petra.id);
    let tag = petra.get(&path).await.expect(200).etag();
    for change in
        [json!({ "role": "student" }), json!({ "role": "instructor" }), json!({ "state": "disabled" })]
    {
        let refused = petra.patch(&path, &tag, change).await.problem(409, "conflict");
        assert!(
            refused.text_at("/detail").contains("Make another person administrator first"),
            "{}",
            refused.text
        );
    }
    // Somebody who was only invited, or is disabled, could not take over.
    let invite = json!({ "sign_in_name": "jonna.weil", "name": "Jonna", "role": "administrator" });
    let code = petra.post("/v1/invitations", invite).await.expect(201).text_at("/code");
    petra.patch(&path, &tag, json!({ "role": "student" })).await.problem(409, "conflict");
    clinic
        .nobody
        .post("/v1/one-time-codes/use", json!({ "code": code, "password": PASSWORD }))
        .await
        .expect(204);
    petra.patch(&path, &tag, json!({ "role": "student" })).await.expect(200);
    let jonna = sign_in(&clinic.nobody, "jonna.weil").await;
    let hers = format!("/v1/people/{}", jonna.id);
    let tag = jonna.get(&hers).await.expect(200).etag();
    jonna.patch(&hers, &tag, json!({ "state": "disabled" })).await.problem(409, "conflict");
    clinic.stop().await;
}
