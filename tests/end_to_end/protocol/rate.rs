//! `RateLimit` and `RateLimit-Policy`, draft-ietf-httpapi-ratelimit-headers-10.

use serde_json::json;
use stillroom_tests::{TestClinic, clinic::PASSWORD};

/// The parameter of the member with this name.
fn parameter(field: &str, member: &str, name: &str) -> Option<u64> {
    let member = field.split(',').find_map(|one| one.trim().strip_prefix(&format!("\"{member}\"")))?;
    let wanted = format!("{name}=");
    member.split(';').find_map(|one| one.strip_prefix(wanted.as_str()))?.parse().ok()
}

#[tokio::test(flavor = "multi_thread")]
async fn response_tells_what_the_rate_limit_leaves_and_429_when_to_retry() {
    let clinic = TestClinic::start_with(&[("STILLROOM_REQUESTS_PER_SECOND", "1")]).await;
    let petra = &clinic.administrator;
    let mut before = 11;
    let refused = loop {
        let answer = petra.get("/v1/me").await;
        assert_eq!(answer.header("ratelimit-policy"), "\"requests\";q=10;w=10");
        let told = answer.header("ratelimit").to_owned();
        let (left, seconds) =
            (parameter(&told, "requests", "r").unwrap(), parameter(&told, "requests", "t").unwrap());
        if answer.status == 429 {
            assert_eq!(left, 0);
            assert_eq!(answer.header("retry-after"), seconds.to_string());
            assert!((1..=2).contains(&seconds), "{told}");
            break answer;
        }
        let answer = answer.expect(200);
        assert!(left <= 9 && seconds == 10 - left, "{told} after {before}: {}", answer.text);
        before = left;
    };
    refused.problem(429, "too-many-requests");
    assert_eq!(before, 0, "the last that was taken said that none is left");
    // What no limiter counts tells nothing.
    let open = clinic.nobody.get("/health/live").await.expect(200);
    assert_eq!((open.header("ratelimit"), open.header("ratelimit-policy")), ("", ""));
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn refused_sign_in_tells_when_the_next_attempt_is_taken() {
    let clinic = TestClinic::start().await;
    let sign_in = async |password: &str| {
        let body = json!({ "sign_in_name": "petra.hollweg", "password": password });
        clinic.nobody.post("/v1/sessions", body).await
    };
    for _ in 0..6 {
        let wrong = sign_in("not the password at all").await.expect(401);
        assert_eq!(wrong.header("ratelimit"), "");
    }
    let slowed = sign_in(PASSWORD).await.problem(429, "too-many-requests");
    assert_eq!(slowed.header("ratelimit"), format!("\"attempts\";r=0;t={}", slowed.header("retry-after")));
    clinic.stop().await;
}
