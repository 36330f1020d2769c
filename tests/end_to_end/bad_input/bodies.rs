//! Bodies that are too large, not JSON, not said to be, or hold what no field takes.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use reqwest::Method;
use serde_json::json;
use stillroom_tests::TeachingClinic;

use super::refused;

const FIFTY_MEGABYTES: usize = 50 * 1024 * 1024;

/// Sends a request over a bare socket, its body in pieces until the service has had enough, and reads the answer.
fn bare(base: &str, token: &str, length: &str, pieces: usize, piece: &[u8]) -> String {
    let address = base.strip_prefix("http://").unwrap();
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    let head = format!(
        "POST /v1/libraries HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\nIdempotency-Key: large\r\nConnection: close\r\n{length}\r\n\r\n"
    );
    stream.write_all(head.as_bytes()).unwrap();
    let mut sending = stream.try_clone().unwrap();
    let piece = piece.to_vec();
    let sender = std::thread::spawn(move || {
        let mut sent = 0;
        for _ in 0..pieces {
            if sending.write_all(&piece).is_err() {
                break;
            }
            sent += piece.len();
        }
        sent
    });
    let mut answer = Vec::new();
    // The service may reset the connection once it has answered; what it said came first.
    let _ = stream.read_to_end(&mut answer);
    let _ = stream.shutdown(std::net::Shutdown::Both);
    let sent = sender.join().unwrap();
    assert!(sent < FIFTY_MEGABYTES, "the service took all of it");
    String::from_utf8_lossy(&answer).into_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_body_of_fifty_megabytes_is_refused_without_being_read_whether_or_not_it_says_its_length() {
    let room = TeachingClinic::start().await;
    let before = room.contents().await;
    let (base, token) = (room.ilse.base.clone(), room.ilse.token.clone().unwrap());
    let answers = tokio::task::spawn_blocking(move || {
        let declared = bare(&base, &token, &format!("Content-Length: {FIFTY_MEGABYTES}"), 0, b"");
        let mut chunk = b"10000\r\n".to_vec();
        chunk.extend([b' '; 0x10000]);
        chunk.extend(b"\r\n");
        let chunked =
            bare(&base, &token, "Transfer-Encoding: chunked", FIFTY_MEGABYTES / chunk.len(), &chunk);
        [declared, chunked]
    })
    .await
    .unwrap();
    for answer in answers {
        assert!(answer.starts_with("HTTP/1.1 413 "), "{answer}");
        assert!(answer.contains("/problems/too-large") && answer.contains("at most 1 MiB"), "{answer}");
    }
    // One byte over is over; exactly the most is read (and then found not to be a library).
    let padded = |length: usize| {
        let mut body = json!({ "name": "Large" }).to_string();
        body.push_str(&" ".repeat(length - body.len()));
        Some(body.into_bytes())
    };
    let headers = [("content-type", "application/json"), ("idempotency-key", "padded")];
    let over = room.ilse.send(Method::POST, "/v1/libraries", &headers, padded(1024 * 1024 + 1)).await;
    over.problem(413, "too-large");
    assert_eq!(room.contents().await, before);
    room.ilse.send(Method::POST, "/v1/libraries", &headers, padded(1024 * 1024)).await.expect(201);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_json_is_told_so_and_nothing_is_written() {
    let room = TeachingClinic::start().await;
    let before = room.contents().await;
    let deep = format!("{}1{}", "[".repeat(100_000), "]".repeat(100_000));
    let malformed: [(&[u8], &str); 13] = [
        (b"", "ends early"),
        (b"{", "ends early"),
        (b"nonsense", "not JSON"),
        (b"{\"name\": \"a\",}", "not JSON"),
        (b"{'name': 'a'}", "not JSON"),
        (b"{\"name\": \"a\"} {}", "follows the JSON value"),
        (b"{\"name\": \"a\x00b\"}", "not JSON"),
        (b"\xef\xbb\xbf{\"name\": \"a\"}", "not JSON"),
        (b"{\"name\": \"\xff\xfe\"}", "not UTF-8"),
        (b"{\"name\": \"\xed\xa0\x80\"}", "not UTF-8"),
        (b"{\"name\": \"\\ud800\"}", "not JSON"),
        (b"{\"name\": 1e400}", "not JSON"),
        (deep.as_bytes(), "not JSON"),
    ];
    let headers = [("content-type", "application/json"), ("idempotency-key", "malformed")];
    for (body, said) in malformed {
        let answer = room.ilse.send(Method::POST, "/v1/libraries", &headers, Some(body.to_vec())).await;
        if body.starts_with(b"{\"name\": 1e400") || body.starts_with(b"[[") {
            // Found out by value or by form: either is told, neither is kept.
            assert!([400, 422].contains(&answer.status.as_u16()), "{}", answer.text);
            continue;
        }
        let answer = answer.problem(400, "malformed-request");
        assert!(
            answer.text_at("/detail").contains(said),
            "{:?}: {}",
            String::from_utf8_lossy(body),
            answer.text
        );
    }
    for content_type in [
        None,
        Some("text/plain"),
        Some("application/x-www-form-urlencoded"),
        Some("application/jsonp"),
        Some("multipart/form-data; boundary=x"),
    ] {
        let mut headers = vec![("idempotency-key", "media")];
        headers.extend(content_type.map(|content_type| ("content-type", content_type)));
        let body = json!({ "name": "a" }).to_string().into_bytes();
        let answer = room.ilse.send(Method::POST, "/v1/libraries", &headers, Some(body)).await;
        let answer = answer.problem(415, "media-type");
        assert!(answer.text_at("/detail").contains("application/json"), "{}", answer.text);
    }
    assert_eq!(room.contents().await, before);
    let headers = [("content-type", "Application/JSON; charset=utf-8"), ("idempotency-key", "media")];
    let body = json!({ "name": "a" }).to_string().into_bytes();
    room.ilse.send(Method::POST, "/v1/libraries", &headers, Some(body)).await.expect(201);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_no_field_takes_is_refused_at_its_pointer_and_nothing_is_written() {
    let room = TeachingClinic::start().await;
    let before = room.contents().await;
    let headers = [("content-type", "application/json"), ("idempotency-key", "fields")];
    let nul = "may not contain the character U+0000";
    for (body, pointer, said) in [
        (r#"{"name": "a", "owner_id": 1}"#, "/owner_id", "Unknown field"),
        (r#"{"name": "a", "made_by": "me"}"#, "/made_by", "Unknown field"),
        (r#"{"name": "a", "id": "x"}"#, "/id", "Unknown field"),
        (r#"{"name": "a", "a/b~c": 1}"#, "/a~1b~0c", "Unknown field"),
        (r#"{"name": "a", "name": "b"}"#, "/name", "sent twice"),
        (r#"{"description": "a"}"#, "/name", "required"),
        (r#"{"name": 5}"#, "/name", "text in double quotes"),
        (r#"{"name": null}"#, "/name", "text in double quotes"),
        (r#"{"name": ["a"]}"#, "/name", "text in double quotes"),
        (r#"{"name": ""}"#, "/name", "1 to 200"),
        (r#"{"name": "a\u0000b"}"#, "/name", nul),
        (r#"{"name": "a", "description": "\u0000"}"#, "/description", nul),
        ("[]", "", "an object in braces"),
        ("null", "", "an object in braces"),
        ("7", "", "an object in braces"),
    ] {
        let answer = room.ilse.send(Method::POST, "/v1/libraries", &headers, Some(body.into())).await;
        refused(answer, pointer, said);
    }
    let content = r#"{"content": {"title": "a", "phases": [{"name": "p", "lines": [{"material": "olive oil", "amount": "5 g", "price": 3}]}], "method": [], "preparation": "cream", "route": "x", "regime": "food"}}"#;
    let formulas = format!("/v1/libraries/{}/formulas", room.library);
    let answer = room.ilse.send(Method::POST, &formulas, &headers, Some(content.into())).await;
    refused(answer, "/content/phases/0/lines/0/price", "Unknown field");
    for (path, body, pointer, said) in [
        ("/v1/batches", r#"{"revision": "<approved_revision>"}"#, "/revision", "The ID is invalid"),
        ("/v1/batches", "[]", "", "an object in braces"),
        ("/v1/calculations/use-by", r#"{"made_on": "yesterday"}"#, "/made_on", "such as 2026-03-21."),
        (
            &formulas,
            r#"{"content": {"regime": "cosmetics"}}"#,
            "/content/regime",
            "\"cosmetics\" is not accepted. Send one of: ",
        ),
        (&formulas, r#"{"content": {"regime": 5}}"#, "/content/regime", "one word in double quotes"),
    ] {
        let answer = room.ilse.send(Method::POST, path, &headers, Some(body.into())).await;
        let detail = answer.text_at("/detail");
        refused(answer, pointer, said);
        assert!(!detail.starts_with(':'), "{detail}");
    }
    let administrator = &room.clinic.administrator;
    let client = r#"{"name": "a", "scopes": [], "valid_until": "2027-06-30"}"#;
    let answer = administrator.send(Method::POST, "/v1/api-clients", &headers, Some(client.into())).await;
    refused(answer, "/valid_until", "such as 2026-03-21T09:00:00Z");
    assert_eq!(room.contents().await, before);
    room.stop().await;
}

/// A body that drips is ended by the service, though each byte comes soon after the last.
#[tokio::test(flavor = "multi_thread")]
async fn a_body_that_drips_is_ended_after_the_stated_time() {
    let room = TeachingClinic::start_with(&[("STILLROOM_BODY_MILLISECONDS", "100")]).await;
    let before = room.contents().await;
    let (base, token) = (room.ilse.base.clone(), room.ilse.token.clone().unwrap());
    let answer = tokio::task::spawn_blocking(move || {
        let address = base.strip_prefix("http://").unwrap();
        let mut stream = TcpStream::connect(address).unwrap();
        let head = format!(
            "POST /v1/libraries HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {token}\r\n\
             Content-Type: application/json\r\nIdempotency-Key: drip\r\nContent-Length: 1000\r\n\r\n"
        );
        stream.write_all(head.as_bytes()).unwrap();
        // Waiting to read, for less than the limit, is what makes the bytes drip.
        stream.set_read_timeout(Some(Duration::from_millis(10))).unwrap();
        let mut answer = Vec::new();
        for _ in 0..900 {
            let _ = stream.read_to_end(&mut answer);
            if !answer.is_empty() || stream.write_all(b" ").is_err() {
                break;
            }
        }
        stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    })
    .await
    .unwrap();
    assert!(answer.starts_with("HTTP/1.1 408 "), "{answer}");
    assert!(answer.contains("/problems/body-too-slow") && answer.contains("within 100 ms"), "{answer}");
    assert!(answer.to_ascii_lowercase().contains("connection: close"), "{answer}");
    assert_eq!(room.contents().await, before);
    room.stop().await;
}
