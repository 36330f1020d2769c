//! `/metrics`.

use std::collections::BTreeSet;

use stillroom_tests::{Caller, TeachingClinic, TestClinic};

use crate::formulas::infused_oil;

#[tokio::test(flavor = "multi_thread")]
async fn metrics_count_requests_by_route_template_on_a_listener_of_their_own() {
    let settings = [("STILLROOM_METRICS_LISTEN", "127.0.0.1:0"), ("STILLROOM_CONNECTIONS", "3")];
    let room = TeachingClinic::start_with(&settings).await;
    let metrics = Caller::nobody(&format!("http://{}", room.clinic.service.metrics.unwrap()));
    let revision = room.approved(infused_oil()).await;
    room.noor.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(403);
    room.noor.acknowledge(&revision).await.expect(201);
    for _ in 0..3 {
        room.noor.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);
    }
    for stranger in ["/v1/nothing-1", "/v1/nothing-2", "/wp-login.php"] {
        room.noor.get(stranger).await.expect(404);
    }
    let odd = reqwest::Method::from_bytes(b"BREW").unwrap();
    room.noor.send(odd, "/v1/me", &[], None).await.expect(405);

    let answer = metrics.get("/metrics").await.expect(200);
    assert_eq!(answer.header("content-type"), "application/openmetrics-text; version=1.0.0; charset=utf-8");
    let lines: BTreeSet<&str> = answer.text.lines().collect();
    let recipe = "route=\"/v1/revisions/{id}/recipe\",method=\"GET\"";
    for line in [
        format!("stillroom_requests_total{{{recipe},status=\"2xx\"}} 3"),
        format!("stillroom_requests_total{{{recipe},status=\"4xx\"}} 1"),
        format!("stillroom_request_seconds_count{{{recipe}}} 4"),
        "stillroom_requests_total{route=\"none\",method=\"GET\",status=\"4xx\"} 3".into(),
        format!("stillroom_build_info{{version=\"{}\"}} 1", env!("CARGO_PKG_VERSION")),
        "stillroom_connections_limit 3".into(),
        "stillroom_connections_waiting 0".into(),
        "# EOF".into(),
    ] {
        assert!(lines.contains(line.as_str()), "{line} in {}", answer.text);
    }
    assert!(answer.text.contains("method=\"other\"") && !answer.text.contains("BREW"), "{}", answer.text);
    // Nothing that names anybody, and nothing that a caller can make up.
    for secret in
        [revision.as_str(), room.noor.id.as_str(), room.library.as_str(), "noor", "nothing-1", "wp-login"]
    {
        assert!(!answer.text.contains(secret), "{secret} in {}", answer.text);
    }
    // Apart: the service has no such address, and the other listener no other.
    room.clinic.nobody.get("/metrics").await.problem(404, "not-found");
    metrics.get("/v1/me").await.expect(404);
    room.stop().await;
    let ended = reqwest::Client::builder().no_proxy().build().unwrap();
    assert!(ended.get(format!("{}/metrics", metrics.base)).send().await.is_err(), "ends with the service");
}

#[tokio::test(flavor = "multi_thread")]
async fn metrics_are_off_when_no_address_is_set() {
    let clinic = TestClinic::start().await;
    assert_eq!(clinic.service.metrics, None);
    clinic.nobody.get("/metrics").await.problem(404, "not-found");
    clinic.stop().await;
}
