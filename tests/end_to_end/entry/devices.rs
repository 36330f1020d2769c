//! Guessing is slowed, and nobody is kept out by the guesses of others.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::clinic::PASSWORD;
use stillroom_tests::{Answer, Caller, TestClinic};

const BEHIND_A_PROXY: [(&str, &str); 1] = [("STILLROOM_TRUSTED_PROXIES", "127.0.0.1")];
const WRONG: &str = "a wrong password";

/// An attempt to sign in as Noor from an address, on a device if it has a token.
async fn attempt(nobody: &Caller, from: &str, password: &str, device: Option<&str>) -> Answer {
    let headers = [("content-type", "application/json"), ("x-forwarded-for", from)];
    let mut body = json!({ "sign_in_name": "noor.haddad", "password": password });
    if let Some(device) = device {
        body["device_token"] = Value::from(device);
    }
    nobody.send(Method::POST, "/v1/sessions", &headers, Some(body.to_string().into_bytes())).await
}

/// Fails once from each of so many addresses. Answers how many wrong passwords were looked at.
async fn attack(nobody: &Caller, addresses: std::ops::Range<u8>) -> usize {
    let mut looked_at = 0;
    for i in addresses {
        let answer = attempt(nobody, &format!("203.0.113.{i}"), WRONG, None).await;
        assert!([401, 429].contains(&answer.status.as_u16()), "{}", answer.text);
        looked_at += usize::from(answer.status == 401);
    }
    looked_at
}

fn retry_after(answer: &Answer) -> i64 {
    answer.header("retry-after").parse().unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn an_outsider_who_fails_from_many_addresses_keeps_no_owner_out() {
    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    let (nobody, clock) = (&clinic.nobody, clinic.service.clinic.clock());
    clinic.person("noor.haddad", "student").await;
    let token = attempt(nobody, "198.51.100.1", PASSWORD, None).await.expect(201).text_at("/device_token");
    // Thirty-one are free; from then on a new address is told to wait before anything is looked at.
    assert_eq!(attack(nobody, 0..60).await, 31);
    // Those that have waited get one guess each, and make the wait longer for each other.
    for _ in 0..4 {
        clock.advance(Duration::seconds(60));
        attack(nobody, 0..60).await;
    }

    // On the device that was used before, wherever it is by now, and while the attack goes on.
    let known = attempt(nobody, "192.0.2.77", PASSWORD, Some(&token)).await.expect(201);
    assert!(!known.text_at("/device_token").is_empty());

    // On a new device: told to wait, and in with the right password after that, though nobody stopped meanwhile.
    let told = attempt(nobody, "192.0.2.78", PASSWORD, None).await.problem(429, "too-many-requests");
    let wait = retry_after(&told);
    assert!((2..=900).contains(&wait), "{wait}");
    attack(nobody, 60..120).await;
    clock.advance(Duration::seconds(wait / 2));
    // Asking too early does not begin the wait anew.
    let early = attempt(nobody, "192.0.2.78", PASSWORD, None).await.problem(429, "too-many-requests");
    assert!(retry_after(&early) <= 900 - wait / 2, "{}", early.header("retry-after"));
    clock.advance(Duration::seconds(900 - wait / 2));
    attack(nobody, 120..180).await;
    attempt(nobody, "192.0.2.78", PASSWORD, None).await.expect(201);

    // What the owner did gave the outsider nothing: at most one guess an address in a quarter of an hour.
    assert_eq!(attack(nobody, 180..250).await, 0);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn guessing_on_a_known_device_is_slowed_too_and_by_nobody_else() {
    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    let (nobody, clock) = (&clinic.nobody, clinic.service.clinic.clock());
    clinic.person("noor.haddad", "student").await;
    let first = attempt(nobody, "198.51.100.1", PASSWORD, None).await.expect(201).text_at("/device_token");
    let other = attempt(nobody, "198.51.100.2", PASSWORD, None).await.expect(201).text_at("/device_token");
    // From as many addresses as one likes: the device is what is counted.
    let mut statuses = Vec::new();
    for i in 0..8 {
        statuses.push(attempt(nobody, &format!("203.0.113.{i}"), WRONG, Some(&first)).await.status.as_u16());
    }
    assert_eq!(statuses, [401, 401, 401, 401, 401, 401, 429, 429]);
    for wait in ["1", "2", "4", "8"] {
        let slowed = attempt(nobody, "203.0.113.1", PASSWORD, Some(&first)).await.expect(429);
        assert_eq!(slowed.header("retry-after"), wait);
        clock.advance(Duration::seconds(wait.parse().unwrap()));
        attempt(nobody, "203.0.113.1", WRONG, Some(&first)).await.expect(401);
    }
    // Neither another device nor a stranger waits for it.
    attempt(nobody, "203.0.113.1", PASSWORD, Some(&other)).await.expect(201);
    attempt(nobody, "203.0.113.1", PASSWORD, None).await.expect(201);
    clock.advance(Duration::seconds(16));
    // The same device, known by the token that it has now.
    let again =
        attempt(nobody, "203.0.113.1", PASSWORD, Some(&first)).await.expect(201).text_at("/device_token");
    attempt(nobody, "203.0.113.1", PASSWORD, Some(&again)).await.expect(201);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_device_token_of_somebody_else_made_up_or_old_makes_nobody_known() {
    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    let (nobody, clock) = (&clinic.nobody, clinic.service.clinic.clock());
    clinic.person("noor.haddad", "student").await;
    let signed_in = json!({ "sign_in_name": "petra.hollweg", "password": PASSWORD });
    let petras = nobody.post("/v1/sessions", signed_in).await.expect(201);
    let noors = attempt(nobody, "198.51.100.1", PASSWORD, None).await.expect(201);
    let old = noors.text_at("/device_token");
    clock.advance(Duration::days(180));
    let tokens = [
        petras.text_at("/device_token"),
        petras.text_at("/access_token"),
        old,
        "nonsense".into(),
        String::new(),
    ];
    for (i, token) in (0..).zip(&tokens) {
        // Counted as a stranger of this address, whatever the token says.
        let from = format!("198.51.100.{}", 10 + i);
        for _ in 0..6 {
            attempt(nobody, &from, WRONG, Some(token)).await.expect(401);
        }
        attempt(nobody, &from, WRONG, None).await.expect(429);
        clock.advance(Duration::hours(2));
    }
    // A device token opens nothing by itself.
    let known = attempt(nobody, "198.51.100.1", PASSWORD, None).await.expect(201).text_at("/device_token");
    nobody.with(&known, "").get("/v1/me").await.problem(401, "not-known");
    nobody.post("/v1/sessions/refresh", json!({ "refresh_token": known })).await.problem(401, "not-known");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn addresses_of_one_ipv6_network_are_counted_as_one() {
    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    let nobody = &clinic.nobody;
    clinic.person("noor.haddad", "student").await;
    let mut last = 0;
    for i in 0..7 {
        let from = format!("2001:db8:0:1:{i:x}::{i:x}");
        last = attempt(nobody, &from, WRONG, None).await.status.as_u16();
    }
    assert_eq!(last, 429, "all of these are one source");
    attempt(nobody, "2001:db8:0:2::1", PASSWORD, None).await.expect(201);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_is_signed_in_changes_the_password_though_others_guess_at_it() {
    let clinic = TestClinic::start_with(&BEHIND_A_PROXY).await;
    let nobody = &clinic.nobody;
    let noor = clinic.person("noor.haddad", "student").await;
    attack(nobody, 0..60).await;
    let change = async |current: &str| {
        let headers = [("content-type", "application/json"), ("x-forwarded-for", "203.0.113.1")];
        let body = json!({ "current": current, "new": "an entirely other phrase" }).to_string().into_bytes();
        noor.send(Method::PUT, "/v1/me/password", &headers, Some(body)).await
    };
    // A stolen session guesses no faster.
    for _ in 0..6 {
        change(WRONG).await.fields(&["/current"]);
    }
    let slowed = change(PASSWORD).await.problem(429, "too-many-requests");
    clinic.service.clinic.clock().advance(Duration::seconds(retry_after(&slowed)));
    change(PASSWORD).await.expect(204);
    clinic.stop().await;
}
