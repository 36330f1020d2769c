//! Requests that cannot be parsed: a clear problem, the headers that every response has, and no error in the log.

use stillroom_tests::TeachingClinic;

use super::send;

/// The status, the headers in lower case, and the body as JSON.
fn parts(answer: &str) -> (u16, String, serde_json::Value) {
    let (head, body) = answer.split_once("\r\n\r\n").unwrap_or_else(|| panic!("{answer:?}"));
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    let body = serde_json::from_str(body).unwrap_or_else(|error| panic!("{error}: {answer}"));
    (status, head.to_ascii_lowercase(), body)
}

#[tokio::test(flavor = "multi_thread")]
async fn malformed_header_is_refused_with_a_problem() {
    let room = TeachingClinic::start().await;
    let before = room.contents().await;
    let base = &room.ilse.base;
    let token = format!("Authorization: Bearer {}", room.ilse.token.as_ref().unwrap());
    let get = "GET /v1/me HTTP/1.1";
    let post = "POST /v1/libraries HTTP/1.1";
    let put = format!("PUT /v1/libraries/{} HTTP/1.1", room.library);
    let json = "Content-Type: application/json\r\nContent-Length: 2";
    let cases: [(&str, Vec<u8>, u16, &str); 14] = [
        ("no HTTP", b"nonsense".to_vec(), 400, "malformed-request"),
        ("a control character", format!("{get}\r\n{token}\r\nX-A: \x01").into(), 400, "malformed-request"),
        ("a name with a space", format!("{get}\r\n{token}\r\nX A: b").into(), 400, "malformed-request"),
        (
            "a length in words",
            format!("{post}\r\n{token}\r\nContent-Length: two").into(),
            400,
            "malformed-request",
        ),
        (
            "a negative length",
            format!("{post}\r\n{token}\r\nContent-Length: -2").into(),
            400,
            "malformed-request",
        ),
        (
            "two lengths",
            format!("{post}\r\n{token}\r\n{json}\r\nContent-Length: 3").into(),
            400,
            "malformed-request",
        ),
        (
            "a length and chunks",
            format!("{post}\r\n{token}\r\n{json}\r\nTransfer-Encoding: chunked, nonsense").into(),
            400,
            "malformed-request",
        ),
        (
            "a head that is too large",
            format!("{get}\r\nX: {}", "a".repeat(140_000)).into(),
            431,
            "headers-too-large",
        ),
        (
            "other bytes in the token",
            [get.as_bytes(), b"\r\nAuthorization: Bearer \xff\xfe"].concat(),
            401,
            "not-known",
        ),
        ("no scheme", format!("{get}\r\nAuthorization: x").into(), 401, "not-known"),
        ("half a token", format!("{get}\r\nAuthorization: Bearer e30.e30").into(), 401, "not-known"),
        (
            "other bytes in the tag",
            [put.as_bytes(), b"\r\n", token.as_bytes(), b"\r\n", json.as_bytes(), b"\r\nIf-Match: \"\xff\""]
                .concat(),
            412,
            "stale",
        ),
        ("a tag without quotes", format!("{put}\r\n{token}\r\n{json}\r\nIf-Match: v1").into(), 412, "stale"),
        (
            "other bytes in the key",
            [
                post.as_bytes(),
                b"\r\n",
                token.as_bytes(),
                b"\r\n",
                json.as_bytes(),
                b"\r\nIdempotency-Key: \xff",
            ]
            .concat(),
            400,
            "idempotency-key-missing",
        ),
    ];
    for (case, head, status, slug) in cases {
        let has_body = head.windows(json.len()).any(|window| window == json.as_bytes());
        let body: &[u8] = if has_body { b"{}" } else { b"" };
        let rest = b"\r\nHost: clinic.example\r\nConnection: close\r\n\r\n";
        let answer = send(base, [head.as_slice(), rest, body].concat()).await;
        let (answered, headers, problem) = parts(&answer);
        assert_eq!(
            (answered, problem["type"].as_str()),
            (status, Some(format!("/problems/{slug}").as_str())),
            "{case}"
        );
        assert_eq!(problem["status"], status, "{case}");
        let id = problem["request_id"].as_str().unwrap();
        assert!(id.len() == 36 && headers.contains(&format!("x-request-id: {id}")), "{case}: {headers}");
        for header in [
            "content-type: application/problem+json",
            "x-content-type-options: nosniff",
            "cache-control: no-store",
            "cross-origin-opener-policy: same-origin",
        ] {
            assert!(headers.contains(header), "{case}: {headers}");
        }
    }
    // A trace that cannot be read begins a new one, as the Recommendation asks.
    let odd = [
        get.as_bytes(),
        b"\r\n",
        token.as_bytes(),
        b"\r\nTraceparent: \xff00-zz\r\nHost: x\r\nConnection: close\r\n\r\n",
    ];
    let answer = send(base, odd.concat()).await;
    assert!(answer.starts_with("HTTP/1.1 200 "), "{answer}");
    assert_eq!(room.contents().await, before);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn response_before_a_malformed_request_still_arrives() {
    let room = TeachingClinic::start().await;
    let request = "GET /health/live HTTP/1.1\r\nHost: x\r\n\r\nnonsense\r\n\r\n";
    let answer = send(&room.ilse.base, request.into()).await;
    assert!(answer.starts_with("HTTP/1.1 200 ") && answer.contains("{\"status\":\"ok\"}"), "{answer}");
    assert!(answer.contains("HTTP/1.1 400 ") && answer.contains("/problems/malformed-request"), "{answer}");
    room.stop().await;
}
